"""The search of one pattern on one index: a multiway join over the buckets of its roles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from itertools import combinations

from topo.graph.graph import Element
from topo.matching.constraints import Constraint, constraints_of
from topo.matching.evaluating import evaluate_truth
from topo.matching.index import DC, SIGNAL, Bucket, Index
from topo.matching.kinds import COILS, DEVICE_GROUPS, DIODES, ELECTRODES
from topo.matching.lying import wires_lie_true
from topo.matching.meeting import Meeting, Side
from topo.matching.pattern import Condition, Exclusion, Net, Pattern, Role, Shape, Spot
from topo.matching.planning import Planner, Step, follows_view
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import Thing

# A pattern that binds more often than this in one circuit says nothing (and would take long).
MOST_MATCHES = 2_000


class Search:
    """Finds the states in which a shape of a pattern holds.

    `dropped` leaves out the join at that place. `only` restricts roles to things that hold one of some designators.
    `trace` is told of every step that failed, with the state before it, and how far it was.
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
    ) -> None:
        self.index = index
        self.pattern = pattern
        self.shape = shape
        self.mirrored = mirrored
        self.only = only or {}
        self.trace = trace
        self.roles = {role.name: role for role in shape.roles}
        self.constraints = constraints_of(shape.joins, dropped)
        nets, joint = _nets_and_pairs(shape, self.constraints)
        coincide = frozenset([*joint, *(frozenset(pair) for pair in pattern.coincide)])
        self.meeting = Meeting(index, nets, coincide, frozenset(frozenset(pair) for pair in pattern.distinct))
        self.planner = Planner(nets, lambda role: len(self.candidates(role)))
        self._candidates: dict[str, list[Thing]] = {}
        self._doubtful: dict[str, set[int]] = {}
        self.many = [role.name for role in shape.roles if role.many]
        lacking = {item.through for item in self.constraints if item.may_lack}
        self.lacking = lacking
        self.optional = [
            role.name for role in shape.roles if role.optional and not role.many and role.name not in lacking
        ]
        apart = {*self.many, *self.optional, *lacking}
        self.required = [role.name for role in shape.roles if role.name not in apart]
        loose = {*self.many, *self.optional}
        self.core = [item for item in self.constraints if not loose & {*item.roles, item.through}]
        for item in self.core:
            for net in item.nets:
                self.meeting.views_of.setdefault(net, set()).add(follows_view(nets[net], item.view))

    # -- candidates -----------------------------------------------------------------------------------------------

    def bucket(self, role: Role) -> Bucket:
        kinds = role.kinds
        if self.mirrored:
            kinds = tuple(_TURNED.get(kind, kind) for kind in kinds)
        return self.index.bucket(kinds, role.make, role.tapped, role.name in self._directed)

    @cached_property
    def _directed(self) -> set[str]:
        """Roles of which `end` or `other` is named, so that both directions have to be tried."""
        found = _turned_in(self.shape.joins)
        for item in self.shape.where:
            found |= {name for name in item.names if "'end'" in repr(item.tree) or "'other'" in repr(item.tree)}
        return found

    def candidates(self, name: str) -> list[Thing]:
        """What a role may bind by itself: its bucket, less what its own condition refuses."""
        found = self._candidates.get(name)
        if found is None:
            role = self.roles[name]
            found = [thing for thing in self.bucket(role).things if self._may_be(role, thing)]
            self._candidates[name] = found
            self._allowed[name] = {id(thing) for thing in found}
        return found

    @cached_property
    def _allowed(self) -> dict[str, set[int]]:
        return {}

    def _may_be(self, role: Role, thing: Thing) -> bool:
        if role.name in self.only and not self.only[role.name] & set(thing.parts):
            return False
        if self.is_out_of_band(thing):
            return False
        if role.when is None:
            return True
        state = State().with_role(role.name, thing)
        truth = evaluate_truth(role.when, self.scope(state))
        if truth is None:
            self._doubtful.setdefault(role.name, set()).add(id(thing))
        return truth is not False

    def is_out_of_band(self, thing: Thing) -> bool:
        """Whether a device belongs to other bands than the index's."""
        views = self.index.views
        if thing.sort != "device" or len(views.signals) < 2:
            return False
        bands = {band for element in thing.elements for band in views.bands_of.get(element, (0,))}
        return self.index.band not in bands

    def scope(self, state: State) -> Scope:
        return Scope(self.index, self.pattern, state, self.mirrored)

    # -- solving --------------------------------------------------------------------------------------------------

    def states(self) -> Iterator[State]:
        """Every state in which all that is required holds, with what is optional bound."""
        names = {*self.required, *self.lacking}
        if any(not self.candidates(name) for name in self.required):
            if self.trace is not None:
                missing = next(name for name in self.required if not self.candidates(name))
                self.trace.lacks(self, missing)
            return
        loose = {*self.many, *self.optional}
        conditions = [item for item in self.shape.where if not _asks_bound(item) and not loose & set(item.names)]
        steps = self.planner.plan(self.required, self.core, conditions, bound_roles=())
        count = 0
        for state in self.solve(steps, 0, State()):
            if not self.meeting.all_distinct(state):
                self._fail(len(steps), state, "two net names are one net")
                continue
            if not wires_lie_true(self.index, self.core, state):
                self._fail(len(steps), state, "a part that is a short for the signal lies elsewhere in the circuit")
                continue
            finished = self._finish(state, names)
            if finished is not None:
                yield finished
                count += 1
                if count >= MOST_MATCHES:
                    return

    def solve(self, steps: tuple[Step, ...], position: int, state: State, shared: bool = False) -> Iterator[State]:
        """States that pass all steps from a position on; `shared` roles may be what others are bound to."""
        if position == len(steps):
            yield state
            return
        step = steps[position]
        passed = False
        for new in self._take(step, state, shared):
            passed = True
            yield from self.solve(steps, position + 1, new, shared)
        if not passed and self.trace is not None and not shared:
            self.trace.failed(self, position, step, state)

    def _take(self, step: Step, state: State, shared: bool) -> Iterator[State]:
        if step.condition is not None:
            new = self._check(step.condition, state)
            if new is not None:
                yield new
        elif step.constraint is not None:
            yield from self.hold(step.constraint, state)
        else:
            doubtful = self._doubtful.get(step.role, ())
            taken = self.claimed_things(state) if shared else state.used
            for thing in self._reached(step, state):
                if not thing.atoms & taken:
                    new = state.with_role(step.role, thing)
                    yield new.with_doubt(self.roles[step.role].when_text) if id(thing) in doubtful else new

    def claimed_things(self, state: State) -> int:
        """Atoms of what a state claims, windings left out: a role of `not` is something else."""
        taken = 0
        for name, thing in state.roles.items():
            if thing is not None and thing.sort != "winding" and not self.roles[name].witness:
                taken |= thing.atoms
        for name, things in state.many.items():
            for thing in things if not self.roles[name].witness else ():
                taken |= thing.atoms if thing.sort != "winding" else 0
        return taken

    def _check(self, condition: Condition, state: State) -> State | None:
        """The state if a condition does not fail, with a doubt noted where it cannot be decided."""
        truth = evaluate_truth(condition.tree, self.scope(state))
        if truth is None:
            return state.with_doubt(condition.text)
        return state if truth else None

    def _reached(self, step: Step, state: State) -> list[Thing]:
        """The candidates of a role that the joins on the way to it can reach."""
        everything = self.candidates(step.role)
        if not step.along:
            return everything
        best: list[Thing] | None = None
        for constraint in step.along:
            found = self._along(constraint, step.role, state)
            if found is not None and (best is None or len(found) < len(best)):
                best = found
        if best is None:
            return everything
        allowed = self._allowed[step.role]
        return [thing for thing in best if id(thing) in allowed]

    def _along(self, constraint: Constraint, name: str, state: State) -> list[Thing] | None:
        """Things of a role's bucket at the classes from which a constraint comes."""
        bucket = self.bucket(self.roles[name])
        view = constraint.view
        if constraint.through == name:
            table, sides = bucket.at(view, ""), (constraint.left, constraint.right)
        elif constraint.through:
            thing = state.roles.get(constraint.through)
            if thing is None:
                return None
            table = bucket.at(view, constraint.terminal_of(name))
            classes = [self.index.class_of[view][thing.terminals[end]] for end in ("1", "2")]
            return _rows(table, classes)
        else:
            terminal = constraint.terminal_of(name)
            table = bucket.reaching(view, terminal, constraint.limit) if constraint.lead else bucket.at(view, terminal)
            other = constraint.other_side(name)
            sides = () if other is None else (other,)
        for spot in sides:
            classes = self._classes(spot, constraint, state)
            if classes is not None:
                return _rows(table, classes)
        return None

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

    def hold(self, constraint: Constraint, state: State, weak: bool = False) -> Iterator[State]:
        """States in which a constraint holds."""
        left, right = self._side(constraint.left, state), self._side(constraint.right, state)
        if left is None or right is None:
            if any(name in state.roles and state.roles[name] is None for name in constraint.roles):
                yield state
            return
        meet, number, view = self.meeting.meet, constraint.number, constraint.view
        if not constraint.through:
            yield from meet(state, number, view, left, right, constraint.lead, constraint.limit, weak)
            return
        name = constraint.through
        if not constraint.may_lack:
            thing = state.roles.get(name)
            if thing is not None:
                yield from self._through(constraint, thing, state, left, right, weak)
            return
        bound = state.roles.get(name)
        if bound is None:
            for new in meet(state, number, view, left, right, False, None, weak):
                yield new.with_role(name, None) if name not in new.roles else new
        elif any(True for _ in self._through(constraint, bound, state, left, right, weak)):
            yield from self._through(constraint, bound, state, left, right, weak)
        else:
            yield from meet(state, number, view, left, right, False, None, weak)
        if name not in state.roles:
            self.candidates(name)
            for thing in self._through_candidates(constraint, state):
                if not thing.atoms & state.used:
                    yield from self._through(constraint, thing, state.with_role(name, thing), left, right, weak)

    def _through_candidates(self, constraint: Constraint, state: State) -> list[Thing]:
        """Things that may stand in an optional link, at the side that is bound."""
        name = constraint.through
        allowed = self._allowed[name]
        for spot in (constraint.left, constraint.right):
            classes = self._classes(spot, constraint, state)
            if classes is not None:
                table = self.bucket(self.roles[name]).at(constraint.view, "")
                return [thing for thing in _rows(table, classes) if id(thing) in allowed]
        return self.candidates(name)

    def _through(
        self, constraint: Constraint, thing: Thing, state: State, left: Side, right: Side, weak: bool
    ) -> Iterator[State]:
        """States in which a thing lies between two spots, in either direction or in the one that is asked for."""
        view, number = constraint.view, constraint.number
        if self.index.is_gone(view, thing):
            return
        ends = [("1", "2"), ("2", "1")]
        if constraint.direction and (thing.kind in DIODES or thing.kind in DEVICE_GROUPS["amplifying"]):
            ends = [("a", "k") if (constraint.direction == ">") != self.mirrored else ("k", "a")]
        if "2" not in thing.terminals:
            return
        for first, second in ends:
            for new in self.meeting.meet(state, number, view, left, ("terminal", thing, first), False, None, weak):
                yield from self.meeting.meet(new, number, view, ("terminal", thing, second), right, False, None, weak)

    def _side(self, spot: Spot, state: State) -> Side | None:
        if spot.sort != "terminal":
            return (spot.sort, spot.name, "")
        thing = state.roles.get(spot.name)
        return None if thing is None else ("terminal", thing, spot.terminal)

    # -- what is not required -------------------------------------------------------------------------------------

    def _finish(self, state: State, names: set[str]) -> State | None:
        """The state with many-roles and optional roles bound, if nothing that is excluded holds."""
        for name in self.many:
            found = self._members(name, state)
            role = self.roles[name]
            if role.apart:
                count = len({self.index.class_of[0][thing.terminals[role.apart]] for thing in found})
            else:
                count = len(found)
            if count < role.least and not role.optional:
                self._fail(-1, state, f"`{name}` has to bind at least {role.least}, and binds {count}")
                return None
            state = state.with_many(name, tuple(found))
        for group in self._optional_groups:
            state = self._bind_optional(group, state)
        for condition in self.shape.where:
            if _asks_bound(condition) or set(self.many) & set(condition.names):
                new = self._check(condition, state)
                if new is None:
                    self._fail(-1, state, f"the condition `{condition.text}` does not hold", condition)
                    return None
                state = new
        for net in self.shape.nets:
            if net.held and state.net(net.name) and not self._is_held(net.name, state):
                self._fail(-1, state, f"the net `{net.name}` is not held")
                return None
        for exclusion in self.shape.exclusions:
            if self._is_excluded(exclusion, state):
                self._fail(-1, state, f"what `not` excludes is so: {exclusion.words}")
                return None
        return state

    def _members(self, name: str, state: State) -> list[Thing]:
        """All that a many-role binds; of things that overlap, the larger."""
        own = [item for item in self.constraints if name in item.roles or item.through == name]
        found: list[Thing] = []
        for thing in self.candidates(name):
            if thing.atoms & state.used:
                continue
            trial = state.with_role(name, thing)
            if all(any(True for _ in self.hold(item, trial)) for item in own):
                found.append(thing)
        found.sort(key=lambda thing: -len(thing.elements))
        kept: list[Thing] = []
        used = 0
        for thing in found:
            if not thing.atoms & used:
                kept.append(thing)
                used |= thing.atoms
        return sorted(kept, key=lambda thing: (thing.number, thing.elements))

    @cached_property
    def _optional_groups(self) -> list[list[str]]:
        """Optional roles that hang together by joins or by nets that nothing else binds."""
        fixed = {net for item in self.core for net in item.nets}
        links: dict[str, set[str]] = {}
        for item in self.constraints:
            names = [name for name in (*item.roles, item.through) if name in self.optional]
            keys = [*("role " + name for name in names), *("net " + net for net in item.nets if net not in fixed)]
            if names:
                for key in keys:
                    links.setdefault(key, set()).update(keys)
        groups: list[list[str]] = []
        seen: set[str] = set()
        for name in self.optional:
            if name in seen:
                continue
            queue, reached = ["role " + name], {"role " + name}
            while queue:
                for other in links.get(queue.pop(), ()):
                    if other not in reached:
                        reached.add(other)
                        queue.append(other)
            group = [other for other in self.optional if "role " + other in reached]
            seen.update(group)
            groups.append(group)
        return groups

    def _bind_optional(self, group: list[str], state: State) -> State:
        """The state with as many roles of a group bound as can be, the earlier ones first."""
        for size in range(len(group), 0, -1):
            for chosen in combinations(group, size):
                for found in self.solve(self._optional_plan(chosen, state), 0, state):
                    if wires_lie_true(self.index, self.constraints, found):
                        return found
            if len(group) > 6:
                return self._bind_one_by_one(group, state)
        return state

    def _bind_one_by_one(self, group: list[str], state: State) -> State:
        for name in group:
            for found in self.solve(self._optional_plan((name,), state), 0, state):
                if wires_lie_true(self.index, self.constraints, found):
                    state = found
                    break
        return state

    @cached_property
    def _plans(self) -> dict[tuple, tuple[Step, ...]]:
        return {}

    def _optional_plan(self, chosen: tuple[str, ...], state: State) -> tuple[Step, ...]:
        bound = [name for name, thing in state.roles.items() if thing is not None]
        key = (chosen, tuple(bound))
        found = self._plans.get(key)
        if found is None:
            known = {*bound, *chosen, *self.many}
            touching = [item for item in self.constraints if {*item.roles, item.through} & set(chosen)]
            constraints = [item for item in touching if {*item.roles, item.through} - {""} <= known]
            lone = [name for name in chosen if not any(name in (*c.roles, c.through) for c in constraints)]
            nets = {name for name, _ in state.nets}
            conditions = [
                item
                for item in self.shape.where
                if set(item.names) & set(chosen)
                and not _asks_bound(item)
                and all(name in known or name not in self.roles for name in item.names)
            ]
            found = self.planner.plan(chosen, constraints, conditions, bound_roles=bound, bound_nets=nets)
            if lone:
                found = (Step(role=lone[0], along=()), Step(condition=_NEVER))
            self._plans[key] = found
        return found

    def _is_held(self, name: str, state: State) -> bool:
        """Whether a net is 0 in the signal view, or no signal comes to it: it hangs on nothing but this match's parts,
        parts whose other end is at 0, windings, coils and controls."""
        if self.meeting.is_still(state, name):
            return True
        graph = self.index.views.graph
        bound = [thing for thing in state.roles.values() if thing is not None]
        bound += [thing for things in state.many.values() for thing in things]
        own = {element for thing in bound for element in thing.elements}
        for thing in (item for item in bound if item.sort == "device"):
            own.update(item for _, _, passed in self.index.reach(DC, thing, "ctl", None) for item in passed)
        nodes = {node for _, node in state.net(name).values()}
        for element, terminal in (pair for node in sorted(nodes) for pair in graph.at_node[node]):
            part = graph.elements[element]
            control = part.kind in ELECTRODES and terminal == ELECTRODES[part.kind][0]
            if element in own and (part.kind not in ELECTRODES or control):
                continue
            if not (control or element in graph.windings_of or part.kind in COILS or self._leads_to_zero(part)):
                return False
        return True

    def _leads_to_zero(self, part: Element) -> bool:
        """Whether a two-terminal part has an end at 0, or is nothing in the signal view."""
        verdict = self.index.view[SIGNAL].verdicts.get(part.index)
        if verdict is not None and verdict.fate == "open":
            return True
        classes = self.index.class_of[SIGNAL]
        return part.kind not in ELECTRODES and any(classes[node] == self.index.zero for node in part.nodes)

    # -- exclusions -----------------------------------------------------------------------------------------------

    def _is_excluded(self, exclusion: Exclusion, state: State) -> bool:
        """Whether a group of `not` holds, for any member of the many-roles that it names."""
        named = {name for join in exclusion.joins for name in _roles_of(join)}
        named |= {name for item in exclusion.where for name in item.names}
        states = [state]
        for name in self.many:
            if name in named:
                states = [one.with_role(name, thing) for one in states for thing in one.many.get(name, ())]
        for name in sorted(_turned_in(exclusion.joins) - self._directed):
            states = [other for one in states for other in self._both_ways(name, one)]
        own = {role.name for role in exclusion.roles}
        spoken = {name for name in named if name in self.roles and name not in own}
        unbound = [name for name in spoken if name not in self.many and state.roles.get(name) is None]
        if unbound and any(name in _roles_of(join) for join in exclusion.joins for name in unbound):
            return False
        inner = Inner(self, exclusion)
        return any(inner.holds(one) for one in states)

    def _both_ways(self, name: str, state: State) -> list[State]:
        """The state, and the one with a winding or potentiometer of it the other way round."""
        thing = state.roles.get(name)
        if thing is None or thing.sort not in ("winding", "part"):
            return [state]
        pool = self.index.windings if thing.sort == "winding" else self.index.whole_parts
        twins = [other for other in pool if other.key == thing.key and other.turned != thing.turned]
        return [state, *(state.with_role(name, twin) for twin in twins)]

    # -- telling what failed --------------------------------------------------------------------------------------

    def _fail(self, position: int, state: State, words: str, condition: Condition | None = None) -> None:
        if self.trace is not None:
            self.trace.said(self, position, state, words)


