"""The reading: the consistent interpretation of a circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.errors import Problem
from topo.matching.match import Evidence, Match
from topo.netlist.circuit import Circuit, Port
from topo.views.view import Views


@dataclass(frozen=True)
class Figure:
    """A computed number: its name, value in SI units, unit, and status: "calculated" or "assumed" (rests on
    an assumed value), or "not known" (value None)."""

    name: str
    value: float | None
    unit: str
    status: str = "calculated"


@dataclass(frozen=True)
class Block:
    """One recognised sub-circuit that the reading keeps.

    `roles` maps role to designators; `parts` are the claimed designators in file order; `sort` is the
    pattern's `reading.sort`; `number` is its place in signal order, from 1; `serves` are designators of devices
    that a bias, supply or protection block serves. `loop` is, of a feedback block, the sign of its loop:
    "negative", "positive", "undecided", or "" where there is no loop to try. `returns_to` are designators of the
    devices that feedback by direct voltage controls, where there is no loop to try.
    """

    number: int
    pattern: str
    name: str
    sort: str
    roles: Mapping[str, tuple[str, ...]]
    parts: tuple[str, ...]
    devices: tuple[str, ...]
    serves: tuple[str, ...]
    figures: tuple[Figure, ...]
    evidence: tuple[Evidence, ...]
    undecided: tuple[str, ...]
    match: Match
    loop: str = ""
    returns_to: tuple[str, ...] = ()


@dataclass(frozen=True)
class StageClass:
    """Class of operation of a stage: "A", "AB", "B", "C", "switch", "off", and the numbers it rests on, in words.

    `idle` is the current at rest and `swing` the peak current of a full swing in class A, amperes, of one device.
    `volts` across one device at rest and `ohms` of load on it are what `swing` was computed from.
    """

    devices: tuple[str, ...]
    letter: str
    basis: str
    idle: float | None = None
    swing: float | None = None
    near_limit: bool = False
    volts: float | None = None
    ohms: float | None = None

    @property
    def most_power(self) -> float | None:
        """Watts into the load at full swing without losses, of a pair: V squared over 2 R."""
        return self.volts**2 / (2 * self.ohms) if self.volts and self.ohms else None


@dataclass(frozen=True)
class Step:
    """One step of the signal path: one designator, or the two sides of a pair.

    `net` is the net behind it ("s1 | s2" behind a phase splitter), `sign` is the sense of the signal there against
    the input: "+", "-", "?" where it is neither, "+|-" where the sides differ, "" where it is not known. `band` is the
    place of the signal's band among the views.
    """

    sides: tuple[tuple[str, ...], ...]
    net: str = ""
    sign: str = ""
    band: int = 0

    @property
    def refs(self) -> tuple[str, ...]:
        """All designators of the step."""
        return tuple(ref for side in self.sides for ref in side)


@dataclass(frozen=True)
class Section:
    """A section of a receiver: its name, its parts in file order, the active devices among them, and the frequency in
    hertz to which it is tuned (None where it is not)."""

    name: str
    parts: tuple[str, ...]
    devices: tuple[str, ...] = ()
    frequency: float | None = None


@dataclass(frozen=True)
class NearMiss:
    """A pattern that would match but for one thing: what is missing, which parts, and the line to look at."""

    pattern: str
    name: str
    parts: tuple[str, ...]
    message: str
    ref: str = ""
    line: int = 0
    source: str = ""
    mark: tuple[int, int] = (0, 0)
    suggestion: str = ""


@dataclass(frozen=True)
class Reading:
    """All that is understood of a circuit. Blocks are in signal order; parts in no block are `not_recognised`. Of a
    receiver, `sections` hold each part once, in signal order. `of_voltages` is all that the voltages at rest give rise
    to, notes too; `warnings` hold what of it concerns the reading."""

    circuit: Circuit
    views: Views
    blocks: tuple[Block, ...]
    path: tuple[Step, ...]
    classes: tuple[StageClass, ...]
    inputs: tuple[Port, ...]
    outputs: tuple[Port, ...]
    ports_inferred: bool
    summary: str
    bias_trimmers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    not_recognised: tuple[str, ...] = ()
    near_misses: tuple[NearMiss, ...] = ()
    assumptions: tuple[str, ...] = ()
    warnings: tuple[Problem, ...] = ()
    cautions: tuple[str, ...] = ()
    sections: tuple[Section, ...] = ()
    of_voltages: tuple[Problem, ...] = ()
