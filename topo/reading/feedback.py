"""The sign of a feedback path: its return point is driven alone, and one looks which way the output goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.graph.graph import Graph
from topo.reading.claims import Claim
from topo.views.view import View, Views

# Less of the drive than this at the output, and the loop's sign says nothing.
_LEAST_TRANSFER = 1e-6


def loop_ends(
    claim: Claim, graph: Graph, view: View, powers: Mapping[int, Sequence[complex]]
) -> tuple[int, int] | None:
    """The nodes (output side, return side) of a feedback claim's path; None if it has no two live ends.

    The path's own parts are those with both ends away from 0; power goes in at the output side.
    """
    elements = [
        graph.elements[index] for index in sorted({graph.element_of[r] for r in claim.given if r in graph.element_of})
    ]
    series = [
        element
        for element in elements
        if len(element.nodes) == 2 and all(view.class_of[node] != view.zero for node in element.nodes)
    ]
    count: dict[int, int] = {}
    for element in series:
        for node in element.nodes:
            count[node] = count.get(node, 0) + 1
    ends = [node for node, times in count.items() if times == 1]
    if len(ends) != 2:
        return None
    taken = dict.fromkeys(ends, 0.0)
    for element in series:
        for node, power in zip(element.nodes, powers.get(element.index, ()), strict=False):
            if node in taken:
                taken[node] += power.real
    first, second = sorted(ends, key=lambda node: (-taken[node], node))
    return (first, second) if taken[first] > taken[second] else None


def loop_sign(claim: Claim, views: Views, powers: Mapping[int, Sequence[complex]]) -> str:
    """ "negative", "positive", "undecided" (a device in the loop does not act), or "" where there is no loop to try."""
    view = views.signals[claim.match.band]
    linear = views.linears[claim.match.band] if claim.match.band < len(views.linears) else None
    ends = loop_ends(claim, views.graph, view, powers)
    if ends is None or linear is None or view.middle is None:
        return ""
    states = [views.point.states.get(index, "on") for index in claim.devices | claim.witnessed]
    if any(state not in ("on", "") for state in states):
        return "undecided"
    output, returned = ends
    volts = linear.response(view.middle, {returned: 1.0})
    if not abs(volts[returned]):
        return "undecided"
    ratio = volts[output] / volts[returned]
    if abs(ratio.real) < _LEAST_TRANSFER:
        return "undecided"
    return "negative" if ratio.real < 0 else "positive"
