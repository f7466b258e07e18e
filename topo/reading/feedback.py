"""The sign of a feedback path: its return point is driven alone, and one looks which way the output goes."""

from __future__ import annotations

from collections.abc import Sequence

from topo.graph.graph import Element, Graph
from topo.reading.claims import Claim
from topo.views.view import View, Views

# Less of the drive than this at the output, and the loop's sign says nothing.
_LEAST_TRANSFER = 1e-6
# Under this share of the part a quarter turn away, what moves in step says nothing of the sign: the loop's gain falls
# over the whole band, and a quarter turn of lag belongs to a loop that turns round at direct current.
_QUARTER_TURN = 0.1


def loop_ends(claim: Claim, graph: Graph, view: View, along: Sequence[int]) -> tuple[int, int] | None:
    """The nodes (output side, return side) of a feedback claim's path; None if it has no two live ends.

    The path's own parts are those with both ends away from 0, and apart; the output side is the one that lies
    further along the signal's way (the return may lie beside it, as the second base of a long-tailed pair does).

    Args:
        along: the nodes of the signal's way, in order.
    """
    place: dict[int, int] = {}
    for number, node in enumerate(along):
        place.setdefault(view.class_of[node], number)
    own = sorted({graph.element_of[ref] for ref in claim.given if ref in graph.element_of})
    for chain in _chains([graph.elements[index] for index in own], view):
        ends = [(place.get(cls, -1), nodes[0]) for cls, nodes in chain.items() if len(nodes) == 1]
        if len(ends) == 2 and max(ends)[0] >= 0:
            (_, returned), (_, output) = sorted(ends)
            return output, returned
    return None


def _chains(elements: Sequence[Element], view: View) -> list[dict[int, list[int]]]:
    """Two-ended parts away from 0 in sets that hang together: for each class of a set, the nodes of the ends on it."""
    found: list[dict[int, list[int]]] = []
    for element in elements:
        classes = [view.class_of[node] for node in element.nodes]
        if len(classes) != 2 or classes[0] == classes[1] or view.zero in classes:
            continue
        joined: dict[int, list[int]] = {}
        for chain in [chain for chain in found if set(classes) & set(chain)]:
            found.remove(chain)
            joined |= chain
        for node, cls in zip(element.nodes, classes, strict=True):
            joined[cls] = [*joined.get(cls, []), node]
        found.append(joined)
    return found


def loop_sign(claim: Claim, views: Views, along: Sequence[int]) -> str:
    """ "negative", "positive", "undecided" (a device in the loop does not act), or "" where there is no loop to try."""
    view = views.signals[claim.match.band]
    linear = views.linears[claim.match.band] if claim.match.band < len(views.linears) else None
    ends = loop_ends(claim, views.graph, view, along)
    if ends is None or linear is None or view.middle is None:
        return ""
    spoken_of = sorted(claim.devices | claim.witnessed)
    states = [views.point.states.get(index, "on") for index in spoken_of if index not in views.driven]
    if any(state not in ("on", "") for state in states):
        return "undecided"
    output, returned = ends
    volts = linear.response(view.middle, {returned: 1.0})
    if not abs(volts[returned]):
        return "undecided"
    ratio = volts[output] / volts[returned]
    if abs(ratio) >= _LEAST_TRANSFER and abs(ratio.real) < _QUARTER_TURN * abs(ratio.imag):
        return "negative" if ratio.imag > 0 else "positive"
    if abs(ratio.real) < _LEAST_TRANSFER:
        return "undecided"
    return "negative" if ratio.real < 0 else "positive"
