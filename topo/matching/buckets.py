"""Buckets: the things of one kind as a relation, with tables from nets to things."""

from __future__ import annotations

from typing import TYPE_CHECKING

from topo.matching.relational import Relation
from topo.matching.things import Thing

if TYPE_CHECKING:
    from topo.matching.index import Index


class Bucket:
    """A relation: the things of one kind, and for each view tables from class to things, built when asked for.

    `relations` keeps what queries on these things were answered from.
    """

    def __init__(self, index: Index, things: list[Thing]) -> None:
        self.index = index
        self.things = things
        self._at: dict[tuple, dict[int, list[Thing]]] = {}
        self.relations: dict[tuple, Relation] = {}

    def at(self, view: int, terminal: str) -> dict[int, list[Thing]]:
        """Things by the class that a terminal is on; "" for either end of a two-terminal thing."""
        key = (view, terminal)
        table = self._at.get(key)
        if table is None:
            table = self._at[key] = {}
            classes = self.index.class_of[view]
            names = ("1", "2") if not terminal else (terminal,)
            for thing in self.things:
                nodes = [thing.terminals[name] for name in names if name in thing.terminals]
                for cls in dict.fromkeys(classes[node] for node in nodes):
                    table.setdefault(cls, []).append(thing)
        return table

    def reaching(self, view: int, terminal: str, limit: float | None) -> dict[int, list[Thing]]:
        """Things by the classes that a terminal reaches through its lead."""
        key = (view, terminal, limit, "lead")
        table = self._at.get(key)
        if table is None:
            table = self._at[key] = {}
            for thing in self.things:
                if terminal in thing.terminals:
                    for cls, _, _ in self.index.reach(view, thing, terminal, limit):
                        table.setdefault(cls, []).append(thing)
        return table
