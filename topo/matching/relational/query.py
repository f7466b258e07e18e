"""Queries: what must hold of some variables at once."""

from __future__ import annotations

from collections.abc import Hashable
from typing import NamedTuple


class Atom(NamedTuple):
    """That a row of a relation (by its key) holds these variables, each known by its number, in its places."""

    relation: Hashable
    variables: tuple[int, ...]


class Query(NamedTuple):
    """`atoms` must all hold. `differ` are pairs of variables that may not be equal, `less` pairs of which the first
    must be the lesser: so one is found of several that only exchange what is alike. `wanted` are the variables that a
    result tells."""

    atoms: tuple[Atom, ...]
    differ: tuple[tuple[int, int], ...] = ()
    less: tuple[tuple[int, int], ...] = ()
    wanted: tuple[int, ...] = ()
