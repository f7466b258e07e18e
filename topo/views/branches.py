"""The two-terminal edges of a view: single elements, halves of potentiometers, and chains of like elements.

A chain goes through classes that are empty in the view. A part that carries under a thousandth of the largest
current at a class does not keep it from being empty: with a grid leak on its joint, a tail of two resistors still is
one tail.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Element, Graph
from topo.views.kinds import CHAINABLE, TWO_ENDED
from topo.views.view import Branch

# Share of the largest current at a class that a part must carry to count as a branch of it.
NO_CURRENT_SHARE = 1e-3


def single_branches(graph: Graph) -> tuple[Branch, ...]:
    """Each two-terminal element, and each half of a potentiometer, as a branch between graph nodes.

    `ends` are the nodes themselves, as in the wire view; fate "kept". A potentiometer without a known total
    has halves of unknown value.
    """
    found: list[Branch] = []
    for element in graph.elements:
        if element.kind == "potentiometer" and len(element.nodes) == 3:
            found.extend(_halves(element))
        elif (element.kind in TWO_ENDED or element.kind == "potentiometer") and len(element.nodes) == 2:
            kind = "resistor" if element.kind == "potentiometer" else element.kind
            first = 1 if element.terminals[1] in ("a", "+") else 0
            ends = (element.nodes[first], element.nodes[1 - first])
            terminals = (element.terminals[first], element.terminals[1 - first])
            found.append(Branch(-1, kind, ends, (element.index,), element.value, None, ends, "kept", terminals))
    return tuple(found)


def _halves(element: Element) -> tuple[Branch, Branch]:
    """The two halves of a potentiometer at its wiper's place (the middle where that is not said)."""
    first, wiper, second = element.terminals
    at = element.part.settings.get("at")
    share = float(at) if isinstance(at, int | float) else 0.5
    total = element.value
    ref = element.members[0]
    halves = []
    for start, stop, part in ((first, wiper, share), (wiper, second, 1.0 - share)):
        ends = (element.node(start), element.node(stop))
        value = None if total is None else total * part
        halves.append(
            Branch(-1, "resistor", ends, (element.index,), value, (ref, start, stop), ends, "kept", (start, stop))
        )
    return halves[0], halves[1]


def branch_current(branch: Branch, graph: Graph, point: OperatingPoint) -> float:
    """|amperes| at DC through a single branch, NaN where not known."""
    element = graph.elements[branch.elements[0]]
    currents = point.currents[element.index] if element.index < len(point.currents) else ()
    if branch.part_of is not None:
        end = branch.part_of[1] if branch.part_of[2] == element.terminals[1] else branch.part_of[2]
        position = element.terminals.index(end)
    else:
        position = 0
    return abs(currents[position]) if position < len(currents) else math.nan


def view_branches(
    graph: Graph,
    class_of: Sequence[int],
    fates: Mapping[int, str],
    closed: frozenset[int],
    currents: Mapping[int, float] | None = None,
) -> tuple[tuple[Branch, ...], tuple[Branch, ...]]:
    """The edges of a view and those that are gone from it.

    Args:
        class_of: class of each node.
        fates: fate by element index, "kept" where not in it.
        closed: classes that are never empty (rails, ports, and whatever a device or a winding touches).
        currents: |amperes| by the position of the single branch, for the DC view; None elsewhere.
    Returns:
        (branches, gone): chains first, the longest first, then single elements in file order.
    """
    singles = single_branches(graph)
    edges: list[Branch] = []
    gone: list[Branch] = []
    flows: list[float] = []
    for position, single in enumerate(singles):
        fate = fates.get(single.elements[0], "kept")
        ends = (class_of[single.nodes[0]], class_of[single.nodes[1]])
        edge = replace(single, ends=ends, fate=fate)
        if fate == "open":
            gone.append(edge)
        else:
            edges.append(edge)
            flows.append(math.nan if currents is None else currents.get(position, math.nan))
    chains = _chains(edges, closed, flows if currents is not None else None)
    ordered = sorted(chains, key=lambda chain: -len(chain.elements)) + edges
    numbered = tuple(replace(branch, index=index) for index, branch in enumerate(ordered))
    return numbered, tuple(replace(branch, index=-1 - index) for index, branch in enumerate(gone))


def _chains(edges: Sequence[Branch], closed: frozenset[int], flows: Sequence[float] | None) -> list[Branch]:
    """Chains of two or more like edges about empty classes, each once, from its earlier end."""
    at: dict[int, list[int]] = {}
    for position, edge in enumerate(edges):
        if edge.ends[0] != edge.ends[1]:
            for end in edge.ends:
                at.setdefault(end, []).append(position)
    joints: dict[int, tuple[int, int]] = {}
    for cls, here in at.items():
        counted = here if flows is None else _carrying(here, flows)
        if cls in closed or len(counted) != 2:
            continue
        first, second = (edges[position] for position in counted)
        if first.kind == second.kind and first.kind in CHAINABLE:
            joints[cls] = (counted[0], counted[1])
    found: list[Branch] = []
    used: set[int] = set()
    for position, edge in enumerate(edges):
        if position in used:
            continue
        for start, onward in (edge.ends, edge.ends[::-1]):
            if position in joints.get(start, ()) or position not in joints.get(onward, ()):
                continue
            walk, last = _walk(edges, joints, position, onward)
            used.update(walk)
            if last != start:
                found.append(_chain(edges, walk, start))
            break
    return found


def _carrying(here: Sequence[int], flows: Sequence[float]) -> list[int]:
    """Those of the edges at a class that carry current worth the name there; unknown currents count."""
    largest = max((flows[position] for position in here if not math.isnan(flows[position])), default=0.0)
    return [position for position in here if not flows[position] < NO_CURRENT_SHARE * largest]


def _walk(
    edges: Sequence[Branch], joints: Mapping[int, tuple[int, int]], position: int, onward: int
) -> tuple[list[int], int]:
    """Positions met from an edge on through empty classes, and the class where the walk ends."""
    walk = [position]
    while position in joints.get(onward, ()):
        first, second = joints[onward]
        position = second if position == first else first
        if position in walk:
            break
        walk.append(position)
        ends = edges[position].ends
        onward = ends[1] if ends[0] == onward else ends[0]
    return walk, onward


def _chain(edges: Sequence[Branch], walk: Sequence[int], start: int) -> Branch:
    """One branch of the edges of a walk that begins at the class `start`."""
    cls = start
    nodes: list[int] = []
    names: list[str] = []
    for position in walk:
        edge = edges[position]
        forward = edge.ends[0] == cls
        nodes.extend(edge.nodes if forward else edge.nodes[::-1])
        names.extend(edge.terminals if forward else edge.terminals[::-1])
        cls = edge.ends[1] if forward else edge.ends[0]
    members = [edges[position] for position in walk]
    kind = members[0].kind
    values = [member.value for member in members]
    value: float | None = None
    if all(item is not None for item in values):
        known = [item for item in values if item is not None]
        if kind != "capacitor":
            value = sum(known)
        elif all(item > 0 for item in known):
            value = 1.0 / sum(1.0 / item for item in known)
    elements = tuple(dict.fromkeys(index for member in members for index in member.elements))
    return Branch(-1, kind, (start, cls), elements, value, None, (nodes[0], nodes[-1]), "kept", (names[0], names[-1]))
