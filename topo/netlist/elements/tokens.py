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


# A name and the equals sign behind it; not a sign of comparison.
_ASSIGNED = re.compile(r"([A-Za-z_][\w.]*)\s*=(?![=])(?<![=<>!]=)")


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
    tokens = [Word(match[0], match.start()) for match in _TOKEN.finditer(line.text)] or [Word(line.text, 0)]
    words: list[Word] = []
    settings: dict[str, Word] = {}
    names: dict[str, Word] = {}
    position, of_setting = 1, False
    while position < len(tokens):
        token = tokens[position]
        if position + 2 < len(tokens) and tokens[position + 1].text == "=" and token.text not in "(),=":
            if token.text[:7].casefold() == "params:" and len(token.text) > 7:
                token = Word(token.text[7:], token.start + 7)
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


def assignments(text: str) -> dict[str, Word]:
    """The `name=value` pairs of a line whose values may be formulas with spaces, commas and brackets of their own.

    The names are case-folded; a value goes on to the next name that stands outside of brackets and quotes.
    """
    inside = _inside(text)
    starts = [
        (match[1].casefold(), match.start(), match.end())
        for match in _ASSIGNED.finditer(text)
        if not inside[match.start()]
    ]
    found: dict[str, Word] = {}
    for place, (name, _, start) in enumerate(starts):
        end = starts[place + 1][1] if place + 1 < len(starts) else len(text)
        piece = text[start:end]
        value = piece.strip().rstrip(",").rstrip()
        found[name] = Word(value, start + len(piece) - len(piece.lstrip()))
    return found


def _inside(text: str) -> bytearray:
    """For every character of a text whether it stands within brackets, braces or quotes."""
    marks, depth, quote = bytearray(len(text)), 0, ""
    for place, character in enumerate(text):
        marks[place] = bool(depth or quote)
        if quote:
            quote = "" if character == quote else quote
        elif character in "\"'":
            quote = character
        elif character in "([{":
            depth += 1
        elif character in ")]}":
            depth = max(0, depth - 1)
    return marks
