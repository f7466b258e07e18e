"""Currents in links (fuses, meters, closed switches), which the graph knows only as wires."""

from __future__ import annotations

import math
from collections.abc import Mapping

from topo.graph.graph import Graph
from topo.graph.links import Shunts, joined_nets

Edge = tuple[str, str, str]


def link_currents(
    graph: Graph, currents: tuple[tuple[float, ...], ...], member_currents: Mapping[str, float]
) -> dict[str, float]:
    """Amperes into the first terminal of each link, by Kirchhoff's current law at the nets that it joins.

    NaN for links in a loop of links (two in parallel share as their resistances do, which are not known).
    """
    edges: list[Edge] = []
    shunts = Shunts(graph.circuit)
    for part in graph.circuit.parts:
        if part.ref in graph.links:
            edges += [(part.ref, a, b) for a, b, _ in joined_nets(graph.circuit, part, {}, shunts) if a != b]
    if not edges:
        return {}
    drawn = _drawn_at_nets(graph, currents, member_currents)
    _balance(graph, drawn)
    found = {ref: math.nan for ref, _, _ in edges}
    while leaf := _leaf(edges):
        (ref, a, b), end = leaf
        other = b if end == a else a
        found[ref] = drawn.get(end, 0.0) * (1.0 if end == b else -1.0)
        drawn[other] = drawn.get(other, 0.0) + drawn.get(end, 0.0)
        edges.remove((ref, a, b))
    return found


def _leaf(edges: list[Edge]) -> tuple[Edge, str] | None:
    """A link with an end that no other link meets, and that end."""
    met: dict[str, int] = {}
    for _, a, b in edges:
        met[a], met[b] = met.get(a, 0) + 1, met.get(b, 0) + 1
    for edge in edges:
        for end in (edge[2], edge[1]):
            if met[end] == 1:
                return edge, end
    return None


def _drawn_at_nets(
    graph: Graph, currents: tuple[tuple[float, ...], ...], member_currents: Mapping[str, float]
) -> dict[str, float]:
    """Amperes that the parts draw from each original net."""
    drawn: dict[str, float] = {}

    def draw(net: str, amperes: float) -> None:
        drawn[net] = drawn.get(net, 0.0) + amperes

    for element in graph.elements:
        if len(element.members) == 1:
            for name, amperes in zip(element.terminals, currents[element.index], strict=True):
                draw(element.part.net(name), amperes)
            continue
        for ref in element.members:
            part = graph.circuit.by_ref[ref]
            known = member_currents[ref] if part.kind != "potentiometer" else math.nan
            draw(part.terminals[0].net, known)
            draw(part.terminals[-1].net, -known)
    return drawn


def _balance(graph: Graph, drawn: dict[str, float]) -> None:
    """Lets ground and supplies bring in what the parts on their nets draw in all."""
    fed = {0: graph.circuit.ground}
    for supply in graph.circuit.supplies:
        node = graph.node_of[supply.net]
        fed[node] = supply.net if node not in fed else ""
    for node, net in fed.items():
        names = [name for name, at in graph.node_of.items() if at == node]
        total = sum(drawn.get(name, 0.0) for name in names)
        if net:
            drawn[net] = drawn.get(net, 0.0) - total
        else:
            drawn.update(dict.fromkeys(names, math.nan))
