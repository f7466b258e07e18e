"""Views: quotients of the node set, each with what was taken for a wire, what for nothing, and why."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph

if TYPE_CHECKING:
    from topo.views.network import Network


@dataclass(frozen=True)
class Verdict:
    """What a view made of an element: `fate` is "short", "open", "shaping", "no effect", "undecided" or "kept".

    `rho` is |Z of the group| / |Z of the rest of the circuit across it| at mid band; `remark` is a remark in
    words on the band's edges; `assumed` says that it was decided by position because a value is not known.
    `facing` is |Z| in ohm that the rest of the circuit shows across the group. `group` are the element indices
    that were judged together. "shaping" is also what a tuning part is in its own band; `remark` says so.
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

    `nodes` are the graph nodes at the two outer ends (a branch that is a wire in this view has both `ends` in one
    class, its nodes still tell where it lies). `fate` is the verdict of the view: "kept" or "shaping" for a part,
    "short" for a wire, "no effect", "undecided"; "open" only among `View.gone`. `terminals` are the terminal names
    at the two ends, each of the element at that end.
    """

    index: int
    kind: str
    ends: tuple[int, int]
    elements: tuple[int, ...]
    value: float | None
    part_of: tuple[str, str, str] | None = None
    nodes: tuple[int, int] = (-1, -1)
    fate: str = "kept"
    terminals: tuple[str, str] = ("", "")

    @property
    def is_chain(self) -> bool:
        """Whether it is several elements in series."""
        return len(self.elements) > 1


@dataclass(frozen=True)
class Joint:
    """Two nodes that a view makes one, and by what: an element index, or -1 with `reason` "rails"."""

    a: int
    b: int
    element: int
    reason: str


@dataclass(frozen=True)
class View:
    """One view. `class_of[node]` is the node's class; `zero` is the class of 0 (the signal view) or of ground.

    A class is named by the least node in it, so `zero` is 0. `rails` are classes that count as a rail, hard or
    derived, ground included. In the signal view every rail is in the class `zero`. `present` are indices of
    elements that are still parts in this view (neither wires nor gone). `branches` are its two-terminal edges,
    chains first (the longest first), then single elements, each in file order; wires are among them with both ends
    in one class. `gone` are the edges that the view takes for nothing. `joints` are the merges that made the classes.
    """

    name: str
    class_of: tuple[int, ...]
    zero: int
    rails: frozenset[int]
    present: frozenset[int]
    verdicts: Mapping[int, Verdict] = field(default_factory=dict)
    branches: tuple[Branch, ...] = ()
    band: tuple[float, float] | None = None
    gone: tuple[Branch, ...] = ()
    joints: tuple[Joint, ...] = ()

    @property
    def middle(self) -> float | None:
        """Mid band in hertz, the geometric mean of the band's edges; None in views without a band."""
        return None if self.band is None else (self.band[0] * self.band[1]) ** 0.5

    @cached_property
    def branches_at(self) -> dict[int, tuple[int, ...]]:
        """Indices into `branches` by class, each branch once a class, wires left out."""
        table: dict[int, list[int]] = {}
        for position, branch in enumerate(self.branches):
            if branch.ends[0] != branch.ends[1]:
                for end in branch.ends:
                    table.setdefault(end, []).append(position)
        return {cls: tuple(row) for cls, row in table.items()}

    @cached_property
    def branches_of(self) -> dict[int, tuple[int, ...]]:
        """Indices into `branches` by element, chains first."""
        table: dict[int, list[int]] = {}
        for position, branch in enumerate(self.branches):
            for element in branch.elements:
                table.setdefault(element, []).append(position)
        return {element: tuple(row) for element, row in table.items()}

    @cached_property
    def members(self) -> dict[int, tuple[int, ...]]:
        """The nodes of each class."""
        table: dict[int, list[int]] = {}
        for node, cls in enumerate(self.class_of):
            table.setdefault(cls, []).append(node)
        return {cls: tuple(row) for cls, row in table.items()}

    @cached_property
    def _neighbours(self) -> dict[int, tuple[tuple[int, Joint], ...]]:
        table: dict[int, list[tuple[int, Joint]]] = {}
        for joint in self.joints:
            table.setdefault(joint.a, []).append((joint.b, joint))
            table.setdefault(joint.b, []).append((joint.a, joint))
        return {node: tuple(row) for node, row in table.items()}

    def why(self, a: int, b: int) -> tuple[int, ...] | None:
        """Element indices that make two nodes one in this view, on the way with the fewest merges.

        Empty where they are the same node or both rails; None where the view keeps them apart.
        """
        if self.class_of[a] != self.class_of[b]:
            return None
        came: dict[int, tuple[int, int]] = {a: (a, -1)}
        queue = deque([a])
        while queue and b not in came:
            node = queue.popleft()
            for other, joint in self._neighbours.get(node, ()):
                if other not in came:
                    came[other] = (node, joint.element)
                    queue.append(other)
        passed: list[int] = []
        node = b
        while node != a and node in came:
            node, element = came[node]
            if element >= 0 and element not in passed:
                passed.append(element)
        return tuple(reversed(passed))


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
    """A net that a device's terminal reaches through its lead: the class, and the elements passed on the way.

    `drop` is the DC volts across the lead (0 for the terminal's own net, NaN where not known); `node` is a graph
    node of the class, the one at the far end; `assumed` says that the limits were judged by position.
    """

    target: int
    passed: tuple[int, ...] = ()
    drop: float = 0.0
    node: int = -1
    assumed: bool = False


