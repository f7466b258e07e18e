"""The order in which a query's atoms are taken: the smallest relation first, then along variables that are bound."""

from __future__ import annotations

from collections.abc import Sequence, Sized
from typing import NamedTuple

from topo.matching.relational.query import Query


class Step(NamedTuple):
    """An atom, by its place in the query, and the places of its variables that are bound when its turn comes."""

    atom: int
    bound: tuple[int, ...]


def ordered(query: Query, relations: Sequence[Sized]) -> tuple[Step, ...]:
    """The steps of a query on relations of such sizes."""
    left = list(range(len(query.atoms)))
    bound: set[int] = set()
    steps = []
    while left:
        best = min(left, key=lambda atom: _cost(query, atom, len(relations[atom]), bound))
        left.remove(best)
        variables = query.atoms[best].variables
        steps.append(Step(best, tuple(place for place, name in enumerate(variables) if name in bound)))
        bound.update(variables)
    return tuple(steps)


def _cost(query: Query, atom: int, size: int, bound: set[int]) -> tuple[int, int, int]:
    variables = query.atoms[atom].variables
    free = sum(1 for name in variables if name not in bound)
    met = len(variables) - free
    return (0 if not free else 1 if met else 2, free if met else 0, size)
