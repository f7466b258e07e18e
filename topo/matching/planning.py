"""The order in which a search binds roles and checks joins: rarest role first, then along nets, checks at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from topo.matching.constraints import Constraint
from topo.matching.index import DC, SIGNAL
from topo.matching.meeting import RAIL_SORTS
from topo.matching.pattern import Condition, Net


class Step(NamedTuple):
    """One step: bind `role` (`along` constraints, or from its whole bucket), check `constraint` or `condition`."""

    role: str = ""
    along: tuple[Constraint, ...] = ()
    constraint: Constraint | None = None
    condition: Condition | None = None


class Planner:
    """Makes the steps for some roles when others are bound already."""

    def __init__(self, nets: Mapping[str, Net], size_of: Callable[[str], int]) -> None:
        self.nets = nets
        self.size_of = size_of

    def plan(
        self,
        roles: Iterable[str],
        constraints: Sequence[Constraint],
        conditions: Sequence[Condition],
        bound_roles: Iterable[str] = (),
        bound_nets: Iterable[str] = (),
    ) -> tuple[Step, ...]:
        """Steps that bind `roles` and check all constraints and conditions, each as early as it can be."""
        steps: list[Step] = []
        left = list(dict.fromkeys(roles))
        bound = set(bound_roles)
        nets = set(bound_nets)
        open_constraints = list(constraints)
        open_conditions = list(conditions)
        self._settle(steps, bound, nets, open_constraints, open_conditions)
        while left:
            role, along = self._next(left, open_constraints, bound, nets)
            left.remove(role)
            bound.add(role)
            steps.append(Step(role=role, along=along))
            self._settle(steps, bound, nets, open_constraints, open_conditions)
        steps.extend(Step(constraint=constraint) for constraint in open_constraints)
        steps.extend(Step(condition=condition) for condition in open_conditions)
        return tuple(steps)

    def _settle(self, steps: list[Step], bound: set[str], nets: set[str], constraints: list[Constraint],
                conditions: list[Condition]) -> None:  # fmt: skip
        """Appends every check that has become possible; those that bind nothing first."""
        while True:
            for condition in [item for item in conditions if all(n in bound or n in nets for n in item.names)]:
                conditions.remove(condition)
                steps.append(Step(condition=condition))
            ready = [item for item in constraints if self._is_ready(item, bound, nets)]
            if not ready:
                return
            first = min(ready, key=lambda item: (self._cost(item, nets), item.number))
            constraints.remove(first)
            steps.append(Step(constraint=first))
            nets.update(first.nets)
            if first.may_lack:
                bound.add(first.through)

    def _is_ready(self, constraint: Constraint, bound: set[str], nets: set[str]) -> bool:
        if not all(role in bound for role in constraint.roles):
            return False
        if constraint.roles:
            return True
        return any(net in nets for net in constraint.nets)

    def _cost(self, constraint: Constraint, nets: set[str]) -> int:
        free = sum(1 for net in constraint.nets if net not in nets)
        return 4 * free + 2 * constraint.may_lack + constraint.lead

    def _next(
        self, left: list[str], constraints: list[Constraint], bound: set[str], nets: set[str]
    ) -> tuple[str, tuple[Constraint, ...]]:
        """The role to bind next: one that is reached over a net that is no rail, the rarest of those."""
        best: tuple[tuple[int, int, int], str, tuple[Constraint, ...]] | None = None
        for position, role in enumerate(left):
            along = [(self._reach(item, role, bound, nets), item) for item in constraints if self._names(item, role)]
            usable = [(rank, item) for rank, item in along if rank is not None]
            rank = min((rank for rank, _ in usable), default=3)
            chosen = tuple(item for found, item in usable if found == rank)
            key = (rank, self.size_of(role), position)
            if best is None or key < best[0]:
                best = (key, role, chosen)
        assert best is not None
        return best[1], best[2]

    def _names(self, constraint: Constraint, role: str) -> bool:
        return role in constraint.roles

    def _reach(self, constraint: Constraint, role: str, bound: set[str], nets: set[str]) -> int | None:
        """How well a constraint leads to a role: 0 along a net of its own, 1 along a rail, None not at all."""
        ranks = []
        if constraint.through == role:
            sides = [constraint.left, constraint.right]
        elif constraint.through and not constraint.may_lack:
            return 0 if constraint.through in bound and constraint.other_side(role) is not None else None
        else:
            other = constraint.other_side(role)
            sides = [] if other is None else [other]
        for spot in sides:
            if spot.sort == "terminal" and spot.name in bound:
                ranks.append(0)
            elif spot.sort == "net" and spot.name in nets:
                ranks.append(1 if self.nets[spot.name].sort != "signal" else 0)
        return min(ranks, default=None) if ranks else None


def follows_view(net: Net, view: int) -> int:
    """The view in which a net is looked up: rails are told apart in the DC view, not in the signal view."""
    return DC if view == SIGNAL and net.sort in RAIL_SORTS else view
