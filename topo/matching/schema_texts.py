"""Texts and examples of a pattern, as read from its file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

# A text in segments, see `placeholders`.
Segments = list[list[Any]]


@dataclass(frozen=True)
class Example:
    """An example of a pattern: a netlist that must match (with some of its roles), or must not.

    `roles` maps a role to the designators that it must have; `known_miss` marks one that is known to go wrong.
    `lines` is the line of the file at which the netlist begins.
    """

    words: str
    netlist: str
    matches: bool
    roles: dict[str, tuple[str, ...]] = field(default_factory=dict)
    known_miss: bool = False
    line: int = 0


@dataclass(frozen=True)
class Texts:
    """Texts of a pattern as segments: by voice for the block, by role and voice, checks, cautions, near miss."""

    block: dict[str, list[Segments]] = field(default_factory=dict)
    roles: dict[str, dict[str, Segments]] = field(default_factory=dict)
    check: list[Segments] = field(default_factory=list)
    cautions: list[Segments] = field(default_factory=list)
    near_miss: Segments = field(default_factory=list)
    omit: dict[str, dict[str, Segments]] = field(default_factory=dict)
