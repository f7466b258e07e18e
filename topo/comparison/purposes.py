"""What parts are for, in the words of their patterns: what a circuit without them goes without."""

from __future__ import annotations

from collections.abc import Iterable

from topo.comparison.outline import Item
from topo.matching.context import Context
from topo.matching.filling import fill
from topo.matching.shelf import Library
from topo.reading.reading import Reading

_VOICES = ("student", "technician")


class Purposes:
    """Fills the texts of roles for the parts of one reading."""

    def __init__(self, reading: Reading, library: Library) -> None:
        self._library = library
        self._context = Context(reading.views, library)

    def of(self, item: Item, parts: Iterable[str]) -> tuple[tuple[tuple[str, ...], str], ...]:
        """(designators, words) for each role of an item that any of some parts have and the pattern has words for."""
        wanted = set(parts)
        texts = self._library.texts(item.pattern.slug).roles
        said: dict[str, tuple[str, ...]] = {}
        for role, refs in item.roles.items():
            here = tuple(ref for ref in refs if ref in wanted)
            words = next((texts[role][voice] for voice in _VOICES if voice in texts.get(role, {})), None)
            filled = fill(words, item.block.match, self._context) if here and words is not None else None
            if filled is not None:
                said[filled.text] = said.get(filled.text, ()) + here
        return tuple((refs, f"each {text}" if len(refs) > 1 else text) for text, refs in said.items())
