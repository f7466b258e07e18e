"""The proof: a reduced circuit is solved again and compared with the original."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from topo.graph.graph import Graph
from topo.netlist.circuit import Circuit, Port
from topo.quantities import show
from topo.reading.reading import Reading
from topo.views.network import Network, Termination

# Limits of the `working` detail: catalogue 14.1, point 4.
MOST_GAIN_DB = 1.0
MOST_CURRENT_PERCENT = 5.0
# Below this a device counts as off, and its current is compared with this one.
LEAST_CURRENT = 1e-6

_MAIN = ("c", "d", "a")
_DEVICES = frozenset({"npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode"})
# Below these a difference is less than the last printed digit.
_LEAST = {"dB": 0.005, "%": 0.005, "V": 0.5e-3}


@dataclass(frozen=True)
class Change:
    """What became different: "gain dB", "current %" and "volts" as far as known; `words` says it in a sentence.

    `missing` says what could not be compared and why.
    """

    numbers: Mapping[str, float] = field(default_factory=dict)
    words: str = "nothing changes"
    missing: str = ""

    @property
    def weight(self) -> float:
        """The largest share of a limit; infinite where nothing could be solved."""
        gain = abs(self.numbers.get("gain dB", 0.0)) / MOST_GAIN_DB
        current = abs(self.numbers.get("current %", 0.0)) / MOST_CURRENT_PERCENT
        return math.inf if self.missing and not self.numbers else max(gain, current)


def within_limits(change: Change) -> bool:
    """Whether a change is small enough for the `working` detail."""
    return change.weight < 1.0


def signed(value: float, unit: str) -> str:
    """A difference with its sign; "unchanged" below the last printed digit."""
    if abs(value) < _LEAST.get(unit, 0.0):
        return "unchanged"
    return f"{'+' if value > 0 else '−'}{show(abs(value), unit, 2)}"


class Proof:
    """Compares reduced circuits with the original of one reading."""

    def __init__(self, reading: Reading) -> None:
        views = reading.views
        self._reading = reading
        self._middle = views.signal.middle if views.signals else None
        self._driven = {views.graph.elements[index].members[0]: amperes for index, amperes in views.driven.items()}
        ports = (reading.inputs, reading.outputs)
        self._before = _Solution(views.graph, views.point, views.network, ports, self._middle)

    def change(self, circuit: Circuit, moved: Mapping[str, str]) -> Change:
        """Solve a reduced circuit and say what changed; `moved` gives the new names of nets that lost theirs."""
        from topo.analysis import linearise, operating_point
        from topo.graph import normalise

        if not self._before.known:
            return Change(missing="the operating point of the original is not known")
        graph = normalise(circuit)
        point = operating_point(graph)
        network = None
        if self._middle is not None and point.status != "not solved":
            driven = {graph.element_of[ref]: amps for ref, amps in self._driven.items() if ref in graph.element_of}
            network = Network(linearise(graph, point, driven=driven), self._terminations(graph, moved))
        ports = [
            tuple(Port(moved.get(port.net, port.net), moved.get(port.reference, port.reference)) for port in side)
            for side in (self._reading.inputs, self._reading.outputs)
        ]
        return _compared(self._before, _Solution(graph, point, network, ports, self._middle))

    def stopped(self, circuit: Circuit) -> tuple[str, ...]:
        """Devices that carry a current at rest in the original and next to none in a reduced circuit."""
        from topo.analysis import operating_point
        from topo.graph import normalise

        graph = normalise(circuit)
        after = _Solution(graph, operating_point(graph), None, ((), ()), None)
        return _stopped(self._before, after)

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
    """What a solved circuit does: currents and voltages of its devices, and its gain in decibels."""

    def __init__(self, graph: Graph, point, network: Network | None, ports, middle: float | None) -> None:
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
        self.known = point.status != "not solved"
        self.gain = _gain(graph, network, ports, middle)


def _gain(graph: Graph, network: Network | None, ports, middle: float | None) -> float | None:
    """Volts at the first output for one ampere into the first input with its generator, at mid band, in decibels.

    Between two circuits with the same generator it differs as their gains do. None where it is not known.
    """
    inputs, outputs = ports
    if network is None or middle is None or not inputs or not outputs:
        return None
    start, end = (graph.node_of.get(port.net) for port in (inputs[0], outputs[0]))
    if not start or not end:
        return None
    ratio = abs(network.impedances(middle)[end, start])
    return 20 * math.log10(ratio) if math.isfinite(ratio) and ratio > 1e-9 else None


def _compared(before: _Solution, after: _Solution) -> Change:
    """The change from one solution to another."""
    if not after.known:
        return Change(missing="the reduced circuit has no operating point that could be found")
    numbers: dict[str, float] = {}
    words: list[str] = []
    missing: list[str] = []
    stopped = _stopped(before, after)
    if stopped:
        whose = "its bias is" if len(stopped) == 1 else "their bias is"
        words.append(f"no current flows in {' and '.join(stopped)} ({whose} not drawn), so that its gain says nothing")
    elif before.gain is not None and after.gain is not None:
        numbers["gain dB"] = round(after.gain - before.gain, 4)
        words.append(f"gain {signed(numbers['gain dB'], 'dB')}")
    elif before.gain is not None:
        missing.append("the gain of the reduced circuit is not known")
    both = [name for name in before.currents if name in after.currents]
    if both:
        percents = {name: _percent(before.currents[name], after.currents[name]) for name in both}
        volts = {name: after.volts[name] - before.volts[name] for name in both}
        for key, label, unit, changes in (
            ("current %", "quiescent currents", "%", percents),
            ("volts", "collector voltages", "V", volts),
        ):
            worst = max(both, key=lambda name: abs(changes[name]))
            numbers[key] = round(changes[worst], 6)
            if stopped:
                continue
            said = signed(changes[worst], unit)
            words.append(f"{label} {said}" if said == "unchanged" else f"{label} at most {said} ({worst})")
    if len(words) == 3 and all(word.endswith("unchanged") for word in words):
        words = ["gain, quiescent currents and collector voltages unchanged"]
    gone = [name for name in before.currents if name not in after.currents]
    if gone:
        missing.append(f"no current of {', '.join(gone)} to compare")
    return Change(numbers, ", ".join(words) or "nothing to compare", "; ".join(missing))


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
