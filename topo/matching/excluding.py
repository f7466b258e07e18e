"""Groups of `not`: what must not be there beside a match."""

from __future__ import annotations

from typing import NamedTuple

from topo.matching.candidates import directed_roles
from topo.matching.groundwork import is_possible, with_exclusion
from topo.matching.pattern import Exclusion, Join
from topo.matching.search import Search
from topo.matching.state import State


class _Group(NamedTuple):
    """What of a group of `not` does not depend on the state: the search of it and its own roles; whether it names an
    optional role; the other roles that it joins; many-roles and directed ones that it names; whether it is possible."""

    search: Search
    fresh: tuple[str, ...]
    names_optional: bool
    joined: tuple[str, ...]
    many: tuple[str, ...]
    directed: tuple[str, ...]
    is_possible: bool


class Exclusions:
    """The groups of `not` of one search."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self._groups: dict[int, _Group] = {}

    def found(self, state: State, spared: int | None = None) -> str | None:
        """The words of the first group that holds, None if none does.

        With `spared`, before optional roles are bound: groups that name one are left out, and so is what holds by a
        part with one of these atoms, which an optional role may yet claim.
        """
        for number, exclusion in enumerate(self.search.shape.exclusions):
            if self._holds(number, exclusion, state, spared):
                return exclusion.words
        return None

    def _holds(self, number: int, exclusion: Exclusion, state: State, spared: int | None) -> bool:
        """Whether a group holds, for any member of the many-roles that it names."""
        group = self._groups.get(number)
        if group is None:
            group = self._groups[number] = self._group(number, exclusion)
        if not group.is_possible or (spared is not None and group.names_optional):
            return False
        for name in group.joined:
            if not state.is_bound(name):
                return False
        states = [state]
        for name in group.many:
            states = [one.with_role(name, thing) for one in states for thing in one.many.get(name, ())]
        for name in group.directed:
            states = [other for one in states for other in self._both_ways(name, one)]
        return any(self._is_so(group, one, spared or 0) for one in states)

    def _group(self, number: int, exclusion: Exclusion) -> _Group:
        search = self.search
        in_joins = {name for join in exclusion.joins for name in roles_of(join)}
        named = in_joins | {name for item in exclusion.where for name in item.names}
        fresh = {role.name for role in exclusion.roles}
        inner = self._search(number, exclusion)
        return _Group(
            inner,
            tuple(role.name for role in exclusion.roles),
            bool((named - fresh) & set(search.sorted.optional)),
            tuple(sorted(in_joins - fresh)),
            tuple(name for name in search.sorted.many if name in named),
            tuple(sorted(directed_roles(exclusion.joins) - search.candidates.directed - fresh)),
            is_possible(inner.ground, exclusion, search.index, search.mirrored),
        )

    def _search(self, number: int, exclusion: Exclusion) -> Search:
        search = self.search
        fresh = tuple(net.name for net in exclusion.nets)
        merged = with_exclusion(search.shape, number)
        return Search(search.index, search.pattern, merged, search.mirrored, fresh_nets=fresh)

    def _is_so(self, group: _Group, state: State, spared: int) -> bool:
        inner = group.search
        bound = tuple(sorted([name for name, thing in state.roles.items() if thing is not None]))
        nets = tuple(sorted({name for name, _ in state.nets}))
        steps = inner.plan(group.fresh, lambda: (inner.constraints, inner.where), bound, nets)
        start = state.copy()
        start.undecided = ()
        return any(not found.undecided for found in inner.solve(steps, 0, start, self._claimed(state) | spared))

    def _claimed(self, state: State) -> int:
        """Atoms of what a state claims, windings left out: a role of `not` is something else."""
        roles = self.search.roles
        taken = 0
        for name, thing in state.roles.items():
            things = state.many.get(name, ()) if thing is None else (thing,)
            if name in roles and not roles[name].witness:
                for item in things:
                    taken |= 0 if item.sort == "winding" else item.atoms
        for name, members in state.many.items():
            if not roles[name].witness:
                for item in members:
                    taken |= 0 if item.sort == "winding" else item.atoms
        return taken

    def _both_ways(self, name: str, state: State) -> list[State]:
        """The state, and the one with a winding or potentiometer of it the other way round."""
        thing = state.roles.get(name)
        if thing is None or thing.sort not in ("winding", "part"):
            return [state]
        index = self.search.index
        pool = index.windings if thing.sort == "winding" else index.whole_parts
        twins = [other for other in pool if other.key == thing.key and other.turned != thing.turned]
        return [state, *(state.with_role(name, twin) for twin in twins)]


def roles_of(join: Join) -> set[str]:
    """The roles that a join names."""
    names = {spot.name for spot in join.spots if spot.sort == "terminal"}
    return names | {link.role for link in join.links if link.role}
