"""Whether a constraint holds in a state, and which things a constraint leads to from what is bound."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint
from topo.matching.index import Index
from topo.matching.kinds import DEVICE_GROUPS, DIODES
from topo.matching.meeting import Meeting, Side
from topo.matching.pattern import Spot
from topo.matching.state import State
from topo.matching.things import Thing

DIRECTED = frozenset((*DIODES, *DEVICE_GROUPS["amplifying"]))


class Holding:
    """The constraints of one pattern on one index. `core` are the numbers of those of required roles alone."""

    def __init__(self, index: Index, meeting: Meeting, candidates: Candidates, core: frozenset[int]) -> None:
        self.index = index
        self.meeting = meeting
        self.candidates = candidates
        self.core = core

    def states(self, constraint: Constraint, state: State) -> Iterator[State]:
        """States in which a constraint holds; it holds where a role that it needs was left out."""
        left, right = self._side(constraint.left, state), self._side(constraint.right, state)
        if left is None or right is None:
            if any(name in state.roles and state.roles[name] is None for name in constraint.roles):
                yield state
            return
        weak = constraint.number not in self.core
        if not constraint.through:
            yield from self._directly(constraint, state, left, right, weak, constraint.lead)
        elif not constraint.may_lack:
            thing = state.roles.get(constraint.through)
            if thing is not None:
                yield from self._through(constraint, thing, state, left, right, weak)
        else:
            yield from self._perhaps_through(constraint, state, left, right, weak)

    def _perhaps_through(
        self, constraint: Constraint, state: State, left: Side, right: Side, weak: bool
    ) -> Iterator[State]:
        """States in which two spots meet directly, the optional role left out, or through something bound to it."""
        name = constraint.through
        bound = state.roles.get(name)
        if bound is not None:
            through = list(self._through(constraint, bound, state, left, right, weak))
            yield from through or self._directly(constraint, state, left, right, weak, False)
            return
        for new in self._directly(constraint, state, left, right, weak, False):
            yield new if name in new.roles else new.with_role(name, None)
        if name not in state.roles:
            for thing in self._between(constraint, state):
                if not thing.atoms & state.used:
                    new = self.candidates.bind(state, name, thing)
                    yield from self._through(constraint, thing, new, left, right, weak)

    def _directly(
        self, constraint: Constraint, state: State, left: Side, right: Side, weak: bool, lead: bool
    ) -> Iterator[State]:
        limit = constraint.limit if lead else None
        return self.meeting.meet(state, constraint.number, constraint.view, left, right, lead, limit, weak)

    def _through(
        self, constraint: Constraint, thing: Thing, state: State, left: Side, right: Side, weak: bool
    ) -> Iterator[State]:
        """States in which a thing lies between two spots, in either direction or in the one that is asked for."""
        view, number, meet = constraint.view, constraint.number, self.meeting.meet
        if "2" not in thing.terminals or self.index.is_gone(view, thing):
            return
        ends = [("1", "2"), ("2", "1")]
        if constraint.direction and thing.kind in DIRECTED:
            forward = (constraint.direction == ">") != self.candidates.mirrored
            ends = [("a", "k") if forward else ("k", "a")]
        for first, second in ends:
            for new in meet(state, number, view, left, ("terminal", thing, first), False, None, weak):
                yield from meet(new, number, view, ("terminal", thing, second), right, False, None, weak)

    def _side(self, spot: Spot, state: State) -> Side | None:
        if spot.sort != "terminal":
            return (spot.sort, spot.name, "")
        thing = state.roles.get(spot.name)
        return None if thing is None else ("terminal", thing, spot.terminal)

    # -- from what is bound to what may be ------------------------------------------------------------------------

    def along(self, constraint: Constraint, name: str, state: State) -> list[Thing] | None:
        """Things of a role's bucket at the classes from which a constraint comes; None where it comes from nothing."""
        bucket = self.candidates.bucket(name)
        view = constraint.view
        if constraint.through and constraint.through != name:
            thing = state.roles.get(constraint.through)
            if thing is None:
                return None
            table = bucket.at(view, constraint.terminal_of(name))
            return _rows(table, [self.index.class_of[view][thing.terminals[end]] for end in ("1", "2")])
        if constraint.through == name:
            table, spots = bucket.at(view, ""), [constraint.left, constraint.right]
        else:
            terminal = constraint.terminal_of(name)
            table = bucket.reaching(view, terminal, constraint.limit) if constraint.lead else bucket.at(view, terminal)
            other = constraint.other_side(name)
            spots = [] if other is None else [other]
        return self._fewest(table, spots, constraint, state)

    def _fewest(
        self, table: Mapping[int, list[Thing]], spots: list[Spot], constraint: Constraint, state: State
    ) -> list[Thing] | None:
        """The things at the spot where there are the fewest: a net, not the rail at the other end."""
        best: list[Thing] | None = None
        for spot in spots:
            classes = self._classes(spot, constraint, state)
            if classes is not None:
                rows = _rows(table, classes)
                if best is None or len(rows) < len(best):
                    best = rows
        return best

    def _between(self, constraint: Constraint, state: State) -> list[Thing]:
        """Things that may stand in an optional link, at the side that is bound."""
        name = constraint.through
        table = self.candidates.bucket(name).at(constraint.view, "")
        rows = self._fewest(table, [constraint.left, constraint.right], constraint, state)
        return self.candidates.of(name) if rows is None else self.candidates.among(name, rows)

    def _classes(self, spot: Spot, constraint: Constraint, state: State) -> list[int] | None:
        """The classes on which a bound spot is or which it reaches; None where it is not bound."""
        if spot.sort == "terminal":
            thing = state.roles.get(spot.name)
            if thing is None or spot.terminal not in thing.terminals:
                return None
            if constraint.lead:
                reached = self.index.reach(constraint.view, thing, spot.terminal, constraint.limit)
                return [cls for cls, _, _ in reached]
            return [self.index.class_of[constraint.view][thing.terminals[spot.terminal]]]
        if spot.sort == "net":
            options = self.meeting.net_options(state, spot.name, constraint.view)
            return [cls for cls, _ in options] or None
        return None


def _rows(table: Mapping[int, list[Thing]], classes: list[int]) -> list[Thing]:
    """The things of some classes, each once."""
    if len(classes) == 1:
        return table.get(classes[0], [])
    found: dict[int, Thing] = {}
    for cls in classes:
        for thing in table.get(cls, ()):
            found.setdefault(id(thing), thing)
    return list(found.values())
