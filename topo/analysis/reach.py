"""What direct current can reach: floating nets, and how far the influence of an unknown value goes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from topo.analysis.parameters import BIPOLAR, DIODES, JFETS, MOSFETS
from topo.analysis.resistances import Paths
from topo.graph.graph import Element, Graph

OPEN_ENDS = frozenset(("jack", "plug", "terminal", "microphone", "antenna"))


@dataclass
class Conduction:
    """Where direct current can flow, and what controls it without carrying any.

    `edges` are (element, node, node); `controls` are (element, control node, node that it acts on); `feeds` are ideal
    current sources, whose current needs a way back by the edges: they settle no voltage.
    """

    edges: list[tuple[int, int, int]] = field(default_factory=list)
    controls: list[tuple[int, int, int]] = field(default_factory=list)
    feeds: list[tuple[int, int, int]] = field(default_factory=list)


@dataclass(frozen=True)
class Floating:
    """Nets without a path for direct current to ground.

    `held` says that what is connected outside holds them; `minded` that a device touches them, so that something
    must be missing. Nets that are neither (an isolated winding and its load) have no voltage to know.
    """

    nodes: tuple[int, ...]
    pinned: int
    held: bool
    minded: bool


def conduction(graph: Graph, paths: Paths) -> Conduction:
    """All paths for direct current, resistive ones, sources and devices."""
    found = Conduction([(path.element, path.a, path.b) for path in paths.rows])
    for element in graph.elements:
        _conduct(element, found)
    found.edges += [(-1, graph.node_of[supply.net], 0) for supply in graph.circuit.supplies]
    return found


def _conduct(element: Element, found: Conduction) -> None:
    index, kind = element.index, element.kind
    if kind in DIODES or kind in ("battery", "source"):
        found.edges.append((index, element.nodes[0], element.nodes[1]))
    elif kind == "current":
        found.feeds.append((index, element.nodes[0], element.nodes[1]))
    elif kind in BIPOLAR:
        b, c, e = (element.node(name) for name in "bce")
        found.edges += [(index, b, e), (index, c, e)]
        found.controls.append((index, b, e))
    elif kind in JFETS or kind in MOSFETS:
        found.edges.append((index, element.node("d"), element.node("s")))
        found.controls.append((index, element.node("g"), element.node("s")))
    elif kind in ("triode", "tetrode", "pentode"):
        k = element.node("k")
        found.edges.append((index, element.node("a"), k))
        if kind != "triode":
            found.edges.append((index, element.node("g2"), k))
        found.controls.append((index, element.node("g" if kind == "triode" else "g1"), k))
    elif kind == "regulator":
        out, fed = element.node("out"), element.node("in")
        found.edges.append((index, out, 0))
        found.controls += [(index, fed, out), (index, element.node("common"), out), (index, out, fed)]
    elif kind == "opamp":
        out = element.node("out")
        pins = [element.node(name) for name in ("v+", "v-") if name in element.terminals]
        found.edges.append((index, out, 0))
        found.controls += [(index, node, out) for node in (element.node("in+"), element.node("in-"), *pins)]
        found.controls += [(index, out, pin) for pin in pins]


class Sets:
    """Sets of nodes joined by edges."""

    def __init__(self, count: int):
        self._parent = list(range(count))

    def first(self, node: int) -> int:
        """The lowest node of the set."""
        while self._parent[node] != node:
            self._parent[node] = self._parent[self._parent[node]]
            node = self._parent[node]
        return node

    def join(self, a: int, b: int) -> bool:
        """Makes one set of two; says whether they were two."""
        a, b = self.first(a), self.first(b)
        if a != b:
            self._parent[max(a, b)] = min(a, b)
        return a != b


def floating(graph: Graph, found: Conduction) -> list[Floating]:
    """Sets of nets that no direct current reaches from ground, in order; nets without any part are left out."""
    sets = Sets(len(graph.nets))
    for _, a, b in found.edges:
        sets.join(a, b)
    groups: dict[int, list[int]] = {}
    for node in range(1, len(graph.nets)):
        if sets.first(node) != sets.first(0):
            groups.setdefault(sets.first(node), []).append(node)
    references = [graph.node_of[port.reference] for port in _ports(graph) if port.reference in graph.node_of]
    ports = references + [graph.node_of[port.net] for port in _ports(graph) if port.net in graph.node_of]
    electrodes = {node for _, control, acted in found.controls for node in (control, acted)}
    rows = []
    for nodes in groups.values():
        pin = next((node for node in ports if node in nodes), nodes[0])
        port = pin in ports
        minded = bool(electrodes.intersection(nodes)) or _has_device(graph, nodes)
        held = not minded and (port or _is_open_end(graph, nodes))
        rows.append(Floating(tuple(nodes), pin, held, minded))
    return rows


def _ports(graph: Graph):
    return graph.circuit.inputs + graph.circuit.outputs


def _has_device(graph: Graph, nodes: Iterable[int]) -> bool:
    devices = (*BIPOLAR, *DIODES, "battery", "source", "current", "regulator", "opamp")
    return any(graph.elements[index].kind in devices for node in nodes for index, _ in graph.at_node[node])


def _is_open_end(graph: Graph, nodes: list[int]) -> bool:
    """Whether a set of nets is an end of the drawn circuit: a connector, a transducer or one lonely terminal."""
    attached = [(index, terminal) for node in nodes for index, terminal in graph.at_node[node]]
    if any(graph.elements[index].kind in OPEN_ENDS for index, _ in attached):
        return True
    return any(len(graph.at_node[node]) <= 1 for node in nodes)


def influenced(graph: Graph, found: Conduction, sources: Iterable[int], rails: Iterable[int]) -> set[int]:
    """Nodes whose voltage may depend on the given nodes' surroundings.

    Ideal rails part the circuit into blocks; a control terminal carries influence one way only, from the block
    that it lies in to the block that its device acts on.

    Args:
        sources: nodes at the terminals of what is not known.
        rails: nodes with a fixed and known voltage; they are never influenced.
    """
    fixed = {0, *rails}
    sets = Sets(len(graph.nets))
    for _, a, b in found.edges:
        if a not in fixed and b not in fixed:
            sets.join(a, b)
    onward: dict[int, list[int]] = {}
    for element, control, acted in found.controls:
        if control not in fixed:
            onward.setdefault(sets.first(control), []).extend(_acted_blocks(sets, fixed, element, acted, found))
    open_blocks = [sets.first(node) for node in sources if node not in fixed]
    reached: set[int] = set()
    while open_blocks:
        block = open_blocks.pop()
        if block not in reached:
            reached.add(block)
            open_blocks += onward.get(block, [])
    return {node for node in range(len(graph.nets)) if node not in fixed and sets.first(node) in reached}


def _acted_blocks(sets: Sets, fixed: set[int], device: int, acted: int, found: Conduction) -> list[int]:
    """Blocks that a controlled device acts on: those at all electrodes that carry its current."""
    nodes = {node for element, a, b in found.edges if element == device for node in (a, b)} | {acted}
    return sorted({sets.first(node) for node in nodes if node not in fixed})


def carries_nothing(graph: Graph, found: Conduction, element: int) -> bool:
    """Whether a two-terminal element is the only way for direct current to one of its ends, so that none flows."""
    sets = Sets(len(graph.nets))
    for index, a, b in (*found.edges, *found.feeds):
        if index != element:
            sets.join(a, b)
    nodes = graph.elements[element].nodes
    return len(nodes) == 2 and sets.first(nodes[0]) != sets.first(nodes[1])
