"""The shape of a line: words with their places, before anything is made of them."""

from __future__ import annotations

from typing import NamedTuple

from topo.netlist.lines import Line


class Word(NamedTuple):
    """A word of a line and where in the line's text it starts."""

    text: str
    start: int

    @property
    def end(self) -> int:
        """Where the word ends."""
        return self.start + len(self.text)


class Setting(NamedTuple):
    """A `name=value` of a part's *what*."""

    name: Word
    value: Word


class What(NamedTuple):
    """What a part is: words and settings in any order."""

    words: tuple[Word, ...]
    settings: tuple[Setting, ...]


class Item(NamedTuple):
    """A terminal of a part's *where*: the net, and the terminal's name if it was said."""

    name: Word | None
    net: Word

    @property
    def start(self) -> int:
        """Where the item starts in the line."""
        return self.name.start if self.name else self.net.start


class PartLine(NamedTuple):
    """`REF what : where`; `groups` are the terminals between bars."""

    ref: Word
    what: What
    groups: tuple[tuple[Item, ...], ...]
    line: Line

    @property
    def items(self) -> tuple[Item, ...]:
        """The terminals of all groups."""
        return self.groups[0] if len(self.groups) == 1 else tuple(item for group in self.groups for item in group)


class Statement(NamedTuple):
    """A statement: its keyword, its words, and the *what* of a `device`."""

    keyword: str
    words: tuple[Word, ...]
    what: What | None
    line: Line
