"""Supplies, batteries and ideal sources: what they add to the equations, and contradictions among them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from topo.analysis.equations import Equations
from topo.graph.graph import Element, Graph

SAME_VOLT = 1e-6
"""Two ideal sources between the same nets agree when they differ by less than this."""


@dataclass
class Trouble:
    """What was found on the way: elements without influence or value, alternating sources, and words for
    contradictions with the nodes that contradictory sources hold and the elements whose current nobody can know."""

    left_out: frozenset[int] = frozenset()
    unknown: list[int] = field(default_factory=list)
    alternating: list[int] = field(default_factory=list)
    contradicted: set[int] = field(default_factory=set)
    lost: list[int] = field(default_factory=list)
    words: list[str] = field(default_factory=list)


class Held:
    """Nodes held to each other by ideal sources, each with its volts above the first of its set (NaN: not known)."""

    def __init__(self) -> None:
        self._above: dict[int, tuple[int, float]] = {}

    def place(self, node: int) -> tuple[int, float]:
        """The first node of the set, and the volts of this node above it."""
        total = 0.0
        while node in self._above:
            node, step = self._above[node]
            total += step
        return node, total

    def hold(self, plus: int, minus: int, volts: float) -> float | None:
        """Holds two nodes apart by a voltage; where they are held already, the volts between them instead."""
        (first, up), (second, down) = self.place(plus), self.place(minus)
        if first == second:
            return up - down
        if first == 0:
            self._above[second] = (0, up - volts - down)
        else:
            self._above[first] = (second, down + volts - up)
        return None


def drives(graph: Graph) -> frozenset[int]:
    """Ideal sources that lie between the nets of an input: they bring the signal, and give it no short circuit."""
    ports = [{graph.node_of.get(port.net), graph.node_of.get(port.reference)} for port in graph.circuit.inputs]
    return frozenset(
        element.index for element in graph.elements if element.kind == "source" and set(element.nodes) in ports
    )


def is_steady(graph: Graph, element: Element) -> bool:
    """Whether an element holds two nets apart by a steady voltage without resistance: for the signal it is a wire."""
    if element.kind not in ("battery", "source") or element.params.get("R"):
        return False
    return element.index not in drives(graph) and not alternates(element)


def alternates(element: Element) -> bool:
    """Whether a source is one of alternating voltage, by a frequency among its ratings: nothing at direct current."""
    return element.kind == "source" and element.part.ratings.get("Hz", 0.0) > 0


def source_name(element: Element) -> str:
    """A battery's or source's name: its designator."""
    return element.members[0]


def add_sources(
    equations: Equations, without: frozenset[int] = frozenset(), unfed: frozenset[int] = frozenset()
) -> Trouble:
    """Adds supplies, batteries and sources; leaves out what holds nets that are held already, and says so.

    A `supply` on a net that the circuit itself generates stands as measured: a regulator that drives it is left
    out without a word. `without` are elements to pass over; a regulator whose input is among the nodes `unfed` is
    taken to be fed from outside, and holds its output.
    """
    graph, held, trouble = equations.graph, Held(), Trouble()
    left_out: set[int] = set()
    for supply in graph.circuit.supplies:
        node = graph.node_of[supply.net]
        if supply.resistance > 0:
            equations.source("supply", supply.net, node, 0, supply.volts, supply.resistance)
            continue
        before = held.hold(node, 0, supply.volts)
        if before is None:
            equations.source("supply", supply.net, node, 0, supply.volts)
        elif not math.isclose(before, supply.volts, abs_tol=SAME_VOLT):
            trouble.contradicted |= {node} - {0}
            trouble.words.append(_supply_against(graph, supply.net, supply.volts, before))
    for element in graph.elements:
        if element.index in without:
            continue
        if element.kind in ("battery", "source"):
            _add_source(equations, element, held, trouble)
        elif element.kind == "current":
            _add_current(equations, element, trouble)
        elif element.kind == "regulator":
            if element.value is None:
                trouble.unknown.append(element.index)
            if not _add_regulator(equations, element, held, trouble, unfed):
                left_out.add(element.index)
        elif element.kind == "opamp" and held.hold(element.node("out"), 0, math.nan) is not None:
            left_out.add(element.index)
            trouble.lost.append(element.index)
            net = graph.nets[element.node("out")]
            trouble.words.append(
                f"the output of {element.name} is on net {net}, whose voltage is held by a source: one of the two is "
                "on a wrong net"
            )
    trouble.left_out = frozenset(left_out)
    return trouble


def _supply_against(graph: Graph, net: str, volts: float, held: float) -> str:
    """Words for a supply on a node that is ground or another supply's, with the links that make it so."""
    node = graph.node_of[net]
    others = [other for other in graph.circuit.supplies if graph.node_of[other.net] == node and other.net != net]
    what = "ground" if node == 0 else f"supply {others[0].net} of {held:g} V" if others else f"a net held at {held:g} V"
    on = {name for name, at in graph.node_of.items() if at == node}
    links = [ref for ref in graph.links if any(terminal.net in on for terminal in graph.circuit.by_ref[ref].terminals)]
    by = f" by {', '.join(links)}" if links else ""
    verb = "is shorted to" if node == 0 else "is joined to"
    return f"supply {net} of {volts:g} V {verb} {what}{by}: which of the connections is wrong?"


def _add_regulator(equations: Equations, element: Element, held: Held, trouble: Trouble, unfed: frozenset[int]) -> bool:
    """Whether a regulator stays with its own law; if not, it is left out or holds its output without being fed."""
    common, out, fed = (element.node(name) for name in ("common", "out", "in"))
    if out in (common, fed):
        trouble.words.append(f"the output of {element.name} is on the net of its input or common lead")
        return False
    if held.hold(out, 0, math.nan) is not None:
        return False
    if fed in unfed:
        equations.source("regulator", element.index, out, common, element.value or 0.0)
        return False
    return True


def _add_current(equations: Equations, element: Element, trouble: Trouble) -> None:
    """An ideal current source; one without a value is taken as open, and what hangs on it is not known."""
    if element.value is None:
        trouble.unknown.append(element.index)
    else:
        equations.current(element.nodes[0], element.nodes[1], element.value)


def _add_source(equations: Equations, element: Element, held: Held, trouble: Trouble) -> None:
    plus, minus = element.nodes[0], element.nodes[1]
    volts = element.value
    if alternates(element):
        trouble.alternating.append(element.index)
        volts = 0.0
    ohms = float(element.params.get("R", 0.0))
    if volts is None:
        trouble.unknown.append(element.index)
    amount = math.nan if volts is None else volts
    before = held.hold(plus, minus, amount) if ohms <= 0 else None
    if before is None:
        equations.source("element", element.index, plus, minus, 0.0 if volts is None else volts, ohms)
    elif not math.isclose(before, amount, abs_tol=SAME_VOLT):
        nets = " and ".join(equations.graph.nets[node] for node in (plus, minus))
        trouble.contradicted |= {plus, minus} - {0}
        trouble.words.append(
            f"{element.name} of {amount:g} V lies between nets {nets}, which other sources hold {before:g} V apart: "
            f"take one of them away, turn {element.name} round, or give it its inner resistance, such as R=0.1"
        )
