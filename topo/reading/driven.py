"""A circuit under drive: how much it gives, how its stages conduct, how it distorts, and how the bias changes that."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from topo.analysis import operating_point
from topo.analysis.large_signal import PowerLimit, Setting, Waveforms, distortion_by_bias, most_power
from topo.analysis.large_signal.driving import set_up
from topo.analysis.large_signal.measures import class_letter
from topo.analysis.large_signal.power import SWEEP_INSTANTS
from topo.netlist.circuit import Circuit
from topo.reading.reading import Reading

HALF, TENTH = 0.5, 0.1
"""Shares of the largest power at which the circuit is looked at besides."""

PATIENCE = 400
"""Newton steps of whole cycles until a drive is given up; three drives need 10 to 60."""

POSITIONS = tuple(place / 20.0 for place in range(21))
"""Places of a wiper at which the current at rest is looked at."""

OF_IDLE = (0.25, 0.5, 1.0, 2.0)
"""Currents at rest at which distortion is told, as shares of that as typed, besides the least that can be set."""

OF_SWING = 0.1
"""In place of a current that is next to nothing: this share of a full swing in class A."""

NOTHING_AMPERE = 1e-6


@dataclass(frozen=True)
class DrivenStage:
    """The devices of one stage at the largest power: class by conduction, mean angle in degrees, and that angle at half
    the power; `idle` amperes of one device at rest, `peak` the largest in the cycle."""

    devices: tuple[str, ...]
    letter: str
    angle: float
    half_angle: float
    idle: float
    peak: float


@dataclass(frozen=True, eq=False)
class BiasTable:
    """The distortion at one drive over settings of a trimmer that biases `devices`; `typed` is the wiper's place in the
    file, None where it is not given."""

    trimmer: str
    devices: tuple[str, ...]
    typed: float | None
    amplitude: float
    settings: tuple[Setting, ...]


@dataclass(frozen=True, eq=False)
class Driven:
    """What a circuit does under drive; always comes back.

    `status` is that of `limit` ("found", "not reached", "not found" or "no ports"), `missing` says why it is not
    known. `frequency` in hertz and `generator` in ohm are what it was driven with, `load` the ohms that were assumed at
    an output where nothing is drawn. `cycles` are the steady ones at
    the largest power, at half and at a tenth of it, as far as they were found.
    """

    status: str
    missing: tuple[str, ...]
    frequency: float
    generator: float
    limit: PowerLimit
    load: float | None = None
    cycles: Mapping[float, Waveforms] = field(default_factory=dict)
    stages: tuple[DrivenStage, ...] = ()
    tables: tuple[BiasTable, ...] = ()


def drive(reading: Reading) -> Driven:
    """The circuit driven with a sine in the middle of its band, from the generator that its reading assumes, up to its
    largest undistorted power."""
    views = reading.views
    source = views.generator if views.generator is not None else 0.0
    hertz = next((view.middle for view in views.signals if view.middle), None)
    load = _load(reading)
    ports: dict[str, Any] = {
        "source": source,
        "load": load,
        "frequency": hertz,
        "entry": reading.inputs[0] if reading.inputs else None,
        "exit": reading.outputs[0] if reading.outputs else None,
    }
    limit = most_power(views.graph, views.point, **ports)
    used = limit.limit.frequency if limit.limit is not None else hertz if hertz is not None else math.nan
    found = Driven(limit.status, limit.missing, used, source, limit, load)
    if limit.limit is None:
        return found
    cycles = _cycles(reading, limit, ports)
    if 1.0 not in cycles:
        return replace(found, status="not found", missing=("the cycle at the largest power does not repeat itself",))
    stages = tuple(
        stage for item in reading.classes if (stage := _stage(item.devices, cycles, reading.circuit)) is not None
    )
    tables = []
    for trimmer, devices in reading.bias_trimmers.items():
        table = _table(reading, trimmer, devices, limit.amplitude * math.sqrt(TENTH), ports)
        tables += [table] if table is not None else []
    return replace(found, cycles=cycles, stages=stages, tables=tuple(tables))


def _load(reading: Reading) -> float | None:
    """The load that the reading assumes at the output; None where there is one."""
    views = reading.views
    if views.network is None or not reading.outputs:
        return None
    graph, port = views.graph, reading.outputs[0]
    names = [graph.circuit.aliases.get(net.casefold(), net) for net in (port.net, port.reference)]
    pair = tuple(graph.node_of.get(name, -1) for name in names)
    return next((item.ohm for item in views.network.terminations if item.nodes == pair), None)


def _cycles(reading: Reading, limit: PowerLimit, ports: Mapping[str, Any]) -> dict[float, Waveforms]:
    """The steady cycles at the largest power and at shares of it."""
    bench = set_up(reading.views.graph, reading.views.point, **ports)
    if isinstance(bench, Waveforms):
        return {}
    bench.patience = PATIENCE
    cycles = {share: bench.run(limit.amplitude * math.sqrt(share)) for share in (TENTH, HALF, 1.0)}
    return {share: cycle for share, cycle in cycles.items() if cycle.steady}


def _stage(refs: Iterable[str], cycles: Mapping[float, Waveforms], circuit: Circuit) -> DrivenStage | None:
    """How the devices of a stage conduct; those of a compound that only drive its last ones are left out."""
    last = _last(tuple(refs), circuit)
    full = cycles[1.0]
    known = {item.ref: item for item in full.devices}
    items = [known[ref] for ref in last if ref in known and known[ref].letter]
    if not items:
        return None
    angle = math.fsum(item.angle for item in items) / len(items)
    half = cycles.get(HALF)
    half_angle = math.nan
    if half is not None:
        half_angle = math.fsum(half.device(item.ref).angle for item in items) / len(items)
    idle, peak = max(item.rest for item in items), max(item.peak for item in items)
    return DrivenStage(
        tuple(item.ref for item in items), class_letter(angle, idle, peak), angle, half_angle, idle, peak
    )


def _last(refs: tuple[str, ...], circuit: Circuit) -> tuple[str, ...]:
    """The devices whose emitter current is no other's base current."""
    controls = {
        terminal.net: ref for ref in refs for terminal in circuit.part(ref).terminals if terminal.name in ("b", "g")
    }
    kept = []
    for ref in refs:
        part = circuit.part(ref)
        drives = any(
            terminal.name in ("e", "c", "s", "d") and controls.get(terminal.net, ref) != ref
            for terminal in part.terminals
        )
        kept += [] if drives else [ref]
    return tuple(kept) or refs


