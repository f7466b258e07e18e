"""Where the wires of the signal view really lie.

A capacitor that is a short has both ends in one class of the signal view, so by classes it lies between any two nets of
that class. It counts only between nets at which its ends really are: told by the DC view, in which it is open.
"""

from __future__ import annotations

from collections.abc import Sequence

from topo.matching.constraints import Constraint
from topo.matching.index import DC, SIGNAL, Index
from topo.matching.pattern import Spot
from topo.matching.state import State
from topo.matching.things import Thing


def wires_lie_true(index: Index, constraints: Sequence[Constraint], state: State) -> bool:
    """Whether every bound two-terminal part that is a wire in the signal view has its ends where its joins say."""
    held: list[Constraint] | None = None
    for item in constraints:
        thing = state.roles.get(item.through) if item.through and item.view == SIGNAL else None
        if thing is None or not _is_wire(index, thing) or not _is_bound(item, state):
            continue
        if held is None:
            held = [other for other in constraints if _is_bound(other, state)]
        ends = [index.class_of[DC][thing.terminals[name]] for name in ("1", "2")]
        left, right = (_places(index, item, spot, held, state) for spot in (item.left, item.right))
        if not any((not left or a in left) and (not right or b in right) for a, b in (ends, ends[::-1])):
            return False
    return True


def _is_bound(constraint: Constraint, state: State) -> bool:
    if any(state.roles.get(role) is None for role in constraint.roles):
        return False
    return not constraint.through or state.roles.get(constraint.through) is not None


def _is_wire(index: Index, thing: Thing) -> bool:
    classes = index.class_of[SIGNAL]
    return "2" in thing.terminals and classes[thing.terminals["1"]] == classes[thing.terminals["2"]]


def _places(index: Index, wire: Constraint, spot: Spot, constraints: list[Constraint], state: State) -> frozenset[int]:
    """The DC classes at which a spot is found by other joins than that of a wire; empty where nothing tells."""
    if spot.sort == "literal":
        return frozenset()
    if spot.sort == "terminal":
        thing = state.roles.get(spot.name)
        return frozenset() if thing is None else frozenset((index.class_of[DC][thing.terminals[spot.terminal]],))
    found: set[int] = set()
    for item in constraints:
        if item is wire or spot not in (item.left, item.right):
            continue
        bound = state.nets.get((spot.name, item.view))
        if bound is None:
            continue
        if item.through:
            thing = state.roles.get(item.through)
            if thing is not None and not (item.view == SIGNAL and _is_wire(index, thing)):
                nodes = [thing.terminals[name] for name in ("1", "2")]
                found.update(index.class_of[DC][n] for n in nodes if index.class_of[item.view][n] == bound[0])
            continue
        other = item.right if item.left == spot else item.left
        thing = state.roles.get(other.name) if other.sort == "terminal" else None
        if thing is not None and other.terminal in thing.terminals:
            reached = index.reach(item.view, thing, other.terminal, item.limit) if item.lead else ()
            nodes = [node for cls, node, _ in reached if cls == bound[0]] or [thing.terminals[other.terminal]]
            found.update(index.class_of[DC][node] for node in nodes)
    return frozenset(found)
