"""The cycles that are plotted: the circuit as it is, and with its bias taken away."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from topo.analysis import operating_point
from topo.analysis.large_signal import Waveforms, most_power
from topo.analysis.large_signal.driving import set_up
from topo.graph.normalising import normalise
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS
from topo.reading.reading import Reading

SHARE = 0.5
"""Of the largest undistorted power: the drive of the waveforms."""

BEYOND = 1.15
"""Times the drive of the largest power: the transfer curve reaches to where the circuit limits."""

PATIENCE = 400
"""Newton steps of whole cycles until a drive is given up."""

SHORT = 1e-3
"""Ohms in place of a part that is shorted."""

LITTLE = 0.2
"""Without bias no more than this share of the current at rest may be left."""


@dataclass(frozen=True, eq=False)
class Cycles:
    """The cycles of one drive: `biased`, and `bare` where a way was found to take the bias away, which `means` says.

    `devices` are those of the last stage on the path; `missing` says why there is no cycle.
    """

    devices: tuple[str, ...]
    biased: Waveforms | None = None
    bare: Waveforms | None = None
    means: str = ""
    missing: str = ""
    load: float = math.nan


def cycles(reading: Reading, kind: str) -> Cycles:
    """The cycles for a kind of plot, "waveforms" or "transfer"."""
    devices = last_devices(reading)
    views = reading.views
    ports: dict[str, Any] = {
        "source": views.generator if views.generator is not None else 0.0,
        "frequency": next((view.middle for view in views.signals if view.middle), None),
        "entry": reading.inputs[0] if reading.inputs else None,
        "exit": reading.outputs[0] if reading.outputs else None,
    }
    limit = most_power(views.graph, views.point, **ports)
    if limit.limit is None or not math.isfinite(limit.amplitude):
        return Cycles(devices, missing="; ".join(limit.missing) or "no cycle that repeats itself was found")
    amplitude = limit.amplitude * (BEYOND if kind == "transfer" else math.sqrt(SHARE))
    biased = _cycle(views.graph, views.point, amplitude, ports)
    if biased is None and kind == "transfer":
        amplitude = limit.amplitude
        biased = limit.limit if limit.limit.steady else None
    if biased is None:
        return Cycles(devices, missing="the cycle at this drive does not repeat itself")
    found = Cycles(devices, biased, load=biased.load_ohms)
    for circuit, means in _unbiased(reading, devices):
        graph = normalise(circuit)
        bare = _cycle(graph, operating_point(graph), amplitude, ports)
        if bare is not None:
            return replace(found, bare=bare, means=means)
    return found


def _cycle(graph, point, amplitude: float, ports: dict[str, Any]) -> Waveforms | None:
    bench = set_up(graph, point, **ports)
    if isinstance(bench, Waveforms):
        return None
    bench.patience = PATIENCE
    cycle = bench.run(amplitude)
    return cycle if cycle.steady else None


def last_devices(reading: Reading) -> tuple[str, ...]:
    """The devices of the last step of the signal path that has any: the two sides of a pair, or one."""
    for step in reversed(reading.path):
        devices = tuple(
            dict.fromkeys(ref for ref in step.refs if reading.circuit.by_ref[ref].kind in GROUPS["amplifying"])
        )
        if devices:
            return devices[:2]
    return ()


def _unbiased(reading: Reading, devices: tuple[str, ...]) -> Iterator[tuple[Circuit, str]]:
    """The circuits with the bias of some devices taken away in one way or another, that which leaves least first."""
    rest = _idle(reading.circuit, devices)
    if not rest > 0:
        return
    found = []
    for number, (circuit, means) in enumerate(_ways(reading, devices)):
        left = _idle(circuit, devices)
        if left <= LITTLE * rest:
            found.append((left, number, circuit, means))
    found.sort(key=lambda item: item[:2])
    yield from ((circuit, means) for _, _, circuit, means in found)


def _idle(circuit: Circuit, devices: tuple[str, ...]) -> float:
    """Amperes at rest of some devices together; infinite where not known."""
    point = operating_point(circuit)
    total = math.fsum(abs(point.current(ref)) for ref in devices)
    return total if point.solved and math.isfinite(total) else math.inf


def _ways(reading: Reading, devices: tuple[str, ...]) -> Iterator[tuple[Circuit, str]]:
    """Ways to take the bias away: its trimmers at either end, its diodes or its transistor shorted."""
    circuit = reading.circuit
    served = set(devices)
    for trimmer, biased in reading.bias_trimmers.items():
        if served & set(biased):
            for place in (0.0, 1.0):
                part = circuit.part(trimmer)
                turned = replace(part, settings={**part.settings, "at": place})
                yield _with(circuit, {trimmer: turned}), f"{trimmer} at its least"
    for block in reading.blocks:
        if block.sort != "bias" or not served & set(block.serves):
            continue
        diodes = [ref for ref in block.parts if circuit.by_ref[ref].kind in GROUPS["diode"]]
        drops = [ref for ref in block.parts if circuit.by_ref[ref].kind == "resistor"]
        groups = [diodes, *([ref] for ref in block.devices), *([ref] for ref in drops)]
        for group in groups:
            if group:
                shorted = {ref: _shorted(circuit.by_ref[ref]) for ref in group}
                yield _with(circuit, shorted), f"{' and '.join(group)} shorted"


def _with(circuit: Circuit, changed: dict[str, Part]) -> Circuit:
    return replace(circuit, parts=tuple(changed.get(part.ref, part) for part in circuit.parts))


def _shorted(part: Part) -> Part:
    """A resistor of next to nothing across a part's ends: of a device, its main path."""
    names = ELECTRODES[part.kind][1:] if part.kind in ELECTRODES else [item.name for item in part.terminals[:2]]
    ends = [item for item in part.terminals if item.name in names]
    terminals = tuple(replace(item, name=str(number)) for number, item in enumerate(ends, 1))
    return Part(part.ref, "resistor", terminals, SHORT, section=part.section)