@dataclass(frozen=True)
class Tank:
    """A tuned circuit: the coil's element, its winding (None for a plain inductor), the ends of the coil that the
    capacitors lie across, the capacitors that tune it, resonance in hertz, and its Q with no generator connected."""

    element: int
    winding: int | None
    nodes: tuple[int, int]
    capacitors: tuple[int, ...]
    frequency: float
    q: float
    band: int = 0


@dataclass(frozen=True)
class Views:
    """All views of a circuit: `wire`, `dc`, and a signal view for each band, the declared band first.

    `linears` holds the linearised circuit that each signal view was judged on, `skeleton` the passive circuit with
    every device taken out (both None where nothing could be linearised). `bands_of` gives, for each device element,
    the signal views (by position in `signals`) that it belongs to. `switches` are saturated transistors taken as
    closed switches; `spreaders` chains of conducting junctions (and VBE multipliers with their resistors) that are
    one element; `driven` the currents in ampere at which devices were linearised that idle far below what
    their load asks for. `generator` is the assumed source resistance in ohm at the input, `generator_words` how it
    was chosen. `by_position` says that the views rest on positions alone, since no operating point was found.
    """

    graph: Graph
    point: OperatingPoint
    wire: View
    dc: View
    signals: tuple[View, ...]
    derived: tuple[DerivedRail, ...] = ()
    spreaders: tuple[tuple[int, ...], ...] = ()
    assumptions: tuple[str, ...] = ()
    linears: tuple[Any, ...] = ()
    skeleton: Any = None
    generator: float | None = None
    generator_words: str = ""
    tanks: tuple[Tank, ...] = ()
    bands_of: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    switches: tuple[int, ...] = ()
    driven: Mapping[int, float] = field(default_factory=dict)
    by_position: bool = False
    network: Network | None = field(default=None, compare=False, repr=False)
    skeleton_network: Network | None = field(default=None, compare=False, repr=False)

    @cached_property
    def lead_evidence(self) -> dict[str, tuple[str, ...]]:
        """The parts that stand in each device's control lead and change nothing there, by the device's designator."""
        from topo.views.leads import stoppers

        return stoppers(self)

    @cached_property
    def lead_table(self) -> dict[object, tuple[Lead, ...]]:
        """Leads that were walked already, by what was asked."""
        return {}

    def transfer(self, driven: int, seen: int, band: int = 0) -> complex | None:
        """Volts at a node for one volt at another that is driven there, at mid band; None where not known."""
        middle = self.signals[band].middle
        if self.network is None or middle is None:
            return None
        return self.network.transfer(driven, seen, middle)

    @property
    def signal(self) -> View:
        """The signal view of the declared band."""
        return self.signals[0]
