"""Whether a constraint holds in a state, and which things a constraint leads to from what is bound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.matching.buckets import ways
from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint
from topo.matching.index import Index
from topo.matching.meeting import Meeting
from topo.matching.pattern import Spot
from topo.matching.state import State
from topo.matching.things import Thing


class Holding:
    """The constraints of one pattern on one index. `core` are the numbers of those of required roles alone."""

    def __init__(self, index: Index, meeting: Meeting, candidates: Candidates, core: frozenset[int]) -> None:
        self.index = index
        self.meeting = meeting
        self.candidates = candidates
        self.core = core

    def states(self, constraint: Constraint, state: State) -> Sequence[State]:
        """States in which a constraint holds; it holds where a role that it needs was left out."""
        roles = state.roles
        for name in constraint.ended:
            if roles.get(name) is None:
                left_out = any(name in roles and roles[name] is None for name in constraint.roles)
                return (state,) if left_out else ()
        weak = constraint.number not in self.core
        if not constraint.through:
            return self._directly(constraint, state, weak, constraint.lead)
        if constraint.may_lack:
            return self._perhaps_through(constraint, state, weak)
        thing = roles.get(constraint.through)
        return () if thing is None else self._through(constraint, thing, state, weak)

    def _perhaps_through(self, constraint: Constraint, state: State, weak: bool) -> Sequence[State]:
        """States in which two spots meet directly, the optional role left out, or through something bound to it."""
        name = constraint.through
        bound = state.roles.get(name)
        if bound is not None:
            return self._through(constraint, bound, state, weak) or self._directly(constraint, state, weak, False)
        directly = self._directly(constraint, state, weak, False)
        found = [new if name in new.roles else new.with_role(name, None) for new in directly]
        if name not in state.roles:
            for thing in self._between(constraint, state):
                if not thing.atoms & state.used:
                    new = self.candidates.bind(state, name, thing)
                    found += self._through(constraint, thing, new, weak)
        return found

    def _directly(self, constraint: Constraint, state: State, weak: bool, lead: bool) -> Sequence[State]:
        left, right, view = constraint.left, constraint.right, constraint.view
        if left.sort != "terminal" and right.sort != "terminal":
            return self.meeting.meet_nets(state, view, left, right, weak)
        if left.sort != "terminal":
            left, right = right, left
        thing = state.roles[left.name]
        assert thing is not None
        if lead:
            return self.meeting.reach(state, constraint.number, view, thing, left, right, constraint.limit, weak)
        node = thing.terminals.get(left.terminal)
        if node is None:
            return ()
        new = self.meeting.stand(state, view, node, thing.pins.get(left.terminal), right, weak)
        return () if new is None else (new,)

    def _through(self, constraint: Constraint, thing: Thing, state: State, weak: bool) -> Sequence[State]:
        """States in which a thing lies between two spots, in either direction or in the one that is asked for."""
        view, terminals, stand = constraint.view, thing.terminals, self.meeting.stand
        if "2" not in terminals or self.index.is_gone(view, thing):
            return ()
        direction = constraint.direction
        if direction and self.candidates.mirrored:
            direction = "<" if direction == ">" else ">"
        found: list[State] = []
        for first, second in ways(thing, direction):
            new = stand(state, view, terminals[first], thing.pins[first], constraint.left, weak)
            if new is not None:
                new = stand(new, view, terminals[second], thing.pins[second], constraint.right, weak)
                if new is not None:
                    found.append(new)
        return found

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
