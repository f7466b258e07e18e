"""The texts of the patterns, filled for the blocks of one reading."""

from __future__ import annotations

from collections.abc import Iterable

from topo.explanation.listing import sentence
from topo.explanation.statements import Statement
from topo.matching import Context, fill
from topo.matching.filling import Filled
from topo.matching.match import Device
from topo.matching.shelf import Library
from topo.reading.reading import Block, Reading


class Texts:
    """Fills texts in one voice; a sentence in which anything is not known is left out."""

    def __init__(self, library: Library, reading: Reading, voice: str) -> None:
        self._library = library
        self._voice = voice
        self._context = Context(reading.views, library)

    def is_restless(self, block: Block) -> bool:
        """Whether a block never stays at the operating point that the equations of the circuit give."""
        return self._library.get(block.pattern).reading.restless

    def statements(self, block: Block) -> tuple[Statement, ...]:
        """What is said of a block as a whole."""
        texts = self._library.texts(block.pattern).block.get(self._voice, [])
        return tuple(
            Statement(text, filled.refs or block.parts, filled.assumed, bool(filled.numbers))
            for text, filled in self._filled(texts, block)
        )

    def roles(self, block: Block) -> tuple[tuple[tuple[str, ...], str], ...]:
        """(designators, words) for each role of a block's own that the pattern has words for."""
        texts = self._library.texts(block.pattern).roles
        said: dict[tuple[str, ...], str] = {}
        for role, refs in self._own_roles(block):
            text = texts.get(role, {}).get(self._voice)
            filled = fill(text, block.match, self._context) if text is not None else None
            if filled is not None:
                said.setdefault(refs, filled.text)
        return _gathered(said)

    def role_words(self, block: Block) -> tuple[tuple[tuple[str, ...], str], ...]:
        """(designators, the pattern's word for the role), for every role of a block's own."""
        roles = self._library.get(block.pattern).roles
        return tuple((refs, roles[role].word or role) for role, refs in self._own_roles(block) if role in roles)

    def compounds(self, block: Block) -> tuple[str, ...]:
        """The block's devices that are several transistors, each as "Q7+Q9"."""
        elements = self._context.views.graph.elements
        devices = [item for row in block.match.handles.values() for item in row if isinstance(item, Device)]
        return tuple(
            dict.fromkeys(
                "+".join(ref for index in device.elements for ref in elements[index].members)
                for device in devices
                if len(device.elements) > 1
            )
        )

    def checks(self, block: Block) -> tuple[str, ...]:
        """What to measure or adjust."""
        return self._plain(self._library.texts(block.pattern).check, block)

    def cautions(self, block: Block) -> tuple[str, ...]:
        """What calls for care."""
        return self._plain(self._library.texts(block.pattern).cautions, block)

    def _own_roles(self, block: Block) -> Iterable[tuple[str, tuple[str, ...]]]:
        """Roles in the pattern's order with their designators, those aside of which a part must only exist."""
        known = self._library.get(block.pattern).roles
        for role, refs in block.roles.items():
            if refs and not (role in known and known[role].witness):
                yield role, refs

    def _plain(self, texts, block: Block) -> tuple[str, ...]:
        return tuple(text for text, _ in self._filled(texts, block))

    def _filled(self, texts, block: Block) -> Iterable[tuple[str, Filled]]:
        """Each text that can be filled, as a sentence; a net's name keeps its first letter."""
        for text in texts:
            filled = fill(text, block.match, self._context)
            if filled is not None:
                yield sentence(filled.text, large=bool(text) and text[0][0] == "text"), filled


def _gathered(said: dict[tuple[str, ...], str]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Roles of which the same is said in one row: the two emitter resistors of a pair."""
    rows: dict[str, list[str]] = {}
    for refs, words in said.items():
        rows.setdefault(words, []).extend(ref for ref in refs if ref not in rows.get(words, ()))
    return tuple((tuple(refs), words) for words, refs in rows.items())
