"""What a list says, sorted: elements, models, parameters and sub-circuits, each where it holds."""

from __future__ import annotations

from dataclasses import dataclass, field

from topo.netlist.elements.formulas import Function
from topo.netlist.elements.tokens import Row
from topo.netlist.lines import Line
from topo.netlist.syntax import Word


@dataclass(frozen=True)
class Model:
    """A `.model` line: its type in capitals, its parameters by case-folded name, words without a value."""

    name: str
    type: str
    params: dict[str, Word]
    flags: frozenset[str]
    base: str
    line: Line


@dataclass
class Body:
    """What holds within one sub-circuit, or in the list itself (`name` is then empty)."""

    name: str = ""
    nodes: tuple[Word, ...] = ()
    line: Line | None = None
    outer: Body | None = None
    defaults: dict[str, Word] = field(default_factory=dict)
    params: dict[str, tuple[Word, Line]] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    models: dict[str, Model] = field(default_factory=dict)
    bodies: dict[str, Body] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)

    def model(self, name: str) -> Model | None:
        """The model of a name, here or further out."""
        body: Body | None = self
        while body is not None:
            if (found := body.models.get(name.casefold())) is not None:
                return found
            body = body.outer
        return None

    def function(self, name: str) -> Function | None:
        """The list's own function of a case-folded name, here or further out."""
        body: Body | None = self
        while body is not None:
            if (found := body.functions.get(name)) is not None:
                return found
            body = body.outer
        return None

    def body(self, name: str) -> Body | None:
        """The sub-circuit of a name, here or further out."""
        here: Body | None = self
        while here is not None:
            if (found := here.bodies.get(name.casefold())) is not None:
                return found
            here = here.outer
        return None


@dataclass
class Listing:
    """A whole list: its body, and what its other lines say.

    `probes` are (rank, net, reference or None, line): what the list asks to see, the surest first by rank. `sweep` is
    the band of an `.ac` line. `globals` are case-folded nets that mean the same in every sub-circuit. `kept` are own
    lines.
    """

    title: str = ""
    body: Body = field(default_factory=Body)
    temperature: Word | None = None
    temperature_line: Line | None = None
    probes: list[tuple[int, Word, Word | None, Line]] = field(default_factory=list)
    sweep: tuple[Word, Word] | None = None
    globals: set[str] = field(default_factory=set)
    kept: list[tuple[str, tuple[str, ...], Line]] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