def _table(
    reading: Reading, trimmer: str, devices: tuple[str, ...], amplitude: float, ports: Mapping[str, Any]
) -> BiasTable | None:
    """Distortion over a few currents at rest; None where no wiper's place gives them."""
    part = reading.circuit.part(trimmer)
    if part.kind != "potentiometer":
        return None
    at = part.settings.get("at")
    typed = float(at) if isinstance(at, (int, float)) else None
    idles = [_idle(reading.circuit, trimmer, place, devices) for place in POSITIONS]
    known = [(idle, place) for idle, place in zip(idles, POSITIONS, strict=True) if math.isfinite(idle)]
    if not known:
        return None
    at_rest = math.nan if typed is None else _idle(reading.circuit, trimmer, typed, devices)
    if not at_rest > NOTHING_AMPERE:
        swings = [item.swing for item in reading.classes if item.swing and set(item.devices) & set(devices)]
        if not swings:
            return None
        at_rest = OF_SWING * len(devices) * min(swings)
    places = [min(known)[1]]
    for share in OF_IDLE:
        place = typed if share == 1.0 and typed is not None else _place(known, share * at_rest)
        places += [place] if place is not None else []
    settings = distortion_by_bias(
        reading.circuit,
        trimmer,
        sorted(dict.fromkeys(places)),
        amplitude=amplitude,
        instants=SWEEP_INSTANTS,
        patience=PATIENCE,
        **ports,
    )
    order = sorted(settings, key=lambda item: math.fsum(item.rest.get(ref, 0.0) for ref in devices))
    return BiasTable(trimmer, devices, typed, amplitude, tuple(order))


def _idle(circuit: Circuit, trimmer: str, place: float, devices: tuple[str, ...]) -> float:
    """Amperes at rest of all the devices together with the wiper at a place; NaN where not known."""
    part = circuit.part(trimmer)
    turned = replace(part, settings={**part.settings, "at": place})
    point = operating_point(replace(circuit, parts=tuple(turned if item is part else item for item in circuit.parts)))
    return math.fsum(abs(point.current(ref)) for ref in devices) if point.solved else math.nan


def _place(known: list[tuple[float, float]], wanted: float) -> float | None:
    """The wiper's place for a current at rest, between two known ones along a straight line of its logarithm."""
    ordered = sorted(known, key=lambda row: row[1])
    for (i0, x0), (i1, x1) in pairwise(ordered):
        low, high = min(i0, i1), max(i0, i1)
        if low <= wanted <= high and low < high:
            y0, y1, y = (math.log(max(value, 1e-9)) for value in (i0, i1, wanted))
            return x0 + (x1 - x0) * (y - y0) / (y1 - y0) if y1 != y0 else x0
    return None
