"""The search of one pattern on one index: a multiway join over the buckets of its roles."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from topo.errors import PatternError, Place, Problem
from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint
from topo.matching.evaluating import evaluate_truth
from topo.matching.groundwork import groundwork
from topo.matching.holding import Holding
from topo.matching.index import DC, SIGNAL, WIRE, Index
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
# So many orders of steps are kept for each shape.
KEPT_PLANS = 500


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
        # An author is told of each condition by itself.
        own = ground.own if trace is None else {}
        self.early = (
            ground.early if trace is None else [*ground.early, *(c for some in ground.own.values() for c in some)]
        )
        self.candidates = Candidates(index, pattern, ground, mirrored, only or {}, own)
        self.holding = Holding(index, self.meeting, self.candidates, ground.core_numbers)
        self.planner = Planner(ground.nets, self.candidates.count)
        self._scope = Scope(index, pattern, State(), mirrored)
        self._scope.spoken = None
        self._truths: dict[int, dict[tuple[object, ...], bool | None]] = {}
        self.steps_left = MOST_STEPS + MOST_STEPS_A_PART * len(index.views.graph.elements)

    def states(self) -> Iterator[State]:
        """Every state in which all that is required holds, with what is optional bound."""
        from topo.matching.finishing import Finish

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
        return self.plan(self.sorted.required, lambda: (self.core, self.early))

    def plan(
        self,
        roles: tuple[str, ...],
        checks: Callable[[], tuple[Sequence[Constraint], Sequence[Condition]] | None],
        bound_roles: tuple[str, ...] = (),
        bound_nets: tuple[str, ...] = (),
    ) -> tuple[Step, ...]:
        """The steps that bind roles when others are bound; made once for all circuits in which they come out alike.

        `checks` are the constraints and conditions, which follow from the rest; none where it cannot be done, then
        there are no steps.
        """
        places: tuple[int, ...] = ()
        if len(roles) > 1:
            # A plan depends on how the numbers of candidates compare, not on what they are.
            sizes = [len(self.candidates.of(name)) for name in roles]
            order = {size: place for place, size in enumerate(sorted(set(sizes)))}
            places = tuple([order[size] for size in sizes])
        key = (roles, bound_roles, bound_nets, places, self.trace is None)
        found = self.ground.plans.get(key)
        if found is None:
            what = checks()
            found = () if what is None else self.planner.plan(roles, *what, bound_roles, bound_nets)
            if len(self.ground.plans) >= KEPT_PLANS:
                self.ground.plans.clear()
            self.ground.plans[key] = found
        return found

    def solve(self, steps: tuple[Step, ...], position: int, state: State, taken: int | None = None) -> Iterator[State]:
        """States that pass all steps from a position on; `taken` are the atoms that roles may not bind."""
        while position < len(steps):
            self.steps_left -= 1
            if self.steps_left < 0:
                raise _too_loose(self.pattern)
            step = steps[position]
            position += 1
            if step.condition is not None:
                checked = self.check(step.condition, state)
                if checked is None:
                    return self._fail(position - 1, step, state)
                state = checked
            elif step.constraint is not None:
                held = self.holding.states(step.constraint, state)
                if len(held) != 1:
                    for new in held:
                        yield from self.solve(steps, position, new, taken)
                    return None if held else self._fail(position - 1, step, state)
                state = held[0]
            else:
                free = state.used if taken is None else taken
                things = [thing for thing in self._reached(step, state) if not thing.atoms & free]
                if len(things) != 1:
                    for thing in things:
                        yield from self.solve(steps, position, self.candidates.bind(state, step.role, thing), taken)
                    return None if things else self._fail(position - 1, step, state)
                state = self.candidates.bind(state, step.role, things[0])
        yield state
        return None

    def _fail(self, position: int, step: Step, state: State) -> None:
        if self.trace is not None:
            self.trace.failed(position, step, state)

    def check(self, condition: Condition, state: State) -> State | None:
        """The state if a condition does not fail, with a doubt noted where it cannot be decided."""
        scope = self._scope
        if id(condition) in self.ground.of_all:
            scope.state = state
            truth = evaluate_truth(condition.tree, scope)
            return state.with_doubt(condition.text) if truth is None else state if truth else None
        truths = self._truths.get(id(condition))
        if truths is None:
            form = self.ground.form(condition.tree, condition.names)
            truths = self._truths[id(condition)] = self.index.truths_of(form, self.mirrored)
        key: list[object] = []
        for name in condition.names:
            if name in self.roles:
                key.append(state.roles.get(name) or state.many.get(name))
            else:
                key += [state.nets.get((name, view)) for view in (WIRE, DC, SIGNAL)]
        told = tuple(key)
        if told in truths:
            truth = truths[told]
        else:
            scope.state = state
            truth = truths[told] = evaluate_truth(condition.tree, scope)
        return state.with_doubt(condition.text) if truth is None else state if truth else None

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
