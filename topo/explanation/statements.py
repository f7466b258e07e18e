"""Statements: what is said of a circuit, each with the parts and the evidence that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from topo.reading.reading import Block, Reading
from topo.reduction.reduction import Reduction

VOICES = ("student", "technician")


@dataclass(frozen=True)
class Statement:
    """One sentence, the designators that it speaks of, and whether a number in it rests on an assumed value."""

    text: str
    parts: tuple[str, ...] = ()
    assumed: bool = False


@dataclass(frozen=True)
class BlockText:
    """What is said of one block: heading, statements, a line for each role, what to check, cautions."""

    block: Block
    title: str
    statements: tuple[Statement, ...]
    roles: tuple[tuple[tuple[str, ...], str], ...] = ()
    checks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Explanation:
    """The whole explanation in one voice."""

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
