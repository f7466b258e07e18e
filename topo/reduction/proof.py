"""The proof: a reduced circuit is solved again and compared with the original."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.graph.graph import Graph
from topo.netlist.circuit import Circuit, Port
from topo.quantities import show
from topo.reading.reading import Reading

# Limits of the `working` detail: catalogue 14.1, point 4.
MOST_GAIN_DB = 1.0
MOST_CURRENT_PERCENT = 5.0
# Below this a device counts as off, and its current is compared with this one.
LEAST_CURRENT = 1e-6

_MAIN = ("c", "d", "a")
_DEVICES = frozenset({"npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode"})


@dataclass(frozen=True)
class Change:
    """What became different: "gain dB", "current %" and "volts" as far as known; `words` says it in a sentence.

    `missing` says what could not be compared and why. `weight` orders changes by how far they are from the limits.
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


class Proof:
    """Compares reduced circuits with the original of one reading."""

    def __init__(self, reading: Reading) -> None:
        views = reading.views
        self._reading = reading
        self._middle = views.signal.middle if views.signals else None
        self._driven = _driven_by_ref(reading)
        linear = views.linears[0] if views.linears else None
        self._before = _Solution(views.graph, views.point, linear, reading.inputs, reading.outputs, self._middle)

    def change(self, circuit: Circuit, moved: Mapping[str, str]) -> Change:
        """Solve a reduced circuit and say what changed; `moved` gives the new names of nets that lost theirs."""
        from topo.analysis import linearise, operating_point
        from topo.graph import normalise

        if not self._before.known:
            return Change(missing="the operating point of the original is not known")
        graph = normalise(circuit)
        point = operating_point(graph)
        driven = {graph.element_of[ref]: amperes for ref, amperes in self._driven.items() if ref in graph.element_of}
        linear = None
        if self._middle is not None:
            linear = linearise(graph, point, driven=driven, generator=_generator(self._reading))
        ports = [
            tuple(_moved(port, moved) for port in ports) for ports in (self._reading.inputs, self._reading.outputs)
        ]
        after = _Solution(graph, point, linear, ports[0], ports[1], self._middle)
        return _compared(self._before, after)


class _Solution:
    """What a solved circuit does: currents and voltages of its devices, and its gain in decibels."""

    def __init__(self, graph: Graph, point, linear, inputs, outputs, middle: float | None) -> None:
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
        self.gain = _gain(graph, linear, inputs, outputs, middle)


def _gain(
    graph: Graph, linear, inputs: tuple[Port, ...], outputs: tuple[Port, ...], middle: float | None
) -> float | None:
    """Voltage gain in decibels from the first input to the first output at mid band, or None."""
    if linear is None or middle is None or not inputs or not outputs:
        return None
    ends = [graph.node_of.get(port.net) for port in (inputs[0], outputs[0])]
    if None in ends or 0 in ends:
        return None
    ratio = abs(linear.transfer(ends[0], ends[1], middle))
    return 20 * math.log10(ratio) if math.isfinite(ratio) and ratio > 1e-9 else None


def _compared(before: _Solution, after: _Solution) -> Change:
    """The change from one solution to another."""
    if not after.known:
        return Change(missing="the reduced circuit has no operating point that could be found")
    numbers: dict[str, float] = {}
    words: list[str] = []
    gone = [name for name in before.currents if name not in after.currents]
    if before.gain is not None and after.gain is not None:
        numbers["gain dB"] = round(after.gain - before.gain, 4)
        words.append(f"gain {_signed(numbers['gain dB'], 'dB')}")
    percents = {
        name: 100 * (abs(after.currents[name]) - abs(amperes)) / max(abs(amperes), LEAST_CURRENT)
        for name, amperes in before.currents.items()
        if name in after.currents
    }
    volts = {name: after.volts[name] - v for name, v in before.volts.items() if name in after.volts}
    if percents:
        worst = max(percents, key=lambda name: abs(percents[name]))
        numbers["current %"] = round(percents[worst], 4)
        words.append(f"quiescent currents {_within(percents[worst], '%', worst)}")
        worst = max(volts, key=lambda name: abs(volts[name]))
        numbers["volts"] = round(volts[worst], 6)
        words.append(f"collector voltages {_within(volts[worst], 'V', worst)}")
    lost = "the gain of the reduced circuit is not known" if before.gain is not None and after.gain is None else ""
    if gone:
        lost = "; ".join(filter(None, [lost, f"no current of {', '.join(gone)} to compare"]))
    return Change(numbers, ", ".join(words) or "nothing to compare", lost)


def _signed(value: float, unit: str) -> str:
    """A difference with its sign; "unchanged" below the last printed digit."""
    if abs(value) < (0.005 if unit in ("dB", "%") else 0.5e-3):
        return "unchanged"
    return f"{'+' if value > 0 else '−'}{show(abs(value), unit, 2)}"


def _within(value: float, unit: str, name: str) -> str:
    """The largest of several differences, and whose it is."""
    said = _signed(value, unit)
    return said if said == "unchanged" else f"at most {said} ({name})"


def _driven_by_ref(reading: Reading) -> dict[str, float]:
    """Currents at which devices that idle off were linearised, by designator."""
    graph = reading.views.graph
    linear = reading.views.linears[0] if reading.views.linears else None
    driven = getattr(linear, "driven", None) or {}
    return {graph.elements[index].members[0]: amperes for index, amperes in driven.items()}


def _generator(reading: Reading):
    return reading.views.generator


def _moved(port: Port, moved: Mapping[str, str]) -> Port:
    return Port(moved.get(port.net, port.net), moved.get(port.reference, port.reference))
