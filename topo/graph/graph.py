"""The normalised circuit: elements between integer nodes, each element with the parts it is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from topo.netlist.circuit import Circuit, Part


@dataclass(frozen=True)
class Composition:
    """How a two-terminal element is made of its members: a tree of series and parallel sets.

    `rule` is "part", "series" or "parallel". A "part" has its designator in `ref`; `turned` says that its first
    terminal lies at the second end of the set. `inner[i]` are the original nets between `sets[i]` and
    `sets[i + 1]` of a series. `value` in SI units, None where not known.
    """

    rule: str
    value: float | None = None
    ref: str = ""
    turned: bool = False
    sets: tuple[Composition, ...] = ()
    inner: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Element:
    """A part, or several merged into one.

    `name` is for people: `R7`, `R7+R8` (in series), `C3|C4` (in parallel). `terminals` and `nodes` run side by
    side. `value` is the merged value in SI units. `members` are designators in file order; `made_of` says how
    they lie together, and `part` is the first of them.
    A potentiometer whose wiper is joined to one end, or used as two terminals, is a `resistor` element, with the
    names of the two terminals that it uses.
    """

    index: int
    name: str
    kind: str
    terminals: tuple[str, ...]
    nodes: tuple[int, ...]
    value: float | None
    members: tuple[str, ...]
    part: Part
    params: Mapping[str, float] = field(default_factory=dict)
    made_of: Composition = field(default_factory=lambda: Composition("part"), compare=False)

    def node(self, terminal: str) -> int:
        """The node of a terminal by its name; KeyError if there is none."""
        try:
            return self.nodes[self.terminals.index(terminal)]
        except ValueError:
            raise KeyError(terminal) from None


@dataclass(frozen=True)
class WindingElement:
    """One winding: element and core it belongs to, nodes start, taps, finish; turns of each section."""

    index: int
    element: int
    name: str
    nodes: tuple[int, ...]
    turns: tuple[float, ...]


@dataclass(frozen=True)
class Merge:
    """A normalising step: `rule` is "series", "parallel", "link" or "end tie"; `into` is the element's name."""

    rule: str
    parts: tuple[str, ...]
    into: str
    reason: str


@dataclass(frozen=True)
class Graph:
    """The normalised circuit. Node 0 is ground; `nets[i]` is the shown name of node i.

    `node_of` maps every original net to its node; a net that vanished inside a series merge is not in it
    but in `inner`, which maps it to the index of the element that holds it. `links` are parts that became
    wires (fuse, closed switch, meter, resistor under 10 milliohm) and are in no element.
    `rails` maps the node of each given supply to its volts (battery ends and regulator outputs included
    where they stand against ground or a rail; NaN where the voltage is not given). `assumed` maps designators to what
    had to be assumed of them (a wiper's position, a switch's state), in words. A part with both ends on one net is in
    no element; its "end tie" is among the merges.
    """

    circuit: Circuit
    nets: tuple[str, ...]
    node_of: Mapping[str, int]
    elements: tuple[Element, ...]
    windings: tuple[WindingElement, ...] = ()
    inner: Mapping[str, int] = field(default_factory=dict)
    links: tuple[str, ...] = ()
    merges: tuple[Merge, ...] = ()
    rails: Mapping[int, float] = field(default_factory=dict)
    assumed: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def element_of(self) -> dict[str, int]:
        """Element index by the designator of any member."""
        return {ref: element.index for element in self.elements for ref in element.members}

    @cached_property
    def windings_of(self) -> dict[int, tuple[WindingElement, ...]]:
        """The windings of each element that has any, in their order."""
        table: dict[int, list[WindingElement]] = {}
        for winding in self.windings:
            table.setdefault(winding.element, []).append(winding)
        return {element: tuple(rows) for element, rows in table.items()}

    @cached_property
    def at_node(self) -> tuple[tuple[tuple[int, str], ...], ...]:
        """For each node, its (element index, terminal name) pairs in file order."""
        table: list[list[tuple[int, str]]] = [[] for _ in self.nets]
        for element in self.elements:
            for terminal, node in zip(element.terminals, element.nodes, strict=True):
                table[node].append((element.index, terminal))
        return tuple(tuple(row) for row in table)
