"""The matching engine: every match of every pattern of a library in the views of a circuit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from topo.matching.compounds import add_compounds
from topo.matching.excluding import roles_of
from topo.matching.finding import find_matches
from topo.matching.index import Index
from topo.matching.kinds import DEVICE_GROUPS
from topo.matching.match import Match
from topo.matching.pattern import Pattern
from topo.matching.shelf import Library
from topo.resources import collecting_paused
from topo.views.view import Views


def indexes(views: Views, library: Library) -> tuple[Index, ...]:
    """One index for each band, the declared band first, with the compound devices in them all."""
    first = Index(views)
    add_compounds(first, library.patterns)
    return (first, *(first.of_band(band) for band in range(1, len(views.signals))))


def matches(views: Views, library: Library) -> tuple[Match, ...]:
    """Every match of every pattern that is no composite, in the order of the library and then of the file.

    Deterministic. A pattern with devices is looked for in the bands of its devices; one without in the
    declared band, and in other bands among the parts that the declared band has not given to it.
    """
    found: list[Match] = []
    with collecting_paused():
        prepared = indexes(views, library)
        for pattern in library.patterns:
            if not pattern.made_of:
                found.extend(matches_of(pattern, prepared))
    return tuple(found)


def matches_of(pattern: Pattern, prepared: Sequence[Index]) -> list[Match]:
    """The matches of one pattern in all bands; of the same parts in two bands, the one that binds more."""
    found: list[Match] = []
    roles = (role for shape in pattern.shapes for role in shape.roles)
    has_devices = any(kind in DEVICE_GROUPS for role in roles for kind in role.kinds)
    taken: set[str] = set()
    for index in prepared:
        for match in find_matches(index, pattern):
            if not has_devices and index.band and match.claimed & taken:
                continue
            found.append(match)
        if not has_devices and index.band == 0:
            taken = {part for match in found for part in match.claimed}
    return found if len(prepared) == 1 else _once(found, pattern)


def _once(found: Iterable[Match], pattern: Pattern) -> list[Match]:
    best: dict[tuple, Match] = {}
    for match in found:
        roles = (name for name, role in pattern.roles.items() if not role.witness and not role.optional)
        key = tuple((name, match.roles.get(name, ())) for name in roles)
        if key not in best or len(match.claimed) > len(best[key].claimed):
            best[key] = match
    return list(best.values())


def matches_without(views: Views, pattern: Pattern, join: int, library: Library, shape: int = 0,
                    prepared: Sequence[Index] | None = None) -> tuple[Match, ...]:  # fmt: skip
    """The matches of a pattern when one join (by its place in the shape's joins) is left out.

    None where a required role would then be in no join at all. `prepared` are the indexes of the circuit where
    many such questions are asked of it. Each match says in `missing` which join it does without.
    """
    joins = pattern.shapes[shape].joins
    rest = {name for position, other in enumerate(joins) if position != join for name in roles_of(other)}
    needed = {role.name for role in pattern.shapes[shape].roles if not role.optional}
    if not needed <= rest:
        return ()
    found: list[Match] = []
    for index in prepared or indexes(views, library):
        found.extend(find_matches(index, pattern, (shape, join)))
    return tuple(found)


def droppable_joins(pattern: Pattern) -> list[tuple[int, int]]:
    """(shape, join) of every join of required roles that may be left out with each required role still held."""
    found = []
    for number, shape in enumerate(pattern.shapes):
        optional = {role.name for role in shape.roles if role.optional}
        needed = {role.name for role in shape.roles} - optional
        for position, join in enumerate(shape.joins):
            if roles_of(join) & optional:
                continue
            rest = {name for other, item in enumerate(shape.joins) if other != position for name in roles_of(item)}
            if needed <= rest:
                found.append((number, position))
    return found


def match_everything(views: Views, library: Library) -> tuple[Match, ...]:
    """All matches, and composites over them as if all were kept; for trying a composite's examples."""
    from topo.matching.composites import compose

    found = matches(views, library)
    return (*found, *compose(found, library, views))
