"""What a role may bind: devices, branches, windings and whole parts, all with terminals on graph nodes."""

from __future__ import annotations

from topo.matching.match import Device
from topo.views.view import Branch


class Thing:
    """A candidate for roles.

    `sort` is "device", "branch", "winding" or "part"; `kind` a kind of the netlist language (of the output device for
    a compound). `terminals` maps terminal names to graph nodes, `pins` the same names to (element index, its terminal
    name). `atoms` is a bit mask of what it is made of: two things that share a bit cannot serve two roles. `key` tells
    what it is, whatever its direction: `turned` counts the ways in which `end` and `other` may lie, two of a winding or
    potentiometer. `row` numbers the things of one index.
    """

    __slots__ = (
        "atoms",
        "elements",
        "handle",
        "key",
        "kind",
        "number",
        "parts",
        "pins",
        "row",
        "sort",
        "terminals",
        "turned",
        "value",
    )

    def __init__(
        self,
        number: int,
        sort: str,
        kind: str,
        handle: object,
        elements: tuple[int, ...],
        parts: tuple[str, ...],
        pins: dict[str, tuple[int, str]],
        terminals: dict[str, int],
        atoms: int,
        key: tuple,
        value: float | None = None,
        turned: int = 0,
    ) -> None:
        self.number = number
        self.sort = sort
        self.kind = kind
        self.handle = handle
        self.elements = elements
        self.parts = parts
        self.pins = pins
        self.terminals = terminals
        self.atoms = atoms
        self.key = key
        self.value = value
        self.turned = turned
        self.row = -1

    def __repr__(self) -> str:
        return f"<{self.kind} {'+'.join(self.parts)}>"

    @property
    def device(self) -> Device:
        """The device, for things of that sort."""
        assert isinstance(self.handle, Device)
        return self.handle

    @property
    def branch(self) -> Branch | None:
        """The branch, None for other sorts."""
        return self.handle if isinstance(self.handle, Branch) else None


class Pin:
    """A terminal of a bound thing, as an argument of an expression's function."""

    __slots__ = ("node", "terminal", "thing")

    def __init__(self, thing: Thing, terminal: str) -> None:
        self.thing = thing
        self.terminal = terminal
        self.node = thing.terminals[terminal]


class NetRef:
    """A bound net as an argument of an expression's function: its name, one of its nodes, its class in each view."""

    __slots__ = ("classes", "name", "node")

    def __init__(self, name: str, node: int, classes: dict[int, int]) -> None:
        self.name = name
        self.node = node
        self.classes = classes
