"""The circuit as typed: parts, terminals, nets, ports, rails. Immutable; every item keeps its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from topo.errors import Place, Problem

GROUND = "gnd"


@dataclass(frozen=True)
class Terminal:
    """One terminal of a part: its name (`b`, `1`, `w1.2`) and the net it is on."""

    name: str
    net: str
    place: Place = field(default=Place(), compare=False)


@dataclass(frozen=True)
class Winding:
    """A winding of a transformer or tapped inductor.

    `terminals` are terminal names: start (the dotted end), taps, finish. `turns` has one relative
    figure for each section between them. `assumed` says that the ratio was not given.
    """

    name: str
    terminals: tuple[str, ...]
    turns: tuple[float, ...]
    assumed: bool = False


@dataclass(frozen=True)
class Part:
    """A part as typed.

    `kind` is a word of `topo.netlist.kinds`. `value` is the main value in SI units (ohm, farad, henry,
    volt), None where not known; `value_text` is how it was typed. `params` holds device parameters and
    `name=value` settings as numbers (`hFE`, `IS`, `rdc`, `primary`, `k`, ...), the part's own over its type's.
    `settings` holds what is not a number: `at` (0..1 wiper), `state` ("open", "closed", "rest", "worked"),
    `way` (selector), `germanium`, `polarised`. `ratings` holds limits such as {"V": 16.0, "W": 0.5}.
    """

    ref: str
    kind: str
    terminals: tuple[Terminal, ...]
    value: float | None = None
    value_text: str = ""
    type_name: str | None = None
    params: Mapping[str, float] = field(default_factory=dict)
    settings: Mapping[str, object] = field(default_factory=dict)
    ratings: Mapping[str, float] = field(default_factory=dict)
    windings: tuple[Winding, ...] = ()
    section: str | None = None
    place: Place = field(default=Place(), compare=False)
    source: str = field(default="", compare=False)

    def net(self, terminal: str) -> str:
        """The net of a terminal, by the terminal's name; KeyError if there is none."""
        for item in self.terminals:
            if item.name == terminal:
                return item.net
        raise KeyError(terminal)


@dataclass(frozen=True)
class Supply:
    """A rail: its net, volts to ground, and source resistance in ohm (0 if not said)."""

    net: str
    volts: float
    resistance: float = 0.0
    place: Place = field(default=Place(), compare=False)


@dataclass(frozen=True)
class Port:
    """Where the signal enters or leaves: a net, and the net that it is measured against."""

    net: str
    reference: str = GROUND
    place: Place = field(default=Place(), compare=False)


@dataclass(frozen=True)
class Circuit:
    """A whole circuit. `nets` are in order of first mention, by the spelling first seen.

    `bands` maps a section's name (None for the whole circuit) to its signal band (low, high) in hertz.
    `band_assumed` says that the band is the default and not given. `aliases` maps every other spelling
    or joined name, case-folded, to the net's shown name. `lines` holds the lines of statements as typed, by number.
    `by_order` are the field-effect transistors whose electrodes were told by the order of a list alone.
    """

    title: str = ""
    parts: tuple[Part, ...] = ()
    nets: tuple[str, ...] = ()
    supplies: tuple[Supply, ...] = ()
    ground: str = GROUND
    inputs: tuple[Port, ...] = ()
    outputs: tuple[Port, ...] = ()
    bands: Mapping[str | None, tuple[float, float]] = field(default_factory=dict)
    band_assumed: bool = False
    temperature: float = 27.0
    notes: tuple[str, ...] = ()
    sections: tuple[str, ...] = ()
    aliases: Mapping[str, str] = field(default_factory=dict)
    net_places: Mapping[str, Place] = field(default_factory=dict, compare=False)
    lines: Mapping[int, str] = field(default_factory=dict, compare=False)
    file: str = "<text>"
    by_order: frozenset[str] = field(default=frozenset(), compare=False)
    warnings: tuple[Problem, ...] = field(default=(), compare=False)

    @cached_property
    def by_ref(self) -> dict[str, Part]:
        """Parts by their designator as shown."""
        return {part.ref: part for part in self.parts}

    def part(self, ref: str) -> Part:
        """A part by its designator, whatever the case; KeyError if there is none."""
        found = self.by_ref.get(ref)
        if found is None:
            found = next((part for part in self.parts if part.ref.casefold() == ref.casefold()), None)
        if found is None:
            raise KeyError(ref)
        return found

    @property
    def band(self) -> tuple[float, float] | None:
        """The signal band of the whole circuit in hertz, or None where it is not known."""
        return self.bands.get(None)

    def graph(self):
        """A networkx graph of part and net vertices, an edge a terminal (imports networkx)."""
        from topo.graph.public import networkx_graph

        return networkx_graph(self)
