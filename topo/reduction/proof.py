"""The proof: a reduced circuit is solved again and compared with the original."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from topo.graph.graph import Graph
from topo.netlist.circuit import Circuit, Port
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reading.summary import joined
from topo.reduction.edges import Edges, Sweep, band_edges, edges_of, octaves
from topo.views.network import Network, Termination

# Limits of the `working` detail: catalogue 14.1, point 4.
MOST_GAIN_DB = 1.0
MOST_CURRENT_PERCENT = 5.0
MOST_OCTAVES = 1.0
# Limits of the `principle` detail, which has to show a circuit that works: see `Change.strain`.
LEAST_GAIN_DB = -6.0
FURTHEST_GAIN_DB = 12.0
MOST_CURRENT_FACTOR = 2.0
# Below this a device counts as off, and its current is compared with this one.
LEAST_CURRENT = 1e-6

NOTHING_TO_COMPARE = "nothing to compare"
_MAIN = ("c", "d", "a")
_DEVICES = frozenset({"npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode"})
# Below these a difference is less than the last printed digit.
_LEAST = {"dB": 0.005, "%": 0.005, "V": 0.5e-3, "octaves": 0.005}


@dataclass(frozen=True)
class Change:
    """What became different, as far as known; `words` says it in a sentence.

    `numbers` holds "gain dB", "current %" and "volts" (each the largest of any device's), and "low edge octaves" and
    "high edge octaves". `devices` holds "current %" and "volts" of each device. `beyond` names the edges that moved
    out of the range looked at, so that they moved by more than is said; `stopped` the devices that carry no current
    any more; `worst` the device of the largest change of current. `missing` says what could not be compared and why;
    not `solved` is what has no operating point, `silent` what no signal comes through any more.
    """

    numbers: Mapping[str, float] = field(default_factory=dict)
    words: str = "nothing changes"
    missing: str = ""
    solved: bool = True
    silent: bool = False
    devices: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    beyond: tuple[str, ...] = ()
    stopped: tuple[str, ...] = ()
    worst: str = ""

    @property
    def weight(self) -> float:
        """The largest share of a limit of `working`; infinite where nothing could be solved."""
        if not self.solved or self.silent or self.stopped:
            return math.inf
        edges = max((abs(self.numbers.get(key, 0.0)) for key in EDGES), default=0.0)
        return max(
            abs(self.numbers.get("gain dB", 0.0)) / MOST_GAIN_DB,
            abs(self.numbers.get("current %", 0.0)) / MOST_CURRENT_PERCENT,
            edges / MOST_OCTAVES,
        )

    @property
    def strain(self) -> float:
        """The largest share of a limit of `principle`: no device stops, no current at rest falls to half or rises to
        twice what it was, the gain falls by no more than 6 dB and rises by no more than 12 dB."""
        if not self.solved or self.silent or self.stopped:
            return math.inf
        gain = self.numbers.get("gain dB", 0.0)
        factors = [max(1e-3, 1 + row.get("current %", 0.0) / 100) for row in self.devices.values()]
        current = max((abs(math.log(factor)) for factor in factors), default=0.0) / math.log(MOST_CURRENT_FACTOR)
        return max(gain / FURTHEST_GAIN_DB, gain / LEAST_GAIN_DB, current)


EDGES = {"low edge octaves": "lower band edge", "high edge octaves": "upper band edge"}


def within_limits(change: Change) -> bool:
    """Whether a change is small enough for the `working` detail."""
    return change.weight < 1.0


def signed(value: float, unit: str) -> str:
    """A difference with its sign; "unchanged" below the last printed digit."""
    if abs(value) < _LEAST.get(unit, 0.0):
        return "unchanged"
    if unit == "octaves":
        return f"{'+' if value > 0 else '−'}{show(abs(value), '', 2)} octave{'s' if abs(value) >= 1.95 else ''}"
    return f"{'+' if value > 0 else '−'}{show(abs(value), unit, 2)}"


def said_changes(change: Change) -> str:
    """The numbers of a change in words: "gain +0.1 dB, quiescent current of Q2 +0.6 %".

    Names the device of each largest change; what does not change is told once at the end.
    """
    said, still = [], []
    for key, unit, of_all, of_one in (
        ("gain dB", "dB", "gain", "gain"),
        ("current %", "%", "quiescent currents", "quiescent current of {}"),
        ("volts", "V", "collector voltages", "collector voltage of {}"),
    ):
        if key not in change.numbers:
            continue
        words = signed(change.numbers[key], unit)
        if words == "unchanged":
            still.append(of_all)
            continue
        which = max(change.devices, key=lambda ref: abs(change.devices[ref].get(key, 0.0)), default="")
        said.append(f"{of_one.format(which) if which else of_all} {words}")
    if any(key in change.numbers for key in EDGES):
        moved = [
            f"{name} {signed(change.numbers[key], 'octaves')}{' or more' if key in change.beyond else ''}"
            for key, name in EDGES.items()
            if key in change.numbers and signed(change.numbers[key], "octaves") != "unchanged"
        ]
        said += moved
        if not moved:
            still.append("band edges")
    if still:
        said.append(f"{joined(still)} unchanged")
    return ", ".join(said)


class Proof:
    """Compares reduced circuits with the original of one reading."""

    def __init__(self, reading: Reading) -> None:
        views = reading.views
        self._reading = reading
        self._band = views.signal.band if views.signals else None
        self._driven = {views.graph.elements[index].members[0]: amperes for index, amperes in views.driven.items()}
        ports = (reading.inputs, reading.outputs)
        self._before = _Solution(views.graph, views.point, views.network, ports, self._band)

    def quick_change(self, becomes: Mapping[str, str]) -> Change | None:
        """What `change` would say of parts left out, where that is known without solving again: links that become
        wires, parts between ideal rails, and capacitors, which leave the currents at rest as they are. Else None."""
        graph, before = self._reading.views.graph, self._before
        capacitors: dict[int, None] = {}
        for ref, fate in becomes.items():
            if ref in graph.links and fate == "wire":
                continue
            index = graph.element_of.get(ref)
            element = graph.elements[index] if index is not None else None
            if (
                element is None
                or fate != "nothing"
                or len(element.nodes) != 2
                or not set(element.members) <= set(becomes)
            ):
                return None
            if set(element.nodes) <= self._still:
                continue
            if element.kind != "capacitor" or not element.value:
                return None
            capacitors[element.index] = None
        if not before.known:
            return None
        after = copy(before)
        if capacitors and before.gain is not None:
            gains = self._sweep.without(tuple(capacitors)) if self._sweep is not None else None
            if gains is None or self._band is None or self._sweep is None:
                return None
            middle = int(np.searchsorted(self._sweep.grid, math.sqrt(self._band[0] * self._band[1])))
            after.gain = float(gains[middle]) if math.isfinite(gains[middle]) and gains[middle] > -180 else None
            after.edges = edges_of(gains, self._sweep.grid, self._band)
        return _compared(before, after)

    @cached_property
    def _still(self) -> frozenset[int]:
        """Nodes that nothing moves: ground, and rails without a resistance of their own."""
        views = self._reading.views
        network, graph = views.network, views.graph
        if network is None or views.signal.middle is None:
            return frozenset({0})
        return frozenset({0, *graph.rails}) & network.fixed_nodes(views.signal.middle)

    @cached_property
    def _sweep(self) -> Sweep | None:
        """The response of the original over its band, from which capacitors can be taken."""
        views, ports = self._reading.views, (self._reading.inputs, self._reading.outputs)
        start, end = (views.graph.node_of.get(side[0].net) if side else None for side in ports)
        if views.network is None or self._band is None or not start or not end:
            return None
        capacitors = {
            item.index: (item.nodes[0], item.nodes[1], item.value)
            for item in views.graph.elements
            if item.kind == "capacitor" and item.value
        }
        return Sweep(views.network, start, end, self._band, capacitors)

    def change(
        self,
        circuit: Circuit,
        moved: Mapping[str, str],
        as_one: Mapping[str, str] | None = None,
        absent: Collection[str] = (),
    ) -> Change:
        """Solve a reduced circuit and say what changed.

        `moved` gives the new names of nets that lost theirs, `as_one` the device that stands for each merged one.
        `absent` are devices that are left out as the likes of others, so that nothing of theirs is missed.
        """
        from topo.analysis import linearise, operating_point
        from topo.graph import normalise

        if not self._before.known:
            return Change(missing=f"the operating point of the original is not known{self._before.why}", solved=False)
        graph = normalise(circuit)
        point = operating_point(graph)
        network = None
        if self._band is not None and point.status != "not solved":
            amperes = _summed(self._driven, as_one or {})
            driven = {graph.element_of[ref]: amps for ref, amps in amperes.items() if ref in graph.element_of}
            network = Network(linearise(graph, point, driven=driven, undriven=True), self._terminations(graph, moved))
        ports = [
            tuple(Port(moved.get(port.net, port.net), moved.get(port.reference, port.reference)) for port in side)
            for side in (self._reading.inputs, self._reading.outputs)
        ]
        before = self._before
        if as_one or absent:
            currents = _summed(before.currents, as_one or {})
            before = before.with_currents({ref: amps for ref, amps in currents.items() if ref not in absent})
        return _compared(before, _Solution(graph, point, network, ports, self._band))

    def _terminations(self, graph: Graph, moved: Mapping[str, str]) -> tuple[Termination, ...]:
        """What is assumed at the ports, on the nodes of a reduced circuit."""
        network = self._reading.views.network
        nets = self._reading.views.graph.nets
        found = []
        for item in network.terminations if network is not None else ():
            a, b = (graph.node_of.get(moved.get(nets[node], nets[node])) for node in item.nodes)
            if a is not None and b is not None:
                found.append(replace(item, nodes=(a, b)))
        return tuple(found)


class _Solution:
    """What a solved circuit does: currents and voltages of its devices, its gain in decibels, the edges of its band."""

    def __init__(self, graph: Graph, point, network: Network | None, ports, band: tuple[float, float] | None) -> None:
        self.currents: dict[str, float] = {}
        self.volts: dict[str, float] = {}
        for element in graph.elements:
            terminal = next((name for name in _MAIN if name in element.terminals), None)
            if element.kind in _DEVICES and terminal is not None:
                current = point.currents[element.index][element.terminals.index(terminal)]
                volts = point.volts[element.node(terminal)]
                if math.isfinite(current) and math.isfinite(volts):
                    self.currents[element.name] = current
                    self.volts[element.name] = volts
        self.why = f" ({'; '.join(point.missing)})" if point.missing else ""
        self.known = point.status != "not solved"
        self.gain: float | None = None
        self.edges: Edges | None = None
        inputs, outputs = ports
        if network is None or band is None or not inputs or not outputs:
            return
        start, end = (graph.node_of.get(port.net) for port in (inputs[0], outputs[0]))
        if start and end:
            self.gain = _gain(network, start, end, math.sqrt(band[0] * band[1]))
            self.edges = band_edges(network, start, end, band) if self.gain is not None else None

    def with_currents(self, currents: Mapping[str, float]) -> _Solution:
        """The same with other currents: those of merged devices together."""
        found = copy(self)
        found.currents = dict(currents)
        return found


def _summed(amperes: Mapping[str, float], as_one: Mapping[str, str]) -> dict[str, float]:
    """Currents of devices, those of merged ones with that which stands for them."""
    found: dict[str, float] = {}
    for ref, value in amperes.items():
        found[as_one.get(ref, ref)] = found.get(as_one.get(ref, ref), 0.0) + value
    return found


def _gain(network: Network, start: int, end: int, middle: float) -> float | None:
    """Volts at the output for one ampere into the input with its generator, at mid band, in decibels.

    Between two circuits with the same generator it differs as their gains do. None where it is not known.
    """
    ratio = abs(network.impedances(middle)[end, start])
    return 20 * math.log10(ratio) if math.isfinite(ratio) and ratio > 1e-9 else None


def _compared(before: _Solution, after: _Solution) -> Change:
    """The change from one solution to another."""
    if not after.known:
        return Change(missing="the reduced circuit has no operating point that could be found", solved=False)
    numbers: dict[str, float] = {}
    missing: list[str] = []
    beyond: list[str] = []
    stopped = _stopped(before, after)
    silent = False
    if before.gain is not None and after.gain is not None:
        numbers["gain dB"] = round(after.gain - before.gain, 4)
    elif before.gain is not None:
        silent = True
    else:
        missing.append(f"the gain of the original is not known{before.why}, so that it cannot be compared")
    both = [name for name in before.currents if name in after.currents]
    devices = {
        name: {
            "current %": round(_percent(before.currents[name], after.currents[name]), 6),
            "volts": round(after.volts[name] - before.volts[name], 6),
        }
        for name in both
    }
    for key in ("current %", "volts"):
        if both:
            numbers[key] = max((row[key] for row in devices.values()), key=abs)
    if before.edges is not None and after.edges is not None:
        for key, place, ends in (
            ("low edge octaves", 0, (before.edges.low, after.edges.low)),
            ("high edge octaves", 1, (before.edges.high, after.edges.high)),
        ):
            moved, further = octaves(*ends, before.edges.limits[place])
            numbers[key] = round(moved, 4)
            if further:
                beyond.append(key)
    gone = [name for name in before.currents if name not in after.currents]
    if gone:
        missing.append(f"there is no current of {', '.join(gone)} to compare")
    worst = max(both, key=lambda name: abs(devices[name]["current %"]), default="")
    change = Change(
        numbers,
        "",
        "; ".join(missing),
        devices=devices,
        beyond=tuple(beyond),
        stopped=stopped,
        worst=worst,
        silent=silent,
    )
    words = said_changes(change) or NOTHING_TO_COMPARE
    if silent:
        words = f"no signal comes through, {words}"
    if stopped:
        words = f"no current flows in {' and '.join(stopped)}, so that the gain says nothing"
    return replace(change, words=words)


def _stopped(before: _Solution, after: _Solution) -> tuple[str, ...]:
    """Devices that carried a current and now carry next to none."""
    return tuple(
        name
        for name, amperes in before.currents.items()
        if name in after.currents and abs(amperes) > LEAST_CURRENT and abs(after.currents[name]) < 0.01 * abs(amperes)
    )


def _percent(before: float, after: float) -> float:
    """The change of a quiescent current, percent of what it was."""
    return 100 * (abs(after) - abs(before)) / max(abs(before), LEAST_CURRENT)
