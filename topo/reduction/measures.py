"""The numbers that a decision rests on: drops at rest, and what the rest of the circuit shows across a part."""

from __future__ import annotations

import math
from collections.abc import Sequence

from topo.graph.graph import Element
from topo.quantities import show
from topo.reading.reading import Reading
from topo.views.kinds import COILS

_NEARLY_DC = 1e-3
# kT/q at 27 °C: the slope of a junction that carries a current is this voltage over that current.
_THERMAL_VOLTAGE = 25.87e-3
_UNITS = {"resistor": "ohm", "capacitor": "F", "inductor": "H", "choke": "H", "bead": "ohm", "potentiometer": "ohm"}


class Measures:
    """Measures elements of one reading; answers None where something is not known."""

    def __init__(self, reading: Reading) -> None:
        self.reading = reading
        self.graph = reading.views.graph
        self.point = reading.views.point
        self.network = reading.views.network

    def drop(self, element: Element) -> float | None:
        """Volts across a two-terminal element at rest."""
        a, b = element.nodes
        volts = abs(self.point.volts[a] - self.point.volts[b])
        return volts if math.isfinite(volts) else None

    def current(self, element: Element) -> float | None:
        """Amperes into an element's first terminal at rest, without sign."""
        amperes = self.point.currents[element.index]
        return abs(amperes[0]) if amperes and math.isfinite(amperes[0]) else None

    def fate(self, element: Element) -> str:
        """What the signal view made of an element."""
        verdict = self.reading.views.signal.verdicts.get(element.index)
        return verdict.fate if verdict is not None else "kept"

    def facing(self, element: Element) -> float | None:
        """Ohms that the rest of the circuit shows across a two-terminal element, at mid band; at DC where both its
        ends stand still for the signal."""
        frequency = self._frequency(element)
        return None if frequency is None else self.facing_at(element, frequency)

    def facing_at(self, element: Element, frequency: float, beside: Sequence[Element] = ()) -> float | None:
        """Ohms that the rest of the circuit shows across a two-terminal element at a frequency.

        `beside` are elements on the same two nodes that count with it and not with the rest.
        """
        if self.network is None or self.impedance_at(element, frequency) is None:
            return None
        own = 0j
        for item in (element, *beside):
            admittance = self.network.linear.admittance_of(item.index, frequency)
            if admittance is None:
                return None
            own += admittance
        a, b = element.nodes
        across = self.network.across(a, b, frequency)
        if not across:
            return 0.0
        rest = 1 / across - own
        return 1 / abs(rest) if abs(rest) > 1e-12 else math.inf

    def rho(self, element: Element) -> float | None:
        """The element's impedance over that of the rest of the circuit across it."""
        facing, own = self.facing(element), self.impedance(element)
        return None if facing is None or own is None or not facing else abs(own) / facing

    def impedance(self, element: Element) -> complex | None:
        """The element's own impedance at the frequency at which it is judged."""
        frequency = self._frequency(element)
        return None if frequency is None else self.impedance_at(element, frequency)

    def impedance_at(self, element: Element, frequency: float) -> complex | None:
        """The element's own impedance at a frequency in hertz."""
        value = element.value
        if value is None and element.kind in _UNITS:
            return None
        if value is not None and element.kind == "capacitor":
            return 1 / (2j * math.pi * frequency * value)
        if value is not None and element.kind in ("inductor", "choke"):
            return 2j * math.pi * frequency * value
        if value is not None and element.kind in ("resistor", "bead"):
            return complex(value)
        current = self.current(element)
        return complex(_THERMAL_VOLTAGE / current) if current and current > 1e-9 else None

    def _frequency(self, element: Element) -> float | None:
        view = self.reading.views.signal
        ends = {view.class_of[node] for node in element.nodes}
        if len(ends) == 1 and element.kind not in ("capacitor", "inductor", "choke", "bead"):
            return _NEARLY_DC
        return view.middle

    def test(self, element: Element) -> dict[str, float]:
        """What is known of an element: "drop volts" at rest, "own ohm" and "facing ohm" where it is judged."""
        if len(element.nodes) != 2:
            return {}
        own = self.impedance(element)
        found = {
            "drop volts": self.drop(element),
            "own ohm": None if own is None else abs(own),
            "facing ohm": self.facing(element),
        }
        return {name: value for name, value in found.items() if value is not None and math.isfinite(value)}

    def numbers(self, element: Element, becomes: str) -> str:
        """The numbers of an omission in words."""
        if len(element.nodes) != 2:
            return ""
        ends = " to ".join(self.graph.nets[node] for node in element.nodes)
        value = show(element.value, _UNITS.get(element.kind, "")) if element.value is not None else ""
        drop = self.drop(element)
        if element.kind == "capacitor":
            return self._capacitor(element, value, ends)
        if element.kind in COILS and drop is not None:
            own = self.impedance(element)
            said = f"{show(abs(own), 'ohm', 2)} at mid band" if own is not None else value
            return f"drops {_volts(drop)} at rest{self._against(element, said)}"
        if becomes == "wire" and drop is not None:
            return f"drops {_volts(drop)} at rest{self._against(element, value)}"
        current = self.current(element)
        if current is not None and drop is not None and element.kind != "resistor":
            return f"{show(drop, 'V', 2)} across it at rest, {show(current, 'A', 2)} through it"
        return f"{value}, {ends}{self._against(element, value)}".strip(", ")

    def _capacitor(self, element: Element, value: str, ends: str) -> str:
        if self.fate(element) == "no effect":
            return f"{value} from {ends}, across an ideal rail: it carries no signal"
        verdict = self.reading.views.signal.verdicts.get(element.index)
        own = self.impedance(element)
        if verdict is None or verdict.facing is None or own is None:
            return f"{value} from {ends}"
        return (
            f"{show(abs(own), 'ohm', 2)} at mid band against the {show(verdict.facing, 'ohm', 2)} that lies across it"
        )

    def _against(self, element: Element, value: str) -> str:
        facing = self.facing(element)
        if facing is None or not value:
            return ""
        if math.isinf(facing) or facing > 1e7:
            return f"; {value}, with next to no signal current through it"
        return f"; {value} against {show(facing, 'ohm', 2)} across it"


def _volts(drop: float) -> str:
    """A drop in words; under a microvolt there is none."""
    return show(drop, "V", 2) if drop >= 1e-6 else "nothing"
