"""The wire view (the normalised netlist) and the DC view (capacitors open, windings and chokes wires)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.views.branches import branch_current, single_branches, view_branches
from topo.views.kinds import COILS, TWO_ENDED
from topo.views.merging import Classes
from topo.views.view import View

# What no direct current passes.
BLOCKING = frozenset({"capacitor", "crystal"})


def port_nodes(graph: Graph) -> tuple[int, ...]:
    """Nodes of the declared inputs and outputs and of what they are measured against."""
    circuit = graph.circuit
    found: list[int] = []
    for port in (*circuit.inputs, *circuit.outputs):
        for net in (port.net, port.reference):
            node = node_of(graph, net)
            if node is not None and node not in found:
                found.append(node)
    return tuple(found)


def node_of(graph: Graph, net: str) -> int | None:
    """The node of a net by any of its names, None where it is inside a merged element or unknown."""
    if net in graph.node_of:
        return graph.node_of[net]
    shown = graph.circuit.aliases.get(net.casefold(), net)
    return graph.node_of.get(shown)


def closed_classes(graph: Graph, class_of: Sequence[int], rails: Iterable[int], windings: bool) -> frozenset[int]:
    """Classes that are never empty: rails, ports, and what a device (or a winding, if so asked) touches."""
    closed = set(rails)
    closed.update(class_of[node] for node in port_nodes(graph))
    wound = {winding.element for winding in graph.windings}
    for element in graph.elements:
        two_ended = element.kind in TWO_ENDED and len(element.nodes) == 2
        if two_ended or element.kind == "potentiometer":
            continue
        if element.index in wound and not windings:
            continue
        closed.update(class_of[node] for node in element.nodes)
    return frozenset(closed)


def wire_view(graph: Graph, derived: Sequence[int] = ()) -> View:
    """The netlist as normalised: each node a class of its own."""
    class_of = tuple(range(len(graph.nets)))
    rails = frozenset({0, *graph.rails, *derived})
    closed = closed_classes(graph, class_of, rails, windings=True)
    branches, _ = view_branches(graph, class_of, {}, closed)
    present = frozenset(element.index for element in graph.elements)
    return View("wire", class_of, 0, rails, present, branches=branches)


def dc_view(graph: Graph, point: OperatingPoint, derived: Sequence[int] = ()) -> View:
    """What direct current sees: capacitors are gone; windings, chokes and beads are wires."""
    classes = Classes(len(graph.nets))
    fates: dict[int, str] = {}
    for element in graph.elements:
        if element.kind in COILS and len(element.nodes) == 2:
            fates[element.index] = "short"
            classes.join(element.nodes[0], element.nodes[1], element.index, "winding at direct current")
        elif element.kind in BLOCKING:
            fates[element.index] = "open"
    for winding in graph.windings:
        fates[winding.element] = "short"
        for a, b in zip(winding.nodes, winding.nodes[1:], strict=False):
            classes.join(a, b, winding.element, "winding at direct current")
    class_of = classes.table()
    rails = frozenset(class_of[node] for node in (0, *graph.rails, *derived))
    closed = closed_classes(graph, class_of, rails, windings=False)
    currents = {
        position: branch_current(branch, graph, point) for position, branch in enumerate(single_branches(graph))
    }
    branches, gone = view_branches(graph, class_of, fates, closed, currents)
    present = frozenset(element.index for element in graph.elements if element.index not in fates)
    return View("dc", class_of, class_of[0], rails, present, branches=branches, gone=gone, joints=tuple(classes.joints))
