"""On random small circuits the engine finds what networkx's isomorphism matcher finds."""

from __future__ import annotations

import math

import networkx
from hypothesis import given, settings
from hypothesis import strategies as st
from networkx.algorithms.isomorphism import GraphMatcher

from topo.analysis.operating_point import OperatingPoint
from topo.errors import Place
from topo.graph.graph import Element, Graph
from topo.matching.finding import find_matches
from topo.matching.index import Index
from topo.matching.joins import parse_join
from topo.matching.pattern import Net, Pattern, ReadingRule, Role, Shape
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.views.branches import single_branches
from topo.views.view import View, Views

TERMINALS = {"resistor": ("1", "2"), "capacitor": ("1", "2"), "diode": ("a", "k"), "npn": ("b", "c", "e")}
KINDS = st.sampled_from(sorted(TERMINALS))

# A part: its kind, and a number for each terminal that chooses a net.
PARTS = st.tuples(KINDS, st.tuples(*[st.integers(0, 5)] * 3))


def plain_views(parts: list[tuple[str, tuple[int, ...]]], nets: int) -> Views:
    """Views in which nothing is merged, decided or known: every view is the circuit as drawn. Node 0 is left alone."""
    names = ("gnd", *(f"n{number}" for number in range(nets)))
    elements = []
    for index, (kind, chosen) in enumerate(parts):
        terminals = TERMINALS[kind]
        nodes = tuple(1 + number % nets for number in chosen[: len(terminals)])
        part = Part(f"P{index}", kind, tuple(Terminal(t, names[n]) for t, n in zip(terminals, nodes, strict=True)))
        elements.append(Element(index, part.ref, kind, terminals, nodes, None, (part.ref,), part))
    circuit = Circuit(parts=tuple(element.part for element in elements), nets=names)
    graph = Graph(circuit, names, {name: i for i, name in enumerate(names)}, tuple(elements))
    unknown = tuple((math.nan,) * len(element.nodes) for element in elements)
    point = OperatingPoint(graph, "not solved", (math.nan,) * len(names), unknown)

    def view(name: str) -> View:
        classes, rails = tuple(range(len(names))), frozenset((0,))
        return View(name, classes, 0, rails, frozenset(range(len(elements))), branches=single_branches(graph))

    return Views(graph, point, view("wire"), view("dc"), (view("signal"),))


def pattern_of(parts: list[tuple[str, tuple[int, ...]]], nets: int) -> Pattern:
    """A pattern that asks for these parts on these nets, each part a role, each net a name."""
    joins, roles = [], []
    for index, (kind, chosen) in enumerate(parts):
        role, where = f"role {index}", [f"net {number % nets}" for number in chosen]
        roles.append(Role(role, (kind,)))
        if kind == "npn":
            texts = [f"{role}.{terminal} = {net}" for terminal, net in zip(("ctl", "col", "emt"), where, strict=True)]
        elif kind == "diode":
            texts = [f"{where[0]} -{role}> {where[1]}"]
        else:
            texts = [f"{where[0]} -{role}- {where[1]}"]
        joins += [parse_join(text, "wire", Place()) for text in texts]
    used = dict.fromkeys(spot.name for join in joins for spot in join.spots if spot.sort == "net")
    shape = Shape("", tuple(roles), tuple(Net(name) for name in used), tuple(joins), (), ())
    return Pattern("thing", "thing", {}, (), "coupling", "x", "x", ReadingRule(), (shape,))


def labelled(parts: list[tuple[str, tuple[int, ...]]], nets: int) -> networkx.Graph:
    """Part, terminal and net vertices with labels; the ends of parts without a direction have one label."""
    graph = networkx.Graph()
    for index, (kind, chosen) in enumerate(parts):
        graph.add_node(("part", index), label=kind)
        for terminal, number in zip(TERMINALS[kind], chosen, strict=False):
            label = f"{kind}.{'end' if terminal in '12' else terminal}"
            graph.add_node(("terminal", index, terminal), label=label)
            graph.add_node(("net", number % nets), label="net")
            graph.add_edge(("part", index), ("terminal", index, terminal))
            graph.add_edge(("terminal", index, terminal), ("net", number % nets))
    return graph


def by_networkx(circuit: networkx.Graph, pattern: networkx.Graph, count: int) -> set[tuple[int, ...]]:
    """For each monomorphism the parts bound to the pattern's parts, in their order."""
    matcher = GraphMatcher(circuit, pattern, node_match=lambda one, other: one["label"] == other["label"])
    found = set()
    for mapping in matcher.subgraph_monomorphisms_iter():
        turned = {value: key for key, value in mapping.items()}
        found.add(tuple(turned["part", index][1] for index in range(count)))
    return found


@settings(max_examples=250, deadline=None)
@given(
    st.lists(PARTS, min_size=1, max_size=9),
    st.integers(2, 6),
    st.lists(PARTS, min_size=1, max_size=4),
    st.integers(1, 4),
)
def test_the_engine_finds_the_monomorphisms_of_random_patterns(parts, nets, asked, names):
    index = Index(plain_views(parts, nets))

    found = find_matches(index, pattern_of(asked, names))

    ours = [tuple(int(match.roles[f"role {i}"][0][1:]) for i in range(len(asked))) for match in found]
    theirs = by_networkx(labelled(parts, nets), labelled(asked, names), len(asked))
    assert len(ours) == len(set(ours))
    assert set(ours) == theirs


@settings(max_examples=100, deadline=None)
@given(
    st.lists(PARTS, min_size=2, max_size=9),
    st.integers(2, 5),
    st.data(),
)
def test_the_engine_finds_a_piece_of_the_circuit_in_the_circuit(parts, nets, data):
    chosen = data.draw(st.lists(st.sampled_from(range(len(parts))), min_size=1, max_size=4, unique=True))
    piece = [(kind, tuple(number % nets for number in where)) for kind, where in (parts[i] for i in chosen)]

    found = find_matches(Index(plain_views(parts, nets)), pattern_of(piece, nets))

    ours = [tuple(int(match.roles[f"role {i}"][0][1:]) for i in range(len(piece))) for match in found]
    assert tuple(chosen) in ours
    assert set(ours) == by_networkx(labelled(parts, nets), labelled(piece, nets), len(piece))
