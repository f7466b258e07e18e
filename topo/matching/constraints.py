"""Joins taken apart: one constraint for each link of a chain, with the roles and nets that it needs."""

from __future__ import annotations

from collections.abc import Iterable

from topo.matching.index import VIEW_NUMBERS
from topo.matching.pattern import Join, Spot


class Constraint:
    """One link between two spots in one view.

    `number` is its place among the pattern's constraints, `join` that of the join it comes from. `through` is the role
    that lies in series, `may_lack` says that it may be left out. `roles` are those that must be bound before it can be
    checked, `ended` those of which it names a terminal, `nets` the nets that it names.
    """

    __slots__ = (
        "direction",
        "ended",
        "join",
        "lead",
        "left",
        "limit",
        "may_lack",
        "nets",
        "number",
        "right",
        "roles",
        "text",
        "through",
        "view",
    )

    def __init__(self, number: int, position: int, join: Join, link_number: int) -> None:
        link = join.links[link_number]
        self.number = number
        self.join = position
        self.text = join.text
        self.view = VIEW_NUMBERS[join.view]
        self.left = join.spots[link_number]
        self.right = join.spots[link_number + 1]
        self.lead = link.sort == "~"
        self.limit = link.limit
        self.through = link.role
        self.may_lack = link.sort == "-()"
        self.direction = link.direction
        roles = [spot.name for spot in (self.left, self.right) if spot.sort == "terminal"]
        self.ended = tuple(dict.fromkeys(roles))
        if self.through and not self.may_lack:
            roles.append(self.through)
        self.roles = tuple(dict.fromkeys(roles))
        self.nets = tuple(dict.fromkeys(spot.name for spot in (self.left, self.right) if spot.sort == "net"))

    def other_side(self, role: str) -> Spot | None:
        """The spot opposite to a terminal of a role; None if the role is at neither or both."""
        at_left = self.left.sort == "terminal" and self.left.name == role
        at_right = self.right.sort == "terminal" and self.right.name == role
        return None if at_left == at_right else self.right if at_left else self.left

    def terminal_of(self, role: str) -> str:
        """The terminal by which a role stands at one of the spots."""
        spot = self.left if self.left.sort == "terminal" and self.left.name == role else self.right
        return spot.terminal


def constraints_of(joins: Iterable[Join], dropped: int | None = None) -> list[Constraint]:
    """The constraints of joins in their order, those of the join `dropped` left out."""
    found: list[Constraint] = []
    for position, join in enumerate(joins):
        if position != dropped:
            for link_number in range(len(join.links)):
                found.append(Constraint(len(found), position, join, link_number))
    return found