class Inner(Search):
    """The search of a group of `not` within a state of its pattern; its roles may be what others are bound to."""

    def __init__(self, outer: Search, exclusion: Exclusion) -> None:
        shape = outer.shape
        roles = (*shape.roles, *exclusion.roles)
        nets = (*shape.nets, *exclusion.nets)
        merged = Shape("", roles, nets, exclusion.joins, exclusion.where, ())
        super().__init__(outer.index, outer.pattern, merged, outer.mirrored)
        self.own = [role.name for role in exclusion.roles]

    def holds(self, state: State) -> bool:
        bound = [name for name, thing in state.roles.items() if thing is not None]
        nets = {name for name, _ in state.nets}
        steps = self.planner.plan(self.own, self.constraints, self.shape.where, bound_roles=bound, bound_nets=nets)
        start = state.copy()
        start.undecided = ()
        return any(not found.undecided for found in self.solve(steps, 0, start, shared=True))


class Trace:
    """Remembers the way that came furthest in a search, and what it failed by."""

    def __init__(self) -> None:
        self.best: tuple[int, str, State | None, Search | None] = (-1, "", None, None)

    def failed(self, search: Search, position: int, step: Step, state: State) -> None:
        if position > self.best[0]:
            self.best = (position, self._words(search, step, state), state, search)

    def said(self, search: Search, position: int, state: State, words: str) -> None:
        reach = 1_000 if position < 0 else position
        if reach > self.best[0]:
            self.best = (reach, words, state, search)

    def lacks(self, search: Search, role: str) -> None:
        if self.best[0] < 0:
            kinds = " or ".join(search.roles[role].kinds)
            when = f" with `{search.roles[role].when_text}`" if search.roles[role].when_text else ""
            self.best = (-1, f"there is no {kinds} for the role `{role}`{when}", None, search)

    def _words(self, search: Search, step: Step, state: State) -> str:
        from topo.matching.index import VIEW_NAMES

        if step.condition is not None:
            return f"the condition `{step.condition.text}` does not hold"
        if step.constraint is not None:
            return f"the join `{step.constraint.text}` ({VIEW_NAMES[step.constraint.view]}) does not hold"
        joins = ", ".join(dict.fromkeys(f"`{item.text}` ({VIEW_NAMES[item.view]})" for item in step.along))
        return f"nothing fits the role `{step.role}`" + (f" by {joins}" if joins else "")


_TURNED = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}
_NEVER = Condition("never", ["<", ["number", 1.0, ""], ["number", 0.0, ""]], ())


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


def _rows(table: Mapping[int, list[Thing]], classes: list[int]) -> list[Thing]:
    if len(classes) == 1:
        return table.get(classes[0], [])
    found: dict[int, Thing] = {}
    for cls in classes:
        for thing in table.get(cls, ()):
            found.setdefault(id(thing), thing)
    return list(found.values())


def _asks_bound(condition: Condition) -> bool:
    """Whether a condition asks what is bound, or what else there is, and so has to be checked when all is bound."""
    shown = repr(condition.tree)
    return "'bound'" in shown or "'alone'" in shown


def _turned_in(joins) -> set[str]:
    """Roles of which joins name `end` or `other`."""
    return {spot.name for join in joins for spot in join.spots if spot.terminal in ("end", "other")}


def _roles_of(join) -> set[str]:
    names = {spot.name for spot in join.spots if spot.sort == "terminal"}
    return names | {link.role for link in join.links if link.role}


__all__ = ["SIGNAL", "Search", "Trace"]
