"""Whether a query has an answer, by walking its atoms step by step: for a query that is asked once or twice, since to
compile one takes longer than to walk it on a small circuit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from topo.matching.relational.ordering import Step
from topo.matching.relational.query import Query
from topo.matching.relational.relation import Relation


class _Stage(NamedTuple):
    """A step made ready: variables of its key, (place, variable) that it binds, (place, place) that must be equal,
    and pairs of variables of which one is bound here that must differ, or come in order."""

    atom: int
    bound: tuple[int, ...]
    key: tuple[int, ...]
    fresh: tuple[tuple[int, int], ...]
    equal: tuple[tuple[int, int], ...]
    differ: tuple[tuple[int, int], ...]
    less: tuple[tuple[int, int], ...]


class Walk:
    """A query in the order of its steps."""

    __slots__ = ("stages", "width")

    def __init__(self, query: Query, steps: Sequence[Step]) -> None:
        self.stages = []
        known: set[int] = set()
        for step in steps:
            variables = query.atoms[step.atom].variables
            fresh: dict[int, int] = {}
            equal = []
            for place, name in enumerate(variables):
                if place not in step.bound:
                    if name in fresh:
                        equal.append((fresh[name], place))
                    else:
                        fresh[name] = place
            both = known | fresh.keys()
            differ, less = (
                tuple(pair for pair in pairs if set(pair) <= both and not set(pair) <= known)
                for pairs in (query.differ, query.less)
            )
            key = tuple(variables[place] for place in step.bound)
            binds = tuple((place, name) for name, place in fresh.items())
            self.stages.append(_Stage(step.atom, step.bound, key, binds, tuple(equal), differ, less))
            known = both
        self.width = max(known, default=-1) + 1

    def has_answer(self, relations: Sequence[Relation]) -> bool:
        """Whether there is a row of variables for which all atoms hold."""
        tables: list[Any] = [
            relations[stage.atom].index(stage.bound) if stage.bound else relations[stage.atom].rows
            for stage in self.stages
        ]
        return self._walk(0, tables, [0] * self.width)

    def _walk(self, position: int, tables: list[Any], values: list[int]) -> bool:
        while position < len(tables):
            _, bound, key, fresh, equal, differ, less = self.stages[position]
            rows = tables[position]
            if bound:
                found = values[key[0]] if len(key) == 1 else tuple([values[name] for name in key])
                rows = rows.get(found)
                if rows is None:
                    return False
            position += 1
            if fresh:
                for row in rows:
                    for place, name in fresh:
                        values[name] = row[place]
                    if (
                        not any(values[a] == values[b] for a, b in differ)
                        and not any(values[a] >= values[b] for a, b in less)
                        and not any(row[a] != row[b] for a, b in equal)
                        and self._walk(position, tables, values)
                    ):
                        return True
                return False
        return True
