"""The linearised circuit driven at its input: node volts, and the power that goes into each terminal."""

from __future__ import annotations

from dataclasses import dataclass

from topo.graph.graph import Graph
from topo.netlist.circuit import Port
from topo.views.view import Views


@dataclass(frozen=True)
class Driven:
    """One ampere into the input: volts of every node, and for each element the power into each terminal, watts."""

    frequency: float
    volts: tuple[complex, ...]
    powers: dict[int, tuple[complex, ...]]


def drive(views: Views, port: Port, band: int = 0) -> Driven | None:
    """Drives a port at mid band; None where there is nothing to drive or no numbers to do it with."""
    node, reference = node_of_net(views.graph, port.net), node_of_net(views.graph, port.reference)
    return None if node is None else drive_node(views, node, reference, band)


def drive_node(views: Views, node: int, reference: int | None, band: int = 0) -> Driven | None:
    """Drives a node at the middle of a band, the current coming back from another or from ground."""
    view = views.signals[band]
    linear = views.linears[band] if band < len(views.linears) else None
    if linear is None or view.middle is None:
        return None
    injected: dict[int, complex] = {node: 1.0}
    if reference:
        injected[reference] = -1.0
    response = linear.response(view.middle, injected)
    powers = {
        element.index: tuple(complex(power) for power in linear.powers(element.index, response))
        for element in views.graph.elements
        if element.index not in linear.left_out
    }
    return Driven(view.middle, tuple(complex(value) for value in response.volts), powers)


def node_of_net(graph: Graph, net: str) -> int | None:
    """The node of a net by any of its names; None where it has none of its own."""
    shown = graph.circuit.aliases.get(net.casefold(), net)
    return graph.node_of.get(shown)
