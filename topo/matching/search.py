"""The search of one pattern on one index: a multiway join over the buckets of its roles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from topo.errors import PatternError, Place, Problem
from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint
from topo.matching.evaluating import evaluate_truth
from topo.matching.groundwork import groundwork
from topo.matching.holding import Holding
from topo.matching.index import Index
from topo.matching.lying import wires_lie_true
from topo.matching.meeting import Meeting
from topo.matching.pattern import Condition, Pattern, Shape
from topo.matching.planning import Planner, Step
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import Thing
from topo.matching.tracing import Trace

# A pattern that binds more often than this in one circuit says nothing (and would take long).
MOST_MATCHES = 2_000
# Steps that a search may take, and as many again for each part: shipped patterns take a few dozen a part.
MOST_STEPS, MOST_STEPS_A_PART = 100_000, 2_000


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
        ground = groundwork(pattern, shape, dropped, fresh_nets)
        self.ground = ground
        self.roles = ground.roles
        self.constraints = ground.constraints
        self.sorted = ground.sorted
        self.core = ground.core
        self.where = ground.where
        self.late = ground.late
        self.meeting = Meeting(index, ground.nets, ground.coincide, ground.distinct, ground.views_of)
        self.candidates = Candidates(index, pattern, shape, mirrored, ground.directed, only or {})
        self.holding = Holding(index, self.meeting, self.candidates, ground.core_numbers)
        self.planner = Planner(ground.nets, lambda role: len(self.candidates.of(role)))
        self.steps_left = MOST_STEPS + MOST_STEPS_A_PART * len(index.views.graph.elements)

    def scope(self, state: State) -> Scope:
        """What expressions may look at in a state."""
        return Scope(self.index, self.pattern, state, self.mirrored)

    def states(self) -> Iterator[State]:
        """Every state in which all that is required holds, with what is optional bound."""
        from topo.matching.finishing import Finish

        if self.trace is None and not self.ground.structure.may_hold(self.index, self.candidates):
            return
        for name in self.sorted.required:
            if not self.candidates.of(name):
                if self.trace is not None:
                    self.trace.lacks(self.roles[name])
                return
        finish: Finish | None = None
        count = 0
        for state in self.solve(self.steps(), 0, State()):
            finish = finish or Finish(self)
            finished = finish.of(state)
            if finished is not None:
                yield finished
                count += 1
                if count >= MOST_MATCHES:
                    return

    def steps(self) -> tuple[Step, ...]:
        """The steps that bind what is required."""
        sizes = [len(self.candidates.of(name)) for name in self.sorted.required]
        # A plan depends on how the sizes compare, not on what they are.
        places = {size: place for place, size in enumerate(sorted(set(sizes)))}
        key = tuple([places[size] for size in sizes])
        found = self.ground.plans.get(key)
        if found is None:
            found = self.planner.plan(self.sorted.required, self.core, self.ground.early)
            self.ground.plans[key] = found
        return found

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
