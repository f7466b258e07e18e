"""The search of one pattern on one index: a multiway join over the buckets of its roles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from topo.errors import PatternError, Place, Problem
from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint, constraints_of
from topo.matching.evaluating import evaluate_truth
from topo.matching.holding import Holding
from topo.matching.index import Index
from topo.matching.lying import wires_lie_true
from topo.matching.meeting import Meeting
from topo.matching.pattern import Condition, Net, Pattern, Shape
from topo.matching.planning import Planner, Step, follows_view
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import Thing
from topo.matching.tracing import Trace

# A pattern that binds more often than this in one circuit says nothing (and would take long).
MOST_MATCHES = 2_000
# Steps that a search may take, and as many again for each part: shipped patterns take a few dozen a part.
MOST_STEPS, MOST_STEPS_A_PART = 100_000, 2_000


class Sorted(NamedTuple):
    """The roles of a shape by how they are bound: searched for, left to an optional link, optional, many."""

    required: tuple[str, ...]
    linked: tuple[str, ...]
    optional: tuple[str, ...]
    many: tuple[str, ...]


class Search:
    """Finds the states in which a shape of a pattern holds.

    `dropped` leaves out the join at that place. `only` restricts roles to things that hold one of some designators.
    `trace` is told of every step that failed, with the state before it. `fresh_nets` may be one with other nets.
    """

    def __init__(
        self,
        index: Index,
        pattern: Pattern,
        shape: Shape,
        mirrored: bool = False,
        dropped: int | None = None,
        only: Mapping[str, frozenset[str]] | None = None,
        trace: Trace | None = None,
        fresh_nets: tuple[str, ...] = (),
    ) -> None:
        self.index = index
        self.pattern = pattern
        self.shape = shape
        self.mirrored = mirrored
        self.trace = trace
        self.roles = {role.name: role for role in shape.roles}
        self.constraints = constraints_of(shape.joins, dropped)
        self.sorted = _sort_roles(shape, self.constraints)
        loose = {*self.sorted.many, *self.sorted.optional}
        self.core = [item for item in self.constraints if not loose & {*item.roles, item.through}]
        nets, pairs = _nets_and_pairs(shape, self.constraints)
        pairs += [frozenset((fresh, other)) for fresh in fresh_nets for other in nets]
        pairs += [frozenset(pair) for pair in pattern.coincide]
        self.meeting = Meeting(index, nets, frozenset(pairs), frozenset(frozenset(pair) for pair in pattern.distinct))
        for item in self.core:
            for net in item.nets:
                self.meeting.views_of.setdefault(net, set()).add(follows_view(nets[net], item.view))
        self.candidates = Candidates(index, pattern, shape, mirrored, only or {})
        self.steps_left = MOST_STEPS + MOST_STEPS_A_PART * len(index.views.graph.elements)
        self.holding = Holding(index, self.meeting, self.candidates, frozenset(item.number for item in self.core))
        self.planner = Planner(nets, lambda role: len(self.candidates.of(role)))
        self.where = [_with_names_of_figures(item, pattern) for item in shape.where]
        many = set(self.sorted.many)
        self.late = [item for item in self.where if _asks_what_is_bound(item) or many & set(item.names)]

    def scope(self, state: State) -> Scope:
        """What expressions may look at in a state."""
        return Scope(self.index, self.pattern, state, self.mirrored)

    def states(self) -> Iterator[State]:
        """Every state in which all that is required holds, with what is optional bound."""
        from topo.matching.finishing import Finish

        for name in self.sorted.required:
            if not self.candidates.of(name):
                if self.trace is not None:
                    self.trace.lacks(self.roles[name])
                return
        finish = Finish(self)
        count = 0
        for state in self.solve(self.steps(), 0, State()):
            finished = finish.of(state)
            if finished is not None:
                yield finished
                count += 1
                if count >= MOST_MATCHES:
                    return

    def steps(self) -> tuple[Step, ...]:
        """The steps that bind what is required."""
        loose = {*self.sorted.many, *self.sorted.optional}
        late = {id(item) for item in self.late}
        early = [item for item in self.where if id(item) not in late and not loose & set(item.names)]
        return self.planner.plan(self.sorted.required, self.core, early)

    def solve(self, steps: tuple[Step, ...], position: int, state: State, taken: int | None = None) -> Iterator[State]:
        """States that pass all steps from a position on; `taken` are the atoms that roles may not bind."""
        if position == len(steps):
            yield state
            return
        self.steps_left -= 1
        if self.steps_left < 0:
            raise _too_loose(self.pattern)
        passed = False
        for new in self._take(steps[position], state, state.used if taken is None else taken):
            passed = True
            yield from self.solve(steps, position + 1, new, taken)
        if not passed and self.trace is not None:
            self.trace.failed(position, steps[position], state)

    def _take(self, step: Step, state: State, taken: int) -> Iterator[State]:
        if step.condition is not None:
            new = self.check(step.condition, state)
            if new is not None:
                yield new
        elif step.constraint is not None:
            yield from self.holding.states(step.constraint, state)
        else:
            for thing in self._reached(step, state):
                if not thing.atoms & taken:
                    yield self.candidates.bind(state, step.role, thing)

    def check(self, condition: Condition, state: State) -> State | None:
        """The state if a condition does not fail, with a doubt noted where it cannot be decided."""
        truth = evaluate_truth(condition.tree, self.scope(state))
        if truth is None:
            return state.with_doubt(condition.text)
        return state if truth else None

    def _reached(self, step: Step, state: State) -> list[Thing]:
        """The candidates of a role that the joins on the way to it can reach."""
        best: list[Thing] | None = None
        for constraint in step.along:
            found = self.holding.along(constraint, step.role, state)
            if found is not None and (best is None or len(found) < len(best)):
                best = found
        return self.candidates.of(step.role) if best is None else self.candidates.among(step.role, best)

    def is_sound(self, constraints: list[Constraint], state: State) -> bool:
        """Whether parts that are shorts for the signal lie where their joins say."""
        return wires_lie_true(self.index, constraints, state)


def _too_loose(pattern: Pattern) -> PatternError:
    message = f"The pattern `{pattern.slug}` can be laid into this circuit in too many ways to try."
    expected = "joins by nets that are no rails between its roles, so that each leads to the next"
    return PatternError((Problem(Place(pattern.file), message, expected, code="too-loose"),))


def _sort_roles(shape: Shape, constraints: list[Constraint]) -> Sorted:
    linked = {item.through for item in constraints if item.may_lack}
    many = tuple(role.name for role in shape.roles if role.many)
    optional = tuple(role.name for role in shape.roles if role.optional and not role.many and role.name not in linked)
    apart = {*many, *optional, *linked}
    required = tuple(role.name for role in shape.roles if role.name not in apart)
    return Sorted(required, tuple(role.name for role in shape.roles if role.name in linked), optional, many)


def _nets_and_pairs(shape: Shape, constraints: list[Constraint]) -> tuple[dict[str, Net], list[frozenset[str]]]:
    """The nets of a shape, and those that are one net where an optional part between them is absent.

    A net beside such a part may then be whatever the net or word on its other side is.
    """
    nets = {net.name: net for net in shape.nets}
    pairs = []
    for item in (item for item in constraints if item.may_lack):
        for one, other in ((item.left, item.right), (item.right, item.left)):
            if one.sort != "net" or nets[one.name].sort != "signal":
                continue
            if other.sort == "literal" or (other.sort == "net" and nets[other.name].sort != "signal"):
                nets[one.name] = nets[one.name]._replace(sort="any")
        if item.left.sort == item.right.sort == "net":
            pairs.append(frozenset((item.left.name, item.right.name)))
    return nets, pairs


def _with_names_of_figures(condition: Condition, pattern: Pattern) -> Condition:
    """A condition that also names what the figures in it speak of."""
    figures = {figure.name: figure.names for figure in pattern.figures}
    names: dict[str, None] = {}
    queue = list(condition.names)
    while queue:
        name = queue.pop(0)
        if name not in names:
            names[name] = None
            queue.extend(figures.get(name, ()))
    return condition._replace(names=tuple(name for name in names if name not in figures))


def _asks_what_is_bound(condition: Condition) -> bool:
    """Whether a condition asks what is bound, or what else there is, and so has to be checked when all is bound."""
    shown = repr(condition.tree)
    return "'bound'" in shown or "'alone'" in shown
