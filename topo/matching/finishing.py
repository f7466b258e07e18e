"""Completes a state in which all that is required holds: many-roles, optional roles, and what must not be."""

from __future__ import annotations

from functools import cached_property
from itertools import combinations

from topo.graph.graph import Element
from topo.matching.constraints import Constraint
from topo.matching.excluding import Exclusions
from topo.matching.index import DC, SIGNAL, WIRE
from topo.matching.kinds import COILS, ELECTRODES
from topo.matching.pattern import Condition
from topo.matching.planning import Step
from topo.matching.search import Search
from topo.matching.state import State
from topo.matching.things import Thing

# Of a larger group of optional roles that hang together, each is bound by itself.
LARGEST_GROUP = 6


class Finish:
    """The last part of a search."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self.index = search.index
        ground = search.ground
        if ground.groups is None:
            ground.groups = optional_groups(search)
        self.groups = ground.groups
        self.exclusions = Exclusions(search)

    def of(self, state: State) -> State | None:
        """The completed state, None if something forbids it."""
        search = self.search
        if not search.meeting.all_distinct(state):
            return self._refuse(state, "two net names are one net")
        if not search.is_sound(search.core, state):
            return self._refuse(state, "a part that is a short for the signal lies elsewhere in the circuit")
        for name in search.sorted.many:
            members = self._members(name, state)
            count = self._count(name, members)
            role = search.roles[name]
            if count < role.least and not role.optional:
                return self._refuse(state, f"`{name}` has to bind at least {role.least}, and binds {count}")
            state = self._with_leads(name, members, state).with_many(name, tuple(members))
        for net in search.shape.nets:
            if net.held and state.net(net.name) and not self._is_held(net.name, state):
                return self._refuse(state, f"the net `{net.name}` is not held")
        words = self.exclusions.found(state, self._claimable) if search.sorted.optional else None
        if words is not None:
            return self._refuse(state, f"what `not` excludes is so: {words}")
        state = self._bind_groups(state)
        for condition in search.late:
            new = search.check(condition, state)
            if new is None:
                return self._refuse(state, f"the condition `{condition.text}` does not hold")
            state = new
        words = self.exclusions.found(state)
        return state if words is None else self._refuse(state, f"what `not` excludes is so: {words}")

    @cached_property
    def _claimable(self) -> int:
        """Atoms of what optional roles may bind."""
        atoms = 0
        for name in self.search.sorted.optional:
            for thing in self.search.candidates.of(name):
                atoms |= 0 if thing.sort == "winding" else thing.atoms
        return atoms

    def _refuse(self, state: State, words: str) -> State | None:
        if self.search.trace is not None:
            self.search.trace.refused(words, state)
        return None

    # -- many -----------------------------------------------------------------------------------------------------

    def _members(self, name: str, state: State) -> list[Thing]:
        """All that a many-role binds; of things that overlap, the larger."""
        holding = self.search.holding
        own = [item for item in self.search.constraints if name in item.roles or item.through == name]
        found: list[Thing] = []
        for thing in self.search.candidates.of(name):
            if thing.atoms & state.used:
                continue
            trial = state.with_role(name, thing)
            if all(holding.states(item, trial) for item in own):
                found.append(thing)
        found.sort(key=lambda thing: -len(thing.elements))
        kept: list[Thing] = []
        used = 0
        for thing in found:
            if not thing.atoms & used:
                kept.append(thing)
                used |= thing.atoms
        return sorted(kept, key=lambda thing: (thing.number, thing.elements))

    def _with_leads(self, name: str, members: list[Thing], state: State) -> State:
        """The state with what the leads of all members pass noted as evidence."""
        own = [item for item in self.search.constraints if item.lead and name in item.roles]
        for item in own:
            passed: dict[int, None] = {}
            for thing in members:
                held = self.search.holding.states(item, state.with_role(name, thing))
                passed.update(dict.fromkeys(held[0].passed.get(item.number, ()) if held else ()))
            state = state.with_passed(item.number, tuple(passed)) if passed else state
        return state

    def _count(self, name: str, members: list[Thing]) -> int:
        apart = self.search.roles[name].apart
        if not apart:
            return len(members)
        return len({self.index.class_of[WIRE][thing.terminals[apart]] for thing in members})

    # -- optional -------------------------------------------------------------------------------------------------

    def _bind_groups(self, base: State) -> State:
        """The state with all optional roles bound that can be; groups that want the same part are bound together."""
        done: list[list[str]] = []
        state = base
        for group in self.groups:
            new = self._bind_group(group, state)
            if done and _count_bound(group, new) < len(group):
                free = self._bind_group(group, base)
                if _count_bound(group, free) > _count_bound(group, new):
                    taken = _atoms(group, free)
                    rivals = [other for other in done if _atoms(other, state) & taken]
                    joined = [name for other in (*rivals, group) for name in other]
                    if len(joined) <= LARGEST_GROUP:
                        rest = [other for other in done if other not in rivals]
                        done = rest
                        new = base
                        for other in rest:
                            new = self._bind_group(other, new)
                        new, group = self._bind_group(joined, new), joined
            state = new
            done.append(group)
        return state

    def _bind_group(self, group: list[str], state: State) -> State:
        """The state with as many roles of a group bound as can be, the earlier ones first."""
        if len(group) > LARGEST_GROUP:
            for name in group:
                state = self._bound((name,), state) or state
            return state
        group = [name for name in group if self.search.candidates.of(name)]
        # What cannot be bound by itself cannot be bound in company either.
        alone = {name: self._bound((name,), state) for name in group}
        possible = [name for name in group if alone[name] is not None or not self._plan((name,), state)]
        if len(possible) == 1:
            return alone[possible[0]] or state
        for size in range(len(possible), 0, -1):
            for chosen in combinations(possible, size):
                found = self._bound(chosen, state)
                if found is not None:
                    return found
        return state

    def _bound(self, chosen: tuple[str, ...], state: State) -> State | None:
        steps = self._plan(chosen, state)
        if not steps:
            return None
        search, trace = self.search, self.search.trace
        search.trace = None
        try:
            for found in search.solve(steps, 0, state):
                if search.is_sound(search.constraints, found):
                    return found
        finally:
            search.trace = trace
        return None

    def _plan(self, chosen: tuple[str, ...], state: State) -> tuple[Step, ...]:
        """The steps that bind these roles when others are bound; none where one of them is in no join of theirs."""
        search = self.search
        around = search.ground.around.get(chosen)
        if around is None:
            around = search.ground.around[chosen] = self._surroundings(chosen)
        roles, nets, touching, conditions = around
        held, names = state.roles, state.nets
        bound = tuple([name for name in roles if held.get(name) is not None])
        named = tuple([net for net in nets if (net, WIRE) in names or (net, DC) in names or (net, SIGNAL) in names])

        def checks() -> tuple[list[Constraint], list[Condition]] | None:
            known = {*bound, *chosen, *search.sorted.many}
            constraints = [item for item in touching if {*item.roles, item.through} - {""} <= known]
            if not all(any(name in (*item.roles, item.through) for item in constraints) for name in chosen):
                return None
            return constraints, [
                item for item in conditions if all(name in known or name not in search.roles for name in item.names)
            ]

        return search.plan(chosen, checks, bound, named)

    def _surroundings(
        self, chosen: tuple[str, ...]
    ) -> tuple[tuple[str, ...], tuple[str, ...], list[Constraint], list[Condition]]:
        """The other roles, the nets, the constraints and the conditions that have to do with some roles."""
        search = self.search
        touching = [item for item in search.constraints if {*item.roles, item.through} & set(chosen)]
        conditions = [item for item in search.where if set(item.names) & set(chosen) and item not in search.late]
        names = {name for item in touching for name in (*item.roles, item.through)}
        names |= {name for item in conditions for name in item.names}
        nets = dict.fromkeys(net for item in touching for net in item.nets)
        nets.update(dict.fromkeys(name for item in conditions for name in item.names if name not in search.roles))
        return tuple(name for name in search.roles if name in names), tuple(nets), touching, conditions

    # -- held -----------------------------------------------------------------------------------------------------

    def _is_held(self, name: str, state: State) -> bool:
        """Whether a net is 0 in the signal view, or no signal comes to it.

        None does if it hangs on nothing but what is required, parts with an end at 0, windings, coils and controls.
        """
        if self.search.meeting.is_still(state, name):
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


def _count_bound(group: list[str], state: State) -> int:
    return sum(1 for name in group if state.roles.get(name) is not None)


def _atoms(group: list[str], state: State) -> int:
    """What the roles of a group are made of."""
    found = 0
    for name in group:
        thing = state.roles.get(name)
        found |= 0 if thing is None else thing.atoms
    return found


def optional_groups(search: Search) -> list[list[str]]:
    """Optional roles that hang together by joins, or by nets that nothing else binds."""
    optional = search.sorted.optional
    fixed = {net for item in search.core for net in item.nets}
    links: dict[str, set[str]] = {}
    for item in search.constraints:
        names = [name for name in (*item.roles, item.through) if name in optional]
        keys = [*("role " + name for name in names), *("net " + net for net in item.nets if net not in fixed)]
        for key in keys if names else ():
            links.setdefault(key, set()).update(keys)
    groups: list[list[str]] = []
    seen: set[str] = set()
    for name in optional:
        if name not in seen:
            reached = {"role " + name}
            queue = list(reached)
            while queue:
                fresh = links.get(queue.pop(), set()) - reached
                reached |= fresh
                queue.extend(sorted(fresh))
            group = [other for other in optional if "role " + other in reached]
            seen.update(group)
            groups.append(group)
    return groups
