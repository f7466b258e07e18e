"""Matches of a pattern on an index: one for each symmetry class, with evidence, in a stable order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import permutations

from topo.matching.candidates import turned_kinds
from topo.matching.groundwork import groundwork
from topo.matching.index import SIGNAL, VIEW_NAMES, Index
from topo.matching.match import Evidence, Match
from topo.matching.pattern import Pattern, Shape
from topo.matching.search import Search
from topo.matching.state import State
from topo.matching.things import Thing

LARGEST_SYMMETRY = 4


def find_matches(index: Index, pattern: Pattern, dropped: tuple[int, int] | None = None) -> list[Match]:
    """All matches of a pattern in one band; `dropped` is (shape, join) of a join that is left out."""
    best: dict[tuple, tuple[tuple, Match]] = {}
    for mirrored in (False, True) if pattern.turns_over else (False,):
        for number, shape in enumerate(pattern.shapes):
            if dropped is not None and dropped[0] != number:
                continue
            join = None if dropped is None else dropped[1]
            if not _has_kinds(index, shape, mirrored) or not groundwork(pattern, shape, join).may_hold(index, mirrored):
                continue
            search = Search(index, pattern, shape, mirrored, join)
            for state in search.states():
                identity, order = _identity(pattern, shape, state)
                match = _match(search, state, shape, join)
                rank = (*_worth(match, state), order, mirrored)
                if identity not in best or rank < best[identity][0]:
                    best[identity] = (rank, match)
    found = [match for _, match in sorted(best.values(), key=lambda item: (item[0][-2], item[0]))]
    return _without_lesser_variants(found, [shape.variant for shape in pattern.shapes])


def _has_kinds(index: Index, shape: Shape, mirrored: bool) -> bool:
    """Whether there is something of the kind of every required role; many patterns fall by this."""
    for role in shape.roles:
        if not role.optional and not role.many:
            kinds = turned_kinds(role.kinds) if mirrored else role.kinds
            if not index.bucket(kinds, role.make, role.tapped, False).things:
                return False
    return True


def _worth(match: Match, state: State) -> tuple[int, ...]:
    """Sorts the better of two forms of one match first: more parts, more roles, more joins held, less passed."""
    roles = sum(1 for refs in match.roles.values() if refs)
    passed = sum(len(elements) for elements in state.passed.values())
    return -len(match.claimed), -roles, -len(match.evidence), passed


def _without_lesser_variants(found: list[Match], variants: list[str]) -> list[Match]:
    """Leaves out a match of one variant whose parts a match of another claims as well; the earlier of equals stays."""
    if len(variants) < 2:
        return found
    place = {variant: number for number, variant in enumerate(variants)}

    def is_lesser(one: Match, other: Match) -> bool:
        if one.variant == other.variant or not one.claimed <= other.claimed:
            return False
        return one.claimed < other.claimed or place[one.variant] > place[other.variant]

    return [one for one in found if not any(is_lesser(one, other) for other in found)]


def _identity(pattern: Pattern, shape: Shape, state: State) -> tuple[tuple, tuple]:
    """What makes two states the same match, whatever their symmetric roles are called; and their place in the file.

    Witnesses do not count, but for those of which the pattern supposes something: one may fall and another stay.
    """
    bound: dict[str, tuple[tuple, ...]] = {
        name: (thing.key,) for name, thing in state.roles.items() if thing is not None
    }
    bound |= {name: tuple(thing.key for thing in things) for name, things in state.many.items() if things}
    supposed = {role for role, _ in pattern.reading.supposes}
    roles = [role.name for role in shape.roles if (not role.witness or role.name in supposed) and not role.optional]
    form: tuple = tuple([bound.get(name, ()) for name in roles])
    if pattern.symmetry:
        turned = renamings(pattern.symmetry)
        form = min(tuple([repr(bound.get(one.get(name, name), ())) for name in roles]) for one in turned)
    things = {name: (thing,) for name, thing in state.roles.items() if thing is not None} | state.many
    order = tuple(tuple(thing.number for thing in things.get(role.name, ())) or (1 << 30,) for role in shape.roles)
    return form, order


def renamings(symmetry: tuple[tuple[str, ...], ...]) -> Iterable[Mapping[str, str]]:
    """All ways to exchange symmetric roles, all sets together."""
    if not symmetry:
        return [{}]
    length = len(symmetry[0])
    if length > LARGEST_SYMMETRY:
        return [{}]
    return [{row[i]: row[order[i]] for row in symmetry for i in range(length)} for order in permutations(range(length))]


def _match(search: Search, state: State, shape: Shape, dropped: int | None) -> Match:
    bound: dict[str, tuple[Thing, ...]] = {}
    for role in shape.roles:
        thing = state.roles.get(role.name)
        bound[role.name] = state.many.get(role.name, ()) if thing is None else (thing,)
    witnesses = {role.name for role in shape.roles if role.witness}
    claimed = {
        part for name, things in bound.items() if name not in witnesses for thing in things for part in thing.parts
    }
    evidence = []
    for position, join in enumerate(shape.joins):
        # Of a chain, the links that are there: one that needs an optional role that nothing was bound to says nothing.
        own = [item for item in search.ground.links[position] if all(bound[name] for name in item.optional)]
        if not own:
            continue
        passed = [element for item in own for element in state.passed.get(item.number, ())]
        parts = search.index.names_of(passed)
        if any(name not in witnesses for item in own for name in item.names):
            claimed |= set(parts)
        evidence.append(Evidence(join.view, join.text, parts))
    nets = {}
    for net in shape.nets:
        found = state.net(net.name)
        if found:
            view = next(view for view in (0, 1, SIGNAL) if view in found)
            nets[net.name] = (VIEW_NAMES[view], found[view][0])
    return Match(
        pattern=search.pattern.slug,
        roles={
            name: tuple(dict.fromkeys(part for thing in things for part in thing.parts))
            for name, things in bound.items()
            if things
        },
        handles={name: tuple(thing.handle for thing in things) for name, things in bound.items() if things},
        nets=nets,
        claimed=frozenset(claimed),
        evidence=tuple(evidence),
        undecided=state.undecided,
        band=search.index.band,
        missing="" if dropped is None else shape.joins[dropped].text,
        variant=shape.variant,
        things=bound,
        bound_nets={name: state.net(name) for name in nets},
        turned_over=search.mirrored,
    )
