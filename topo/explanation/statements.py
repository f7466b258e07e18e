"""Statements: what is said of a circuit, each with the parts and the evidence that it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from topo.reading.reading import Block, NearMiss, Reading
from topo.reduction.reduction import Reduction

if TYPE_CHECKING:
    from topo.reading.driven import Driven

VOICES = ("student", "technician")


@dataclass(frozen=True)
class Statement:
    """One sentence, the designators that it speaks of, and whether a number in it rests on an assumed value.

    `has_numbers` is False for what would be said of any circuit of its sort.
    """

    text: str
    parts: tuple[str, ...] = ()
    assumed: bool = False
    has_numbers: bool = False


@dataclass(frozen=True)
class BlockText:
    """What is said of one block: heading, statements, a line for each role, what to check, cautions.

    `roles` holds (designators, words). `parts` are all designators under the heading, the devices first; they
    include those of `companions`, the small blocks that are told with this one. `block` is None for what is
    told of the supply and its filters together. `compounds` are its devices of several transistors: "Q7+Q9".
    """

    block: Block | None
    title: str
    statements: tuple[Statement, ...]
    roles: tuple[tuple[tuple[str, ...], str], ...] = ()
    checks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    companions: tuple[BlockText, ...] = ()
    compounds: tuple[str, ...] = ()


@dataclass(frozen=True)
class SectionText:
    """A section of a receiver: its name, its parts, what it is tuned to in words, the places of its headings among the
    explanation's blocks."""

    name: str
    parts: tuple[str, ...]
    tuned: str = ""
    blocks: tuple[int, ...] = ()


@dataclass(frozen=True)
class PartLine:
    """One part of the circuit in the list of all parts: what it is, what it is for, and whether it is left out."""

    ref: str
    what: str
    role: str
    fate: str


@dataclass(frozen=True)
class SignalTable:
    """Distortion over the settings of one bias trimmer: what it is, the heads of its columns, and its rows."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class SignalText:
    """What is said of the circuit under drive."""

    title: str
    statements: tuple[Statement, ...]
    tables: tuple[SignalTable, ...] = ()


@dataclass(frozen=True)
class Explanation:
    """The whole explanation in one voice.

    `counts` says how large the circuit is; `path` is the signal path in one line. `omitted` has a line for each
    detail, `proof` what the reduced circuits gave when they were solved again. `parts` has a line for every part.
    `driven` and `signal` are the circuit under drive and what is said of it, None where that was not asked for.
    `sections` are those of a receiver; `only_sections` the names of those to which the explanation was cut down.
    """

    reading: Reading
    reductions: tuple[Reduction, ...]
    voice: str
    title: str
    summary: tuple[str, ...]
    blocks: tuple[BlockText, ...]
    omitted: tuple[str, ...]
    not_recognised: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    counts: str = ""
    path: str = ""
    proof: tuple[str, ...] = ()
    parts: tuple[PartLine, ...] = ()
    near_misses: tuple[NearMiss, ...] = ()
    warnings: tuple[str, ...] = ()
    driven: Driven | None = None
    signal: SignalText | None = None
    sections: tuple[SectionText, ...] = ()
    only_sections: tuple[str, ...] = ()
