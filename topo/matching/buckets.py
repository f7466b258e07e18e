"""Buckets: the things of one kind as a relation, with tables from nets to things."""

from __future__ import annotations

from typing import TYPE_CHECKING

from topo.matching.kinds import DEVICE_GROUPS, DIODES
from topo.matching.relational import Relation
from topo.matching.things import Thing

if TYPE_CHECKING:
    from topo.matching.index import Index

DIRECTED = frozenset((*DIODES, *DEVICE_GROUPS["amplifying"]))
# The ends of a two-terminal thing at the left and at the right of a link.
BOTH_WAYS = (("1", "2"), ("2", "1"))
FORWARD, BACKWARD = (("a", "k"),), (("k", "a"),)


def ways(thing: Thing, direction: str) -> tuple[tuple[str, str], ...]:
    """The ends by which a thing may lie from left to right: ">" has a directed one's anode at the left."""
    if direction and thing.kind in DIRECTED:
        return FORWARD if direction == ">" else BACKWARD
    return BOTH_WAYS


class Bucket:
    """A relation: the things of one kind, and for each view tables from class to things, built when asked for.

    `relations` keeps what queries on these things were answered from.
    """

    def __init__(self, index: Index, things: list[Thing]) -> None:
        self.index = index
        self.things = things
        self._at: dict[tuple, dict[int, list[Thing]]] = {}
        self.relations: dict[object, Relation] = {}
        self._standing: dict[str, list[tuple[int, int]]] = {}
        self._lying: dict[tuple[int, str], list[tuple[int, int, int]]] = {}

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

    def standing(self, terminal: str) -> list[tuple[int, int]]:
        """(row, node) of each thing that has a terminal."""
        found = self._standing.get(terminal)
        if found is None:
            found = [(thing.row, thing.terminals[terminal]) for thing in self.things if terminal in thing.terminals]
            self._standing[terminal] = found
        return found

    def lying(self, view: int, direction: str) -> list[tuple[int, int, int]]:
        """(row, node at the left, node at the right) for each way in which a two-terminal thing may lie in a view."""
        key = (view, direction)
        found = self._lying.get(key)
        if found is None:
            found = self._lying[key] = []
            for thing in self.things:
                terminals = thing.terminals
                if "2" in terminals and not self.index.is_gone(view, thing):
                    for first, second in ways(thing, direction):
                        found.append((thing.row, terminals[first], terminals[second]))
        return found

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
