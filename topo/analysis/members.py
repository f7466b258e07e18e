"""What a merged element's members carry, and the voltages of the nets inside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from topo.graph.graph import Composition, Element, Graph

COILS = ("inductor", "choke")


@dataclass
class Inside:
    """Amperes into each member's first terminal, and volts of the nets inside elements."""

    currents: dict[str, float] = field(default_factory=dict)
    volts: dict[str, float] = field(default_factory=dict)


def look_inside(graph: Graph, volts: tuple[float, ...], currents: tuple[tuple[float, ...], ...]) -> Inside:
    """Currents of members and voltages of inner nets, from the voltages and currents of the elements.

    The net between two capacitors in series has no path for direct current: its voltage is not known (NaN).
    """
    found = Inside()
    for element in graph.elements:
        if len(element.members) > 1:
            first, second = (volts[node] for node in element.nodes)
            _share(graph, element, element.made_of, first, second, currents[element.index][0], found)
    for merge in graph.merges:
        if merge.rule == "end tie":
            found.currents.update(dict.fromkeys(merge.parts, 0.0))
    for net, index in graph.inner.items():
        if net not in found.volts:
            found.volts[net] = _loose_volts(graph, graph.elements[index], net, volts, found)
    return found


def _ohms(graph: Graph, element: Element, made_of: Composition) -> float:
    """Resistance of a set at direct current; NaN where not known, infinite for capacitors."""
    if made_of.rule == "part":
        if element.kind in ("capacitor", "electrolytic"):
            return math.inf
        if element.kind in COILS:
            return float(graph.circuit.by_ref[made_of.ref].params.get("rdc", 0.01))
        return math.nan if made_of.value is None else made_of.value
    parts = [_ohms(graph, element, item) for item in made_of.sets]
    if made_of.rule == "series":
        return sum(parts)
    if any(math.isnan(ohms) for ohms in parts):
        return math.nan
    siemens = sum(1.0 / ohms if ohms else math.inf for ohms in parts)
    return 1.0 / siemens if siemens else math.inf


def _share(
    graph: Graph, element: Element, made_of: Composition, first: float, second: float, current: float, found: Inside
) -> None:
    """Shares the current and the voltage of a set among its members."""
    if made_of.rule == "part":
        found.currents[made_of.ref] = -current if made_of.turned else current
        return
    if made_of.rule == "parallel":
        whole = _ohms(graph, element, made_of)
        for item in made_of.sets:
            ohms = _ohms(graph, element, item)
            share = 0.0 if math.isinf(ohms) else whole / ohms if ohms else 1.0
            _share(graph, element, item, first, second, current * share, found)
        return
    at = first
    for place, item in enumerate(made_of.sets):
        ohms = _ohms(graph, element, item)
        after = math.nan if math.isinf(ohms) else at - current * ohms
        if place == len(made_of.sets) - 1:
            after = second
        else:
            found.volts.update(dict.fromkeys(made_of.inner[place], after))
        _share(graph, element, item, at, after, current, found)
        at = after


def _loose_volts(graph: Graph, element: Element, net: str, volts: tuple[float, ...], found: Inside) -> float:
    """Voltage of a potentiometer's end or wiper that goes nowhere: that of the track where it taps it."""
    for ref in element.members:
        part = graph.circuit.by_ref[ref]
        if part.kind != "potentiometer" or len(part.terminals) != 3:
            continue
        nets = [terminal.net for terminal in part.terminals]
        if net not in nets:
            continue
        known = [_volts_of(graph, name, volts, found) for name in nets]
        place = nets.index(net)
        if place != 1:
            return known[1]
        at = part.settings.get("at")
        share = float(at) if isinstance(at, int | float) else 0.5
        return known[0] + share * (known[2] - known[0])
    return math.nan


def _volts_of(graph: Graph, net: str, volts: tuple[float, ...], found: Inside) -> float:
    node = graph.node_of.get(net)
    return volts[node] if node is not None else found.volts.get(net, math.nan)
