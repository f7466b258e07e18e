"""The shape of a line: its first word, the words behind it, and its `name=value` settings."""

from __future__ import annotations

import re
from typing import NamedTuple

from topo.netlist.lines import Line
from topo.netlist.syntax import Word

_TOKEN = re.compile(
    r"""\{[^{}]*(?:\{[^{}]*\}[^{}]*)*\}    # a formula in braces
      | '[^']*' | "[^"]*"                  # a formula or a file's name in quotes
      | [=(),]
      | [^\s=(),{}'"]+
      | \S""",
    re.VERBOSE,
)


class Row(NamedTuple):
    """A line in words: `head` is the first of them, `settings` maps case-folded names to values.

    `names` keeps the spelling of the settings' names.
    """

    head: Word
    words: tuple[Word, ...]
    settings: dict[str, Word]
    names: dict[str, Word]
    line: Line

    @property
    def letter(self) -> str:
        """The letter that tells the kind of element, in capitals."""
        return self.head.text[:1].upper()


def row_of(line: Line) -> Row:
    """A line in words. Brackets and commas part words as white space does."""
    tokens = [Word(match[0], match.start()) for match in _TOKEN.finditer(line.text)]
    words: list[Word] = []
    settings: dict[str, Word] = {}
    names: dict[str, Word] = {}
    position, of_setting = 1, False
    while position < len(tokens):
        token = tokens[position]
        if position + 2 < len(tokens) and tokens[position + 1].text == "=" and token.text not in "(),=":
            name, position = token.text.casefold(), position + 2
            if tokens[position].text == "=":  # `==` of a formula that nobody quoted
                position += 1
            if position < len(tokens):
                settings[name], names[name] = tokens[position], token
            of_setting = True
        elif token.text == ",":
            if of_setting and position + 2 < len(tokens) and tokens[position + 2].text != "=":
                position += 1  # a further value of the same setting
        elif token.text not in "()=":
            words.append(token)
            of_setting = False
        position += 1
    return Row(tokens[0], tuple(words), settings, names, line)
