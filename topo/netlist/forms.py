"""Values typed in a form that the rest of their file does not use, as a slip of the pen leaves them.

A letter typed one place too early gives 47u0 for 470u, one too late 0k47 for 4k7; a nought typed twice gives 4700 in a
file that writes 4k7. All of them are values, so they are only asked about, and only where no other value of the file
is typed like that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from topo.netlist.lines import Line
from topo.netlist.syntax import Word
from topo.quantities import rkm, show

# So many other values of a kind show how a file writes thousands; a single one shows nothing.
_LEAST_OTHERS = 2
_EARLY = re.compile(r"(\d{2,})([RrkKMunpm])0")
# 1u0 for 10u, where the file writes 1k and 2u, not 1k0.
_EARLY_BY_ONE, _BY_ONE = re.compile(r"(\d)([RrkKMunpm])0"), re.compile(r"\d[RrkKMunpm]")
_LATE = re.compile(r"0([kK])(\d)(\d?)")
_LONG = {"resistor": re.compile(r"\d{4,}[RrkK]?"), "capacitor": re.compile(r"\d{4,}n")}
_SHORT = {"resistor": re.compile(r"\d*[kKM]\d*"), "capacitor": re.compile(r"\d*u\d*")}
_THREE_FIGURES = re.compile(r"[1-9]\d?[RrkKMunpm]?\d?[1-9]")
_UNIT = {"resistor": "ohm", "capacitor": "F"}


class _Typed(NamedTuple):
    kind: str
    text: str
    value: float
    line: Line
    word: Word


class Forms:
    """Remembers how the resistors and capacitors of a file are typed."""

    def __init__(self) -> None:
        self._typed: list[_Typed] = []

    def note(self, kind: str, text: str, value: float, line: Line, word: Word) -> None:
        """Take in one value as it is typed."""
        self._typed.append(_Typed(kind, text.removesuffix("F"), value, line, word))

    def odd(self) -> Iterator[tuple[Line, Word, dict[str, str]]]:
        """The values of a form that nothing else in the file has, with what may have been meant."""
        exact = [item for item in self._typed if _is_exact(item.text)]
        early = [item for item in self._typed if _EARLY.fullmatch(item.text)]
        late = [item for item in self._typed if _LATE.fullmatch(item.text)]
        ones = [item for item in self._typed if _EARLY_BY_ONE.fullmatch(item.text)]
        plain = [item for item in self._typed if _BY_ONE.fullmatch(item.text)]
        for item in self._typed:
            if (found := _EARLY.fullmatch(item.text)) and len(early) == 1 and not exact:
                yield self._asked(item, f"{found[1]}0{found[2]}", "its last 0 says nothing")
            elif (found := _EARLY_BY_ONE.fullmatch(item.text)) and len(ones) == 1 and len(plain) >= _LEAST_OTHERS:
                yield self._asked(item, f"{found[1]}0{found[2]}", "its 0 says nothing")
            elif (found := _LATE.fullmatch(item.text)) and len(late) == 1:
                yield self._asked(item, found[2] + found[1] + found[3], "below a thousand no k is needed")
            elif _LONG[item.kind].fullmatch(item.text) and self._is_alone(item):
                yield self._asked(item, rkm(item.value / 10, _UNIT[item.kind]), "a larger unit is used elsewhere")

    def _is_alone(self, item: _Typed) -> bool:
        """Whether the file writes its other values of that size with a larger unit."""
        others = [other for other in self._typed if other.kind == item.kind and other is not item]
        short = [other for other in others if _SHORT[item.kind].fullmatch(other.text)]
        return len(short) >= _LEAST_OTHERS and not any(_LONG[item.kind].fullmatch(other.text) for other in others)

    @staticmethod
    def _asked(item: _Typed, meant: str, why: str) -> tuple[Line, Word, dict[str, str]]:
        words = {"text": item.word.text, "shown": show(item.value, _UNIT[item.kind]), "why": why, "meant": meant}
        return item.line, item.word, words


def _is_exact(text: str) -> bool:
    """Whether a value is told to three figures, as those of 1 % are: in such a file 10k0 is usual."""
    return len(re.sub(r"\D", "", text)) >= 3 and bool(_THREE_FIGURES.fullmatch(text))
