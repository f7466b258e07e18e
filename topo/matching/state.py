"""What a search has bound so far. States are values: binding gives a new one."""

from __future__ import annotations

from topo.matching.things import Thing

Bound = tuple[int, int]
"""A net in one view: its class, and the node at which it was met."""


class State:
    """Roles (None: left out), many-roles, nets by (name, view), used atoms, and what each constraint passed."""

    __slots__ = ("many", "nets", "passed", "roles", "undecided", "used")

    def __init__(self) -> None:
        self.roles: dict[str, Thing | None] = {}
        self.many: dict[str, tuple[Thing, ...]] = {}
        self.nets: dict[tuple[str, int], Bound] = {}
        self.passed: dict[int, tuple[int, ...]] = {}
        self.used = 0
        self.undecided: tuple[str, ...] = ()

    def copy(self) -> State:
        new = State.__new__(State)
        new.roles, new.many, new.nets = self.roles, self.many, self.nets
        new.passed, new.used, new.undecided = self.passed, self.used, self.undecided
        return new

    def with_role(self, name: str, thing: Thing | None) -> State:
        new = self.copy()
        new.roles = {**self.roles, name: thing}
        if thing is not None:
            new.used = self.used | thing.atoms
        return new

    def with_many(self, name: str, things: tuple[Thing, ...]) -> State:
        new = self.copy()
        new.many = {**self.many, name: things}
        for thing in things:
            new.used |= thing.atoms
        return new

    def with_net(self, name: str, view: int, cls: int, node: int) -> State:
        new = self.copy()
        new.nets = {**self.nets, (name, view): (cls, node)}
        return new

    def with_passed(self, number: int, elements: tuple[int, ...]) -> State:
        if self.passed.get(number) == elements:
            return self
        new = self.copy()
        new.passed = {**self.passed, number: elements}
        return new

    def with_doubt(self, text: str) -> State:
        if text in self.undecided:
            return self
        new = self.copy()
        new.undecided = (*self.undecided, text)
        return new

    def is_bound(self, name: str) -> bool:
        """Whether a role is bound to something."""
        return self.roles.get(name) is not None or bool(self.many.get(name))

    def net(self, name: str) -> dict[int, Bound]:
        """A net in the views in which it is bound."""
        return {view: self.nets[name, view] for view in (0, 1, 2) if (name, view) in self.nets}
