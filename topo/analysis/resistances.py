"""What each part is at direct current: the resistive paths between its nodes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from topo.analysis.physics import ZERO_CELSIUS
from topo.graph.graph import Element, Graph
from topo.graph.normalising import winding_ohms

WINDING_OHM = 0.01
"""Resistance of a winding's section, a choke or a bead that does not say: the netlist language's own figure."""

LEAST_WINDING_OHM = 1e-6
"""A winding that is said to have no resistance keeps this much, so that ideal loops stay determined."""

LEAST_OHM = 1e-3
"""A potentiometer's track never comes nearer to its end than this, as variable resistor neither."""

MEMBER_OF_LOAD = {"speaker": 8.0, "headphones": 32.0, "antenna": 50.0}
"""Ohms of a load that does not say: the usual ratings (common practice)."""

COILS = ("inductor", "choke", "bead", "transformer")


@dataclass(frozen=True)
class Path:
    """A resistive path of an element between two of its terminals, by their positions, and their nodes a and b.

    `ohms` is None where its value is not known.
    """

    element: int
    ends: tuple[int, int]
    a: int
    b: int
    ohms: float | None


@dataclass(frozen=True)
class Section:
    """A section of a coil or transformer: positions of its two terminals and their nodes, winding resistance in ohm,
    turns relative to the whole first winding, and which winding (by position) it is of."""

    ends: tuple[int, int]
    a: int
    b: int
    ohms: float
    turns: float
    winding: int


@dataclass
class Paths:
    """All resistive paths of a circuit in file order, and what was assumed, by designator."""

    rows: list[Path] = field(default_factory=list)
    assumed: dict[str, str] = field(default_factory=dict)


def resistive_paths(graph: Graph, celsius: float) -> Paths:
    """The resistive paths at direct current: capacitors open, windings and chokes at their winding resistance.

    Args:
        graph: normalised.
        celsius: temperature of thermistors.
    """
    found = Paths()
    for element in graph.elements:
        for first, second, ohms in _paths_of(graph, element, celsius, found.assumed):
            a, b = element.nodes[first], element.nodes[second]
            found.rows.append(Path(element.index, (first, second), a, b, ohms))
    return found


def _paths_of(
    graph: Graph, element: Element, celsius: float, assumed: dict[str, str]
) -> list[tuple[int, int, float | None]]:
    kind, value = element.kind, element.value
    if kind in COILS:
        return [(*section.ends, section.ohms) for section in coil_sections(graph, element)]
    if kind == "potentiometer" and len(element.nodes) == 3:
        upper, lower = track_ohms(element)
        return [(0, 1, upper), (1, 2, lower)]
    if len(element.nodes) < 2:
        return []
    if kind in ("resistor", "relay"):
        return [(0, 1, None if value is None else max(value, LEAST_OHM))]
    if kind == "thermistor":
        return [(0, 1, thermistor_ohms(element, celsius))]
    if kind == "lamp":
        return [(0, 1, lamp_ohms(element))]
    if kind in MEMBER_OF_LOAD:
        return [(0, 1, load_ohms(element, assumed))]
    if kind == "microphone" and value is not None:
        return [(0, 1, float(element.params.get("rdc", value)))]
    return []


def track_ohms(element: Element) -> tuple[float | None, float | None]:
    """Ohms of a potentiometer from its first end to the wiper and on to its second end."""
    if element.value is None:
        return None, None
    at = float(element.params.get("at", 0.5))
    return max(at * element.value, LEAST_OHM), max((1.0 - at) * element.value, LEAST_OHM)


def thermistor_ohms(element: Element, celsius: float) -> float | None:
    """Ohms at a temperature: R25 exp(B (1/T - 1/298.15 K)) where B is given, else the value as it stands."""
    beta = element.params.get("B")
    if element.value is None or beta is None:
        return element.value
    return element.value * math.exp(beta * (1.0 / (celsius + ZERO_CELSIUS) - 1.0 / (25.0 + ZERO_CELSIUS)))


def lamp_ohms(element: Element) -> float | None:
    """Hot resistance of a lamp: its value, or rated volts over rated amperes, or volts squared over watts."""
    ratings = element.part.ratings
    volts, amperes, watts = ratings.get("V"), ratings.get("A"), ratings.get("W")
    if element.value is not None:
        return element.value
    if volts and amperes:
        return volts / amperes
    return volts * volts / watts if volts and watts else None


def load_ohms(element: Element, assumed: dict[str, str]) -> float:
    """Direct-current resistance of a loudspeaker, headphones or aerial: `rdc`, else its rated value."""
    if element.kind != "antenna" and "rdc" in element.params:
        return float(element.params["rdc"])
    if element.value is None:
        usual = MEMBER_OF_LOAD[element.kind]
        assumed[element.members[0]] = f"{usual:g} ohm assumed"
        return usual
    return element.value


def coil_sections(graph: Graph, element: Element) -> list[Section]:
    """The sections of a coil or transformer, in order.

    `rdc` is that of the whole first winding; other windings have it by their turns squared, as they have when the
    copper loss is shared out evenly. Without `rdc` each section is 10 milliohm.
    """
    stated = element.params.get("rdc")
    windings = graph.windings_of.get(element.index, ())
    if not windings:
        if len(element.nodes) < 2:
            return []
        ohms = float(stated) if stated is not None else WINDING_OHM
        return [Section((0, 1), element.nodes[0], element.nodes[1], max(ohms, LEAST_WINDING_OHM), 1.0, 0)]
    whole = sum(windings[0].turns) or 1.0
    rows: list[Section] = []
    for place, winding in enumerate(windings):
        names = element.part.windings[place].terminals
        spots = [element.terminals.index(name) for name in names]
        total = sum(winding.turns) or 1.0
        for first, second, turns in zip(spots, spots[1:], winding.turns, strict=False):
            ohms = WINDING_OHM
            if stated is not None:
                ohms = float(stated) * (total / whole) ** 2 * turns / total
            a, b = element.nodes[first], element.nodes[second]
            rows.append(Section((first, second), a, b, max(ohms, LEAST_WINDING_OHM), turns / whole, place))
    return rows


__all__ = ["Path", "Paths", "Section", "coil_sections", "resistive_paths", "winding_ohms"]
