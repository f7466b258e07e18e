"""The same four patterns found by general graph libraries: networkx, igraph (LAD and VF2) and rustworkx (with its own
order of vertices, and with that of the graph).

Parts, nets and labelled terminals are vertices, each with a label as its colour; what is looked for is every
label-preserving subgraph monomorphism. With the rails cut out for them, rails are no vertices, and each part's label
says which of its terminals are on which rail. Each search runs in a process of its own, which is ended at its limit.
"""

from __future__ import annotations

import multiprocessing
import time
from typing import NamedTuple

from tests.bench.wiring import RAILS, Wiring, labels_of

LIBRARIES = ("rustworkx", "rustworkx, in order", "igraph LAD", "igraph VF2", "networkx")


class Drawn(NamedTuple):
    """A graph with labelled vertices, and its edges."""

    labels: list[str]
    edges: list[tuple[int, int]]


def drawn(parts: list[tuple[str, list[tuple[str, str]]]], cut: bool) -> Drawn:
    """The graph of parts (kind, and label and net of each terminal), the rails in it or cut out."""
    labels: list[str] = []
    edges: list[tuple[int, int]] = []
    vertex: dict[str, int] = {}

    def add(label: str) -> int:
        labels.append(label)
        return len(labels) - 1

    for kind, terminals in parts:
        held = sorted(f"{label}@{net}" for label, net in terminals if net in RAILS) if cut else ()
        own = add(" ".join((kind, *held)))
        for label, net in terminals:
            if cut and net in RAILS:
                continue
            if net not in vertex:
                vertex[net] = add(net if net in RAILS else "net")
            at = own
            if label:
                at = add(f"{kind}.{label}")
                edges.append((own, at))
            edges.append((at, vertex[net]))
    return Drawn(labels, edges)


def drawn_circuit(circuit, cut: bool) -> Drawn:
    """The graph of a circuit."""
    rows = []
    for part in circuit.parts:
        labels = labels_of(part.kind, tuple(terminal.name for terminal in part.terminals))
        kind = "capacitor" if part.kind == "electrolytic" else part.kind
        rows.append((kind, list(zip(labels, (terminal.net for terminal in part.terminals), strict=True))))
    return drawn(rows, cut)


def drawn_pattern(wiring: Wiring, cut: bool) -> Drawn:
    """The graph of a pattern."""
    return drawn([(part.kind, list(part.terminals)) for part in wiring.parts], cut)


def _networkx(whole: Drawn, parts: Drawn) -> tuple[float, int]:
    import networkx
    from networkx.algorithms.isomorphism import GraphMatcher, categorical_node_match

    graphs = []
    for item in (whole, parts):
        graph = networkx.Graph()
        graph.add_nodes_from((number, {"label": label}) for number, label in enumerate(item.labels))
        graph.add_edges_from(item.edges)
        graphs.append(graph)
    start = time.process_time()
    matcher = GraphMatcher(*graphs, node_match=categorical_node_match("label", None))
    return start, sum(1 for _ in matcher.subgraph_monomorphisms_iter())


def _rustworkx(whole: Drawn, parts: Drawn, in_order: bool = False) -> tuple[float, int]:
    import rustworkx

    graphs = []
    for item in (whole, parts):
        graph = rustworkx.PyGraph()
        graph.add_nodes_from(item.labels)
        graph.add_edges_from_no_data(item.edges)
        graphs.append(graph)
    start = time.process_time()
    found = rustworkx.vf2_mapping(
        *graphs, node_matcher=lambda a, b: a == b, subgraph=True, induced=False, id_order=in_order
    )
    return start, sum(1 for _ in found)


def _rustworkx_in_order(whole: Drawn, parts: Drawn) -> tuple[float, int]:
    return _rustworkx(whole, parts, True)


def _igraph(whole: Drawn, parts: Drawn):
    import igraph

    number: dict[str, int] = {}
    graphs, colours = [], []
    for item in (whole, parts):
        graphs.append(igraph.Graph(n=len(item.labels), edges=item.edges))
        colours.append([number.setdefault(label, len(number)) for label in item.labels])
    return graphs, colours


def _igraph_vf2(whole: Drawn, parts: Drawn) -> tuple[float, int]:
    graphs, colours = _igraph(whole, parts)
    start = time.process_time()
    return start, graphs[0].count_subisomorphisms_vf2(graphs[1], color1=colours[0], color2=colours[1])


def _igraph_lad(whole: Drawn, parts: Drawn) -> tuple[float, int]:
    graphs, colours = _igraph(whole, parts)
    start = time.process_time()
    places: dict[int, list[int]] = {}
    for vertex, colour in enumerate(colours[0]):
        places.setdefault(colour, []).append(vertex)
    domains = [places.get(colour, []) for colour in colours[1]]
    return start, len(graphs[0].get_subisomorphisms_lad(graphs[1], domains=domains, induced=False))


_SEARCHES = {
    "networkx": _networkx,
    "rustworkx": _rustworkx,
    "rustworkx, in order": _rustworkx_in_order,
    "igraph VF2": _igraph_vf2,
    "igraph LAD": _igraph_lad,
}


def _work(library: str, whole: Drawn, parts: Drawn, pipe) -> None:
    start, count = _SEARCHES[library](whole, parts)
    pipe.send((time.process_time() - start, count))
    pipe.close()


def search(library: str, whole: Drawn, wiring: Wiring, cut: bool, limit: float) -> tuple[float, int] | None:
    """Seconds of a library's search of one pattern, its graphs made, and how many classes it finds; None beyond the
    limit in seconds."""
    context = multiprocessing.get_context("fork")
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_work, args=(library, whole, drawn_pattern(wiring, cut), sender))
    process.start()
    sender.close()
    try:
        if not receiver.poll(limit):
            return None
        seconds, count = receiver.recv()
        return seconds, count // wiring.symmetry
    except EOFError:
        return None
    finally:
        process.terminate()
        process.join()
