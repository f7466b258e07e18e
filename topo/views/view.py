"""Views: quotients of the node set, each with what was taken for a wire, what for nothing, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph


@dataclass(frozen=True)
class Verdict:
    """What a view made of an element: `fate` is "short", "open", "shaping", "no effect", "undecided" or "kept".

    `rho` is |Z of the group| / |Z of the rest of the circuit across it| at mid band; `remark` is a remark in
    words on the band's edges; `assumed` says that it was decided by position because a value is not known.
    """

    fate: str
    rho: float | None = None
    rho_low: float | None = None
    rho_high: float | None = None
    facing: float | None = None
    remark: str = ""
    assumed: bool = False
    group: tuple[int, ...] = ()


@dataclass(frozen=True)
class Branch:
    """A two-terminal edge of a view: one element, or like elements in series about empty classes of the view.

    `kind` is a kind of the netlist language. `ends` are classes of the view; for a polarised kind the first
    is the anode or plus. `elements` are element indices in order from the first end to the second. `value` is the
    total, None if not known. `part_of` is ("VR1", "1", "w") for one half of a potentiometer, else None.
    """

    index: int
    kind: str
    ends: tuple[int, int]
    elements: tuple[int, ...]
    value: float | None
    part_of: tuple[str, str, str] | None = None


@dataclass(frozen=True)
class View:
    """One view. `class_of[node]` is the node's class; `zero` is the class of 0 (the signal view) or of ground.

    `rails` are classes that count as a rail, hard or derived, ground included. In the signal view every rail
    is in the class `zero`. `present` are indices of elements that are still parts in this view
    (neither wires nor gone). `branches` are its two-terminal edges, single and in series.
    """

    name: str
    class_of: tuple[int, ...]
    zero: int
    rails: frozenset[int]
    present: frozenset[int]
    verdicts: Mapping[int, Verdict] = field(default_factory=dict)
    branches: tuple[Branch, ...] = ()
    band: tuple[float, float] | None = None


@dataclass(frozen=True)
class DerivedRail:
    """A decoupled or switched rail: its node, the rail node that feeds it, and the elements that make it."""

    node: int
    source: int
    feed: tuple[int, ...]
    capacitors: tuple[int, ...]
    volts: float


@dataclass(frozen=True)
class Lead:
    """A net that a device's terminal reaches through its lead: the class, and the elements passed on the way."""

    target: int
    passed: tuple[int, ...] = ()


@dataclass(frozen=True)
class Views:
    """All views of a circuit: `wire`, `dc`, and a signal view for each band, the declared band first."""

    graph: Graph
    point: OperatingPoint
    wire: View
    dc: View
    signals: tuple[View, ...]
    derived: tuple[DerivedRail, ...] = ()
    spreaders: tuple[tuple[int, ...], ...] = ()
    lead_evidence: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()

    @property
    def signal(self) -> View:
        """The signal view of the declared band."""
        return self.signals[0]
