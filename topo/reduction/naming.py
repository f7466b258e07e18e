"""What a ledger calls a part: its role, in the words of the pattern of the stage that it belongs to."""

from __future__ import annotations

from collections.abc import Sequence

from topo.matching.match import Match
from topo.matching.shelf import Library
from topo.reading.reading import Block


def place_of(ref: str, blocks: Sequence[Block], library: Library) -> tuple[Block | None, str]:
    """The block that a part belongs to and the word for its role there, "" where it only lies in a lead.

    A stage goes before a whole that is put together of stages.
    """
    those = [block for block in blocks if ref in block.parts]
    if not those:
        return None, ""
    block = next((block for block in those if not block.match.components), those[0])
    role = next((role for role, refs in block.roles.items() if ref in refs), "")
    return block, role_word(block.match, role, library) if role else ""


def role_word(match: Match, role: str, library: Library) -> str:
    """The pattern's word for a role; for that of a component, "bias.feed", the word of the component's pattern."""
    known = library.get(match.pattern).roles.get(role)
    if known is not None and known.word:
        return known.word
    component, _, rest = role.partition(".")
    inner = match.components.get(component)
    return role if inner is None or not rest else role_word(inner, rest, library)
