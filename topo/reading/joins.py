"""Patterns with one join less, for near misses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from topo.matching.pattern import Join, Pattern, Shape


def loosened(pattern: Pattern) -> Iterator[tuple[Pattern, str]]:
    """The pattern with one link dropped, for each link without which every role and net is still held.

    Gives with each the text of what was dropped, as `spot link spot`. All conditions stay.
    """
    for place, shape in enumerate(pattern.shapes):
        for number, join in enumerate(shape.joins):
            for link in range(len(join.links)):
                rest = [*shape.joins[:number], *_without(join, link), *shape.joins[number + 1 :]]
                if _held(rest) >= _needed(shape):
                    shapes = (*pattern.shapes[:place], shape._replace(joins=tuple(rest)), *pattern.shapes[place + 1 :])
                    yield pattern._replace(shapes=shapes), _text(join, link)


def _without(join: Join, link: int) -> list[Join]:
    """What is left of a chain when one of its links is cut."""
    pieces = (
        join._replace(spots=join.spots[: link + 1], links=join.links[:link]),
        join._replace(spots=join.spots[link + 1 :], links=join.links[link + 1 :]),
    )
    return [piece for piece in pieces if piece.links]


def _held(joins: Sequence[Join]) -> frozenset[str]:
    """Names of roles and nets that some join speaks of."""
    spots = {spot.name for join in joins for spot in join.spots if spot.sort != "literal"}
    return frozenset(spots | {link.role for join in joins for link in join.links if link.role})


def _needed(shape: Shape) -> frozenset[str]:
    """Names that the shape's joins hold, without the optional roles."""
    optional = {role.name for role in shape.roles if role.optional}
    return _held(shape.joins) - optional


def _text(join: Join, link: int) -> str:
    """One link of a chain with its two spots, as written in the pattern language."""
    here, there = (
        f"{spot.name}.{spot.terminal}" if spot.sort == "terminal" else spot.name
        for spot in (join.spots[link], join.spots[link + 1])
    )
    own = join.links[link]
    sign = own.sort if own.sort in ("=", "~") else f"-{own.role}-"
    return f"{here} {sign} {there}"
