"""How wide a text is when it is set, and where its lines break."""

from __future__ import annotations

import re
from functools import lru_cache

FONTS = "Helvetica, Arial, 'Liberation Sans', sans-serif"

# Advance widths in thousandths of the type size: Adobe's core font metrics of Helvetica (from memory).
_WIDTHS = {
    " \xa0,./!:;ft()I[]\\·'": 278,
    "abdeghnopquL0123456789_$?#": 556,
    "ckszvxyJ": 500,
    "ABEKPSVXY&": 667,
    "CDHNRUw": 722,
    "GOQ": 778,
    "FTZ": 611,
    "Mm": 833,
    "W": 944,
    "ijl|": 222,
    "r-": 333,
    "+=<>~±−×": 584,
    "Ωµ": 740,
    "→": 1000,
}
_WIDTH_OF = {sign: width for signs, width in _WIDTHS.items() for sign in signs}
_BREAKS = re.compile(r"[ \t\r\n]+")
_OTHER = 650
_BOLD = 1.06
# Room for the wider face that is set where none of FONTS is installed.
_SPARE = 1.12


@lru_cache(maxsize=4096)
def width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of text, in the unit of its type size; unknown signs count as wide ones."""
    thousandths = sum(_WIDTH_OF.get(sign, _OTHER) for sign in text)
    return thousandths * size / 1000 * _SPARE * (_BOLD if bold else 1.0)


def lines(text: str, size: float, room: float, *, bold: bool = False, most: int = 4) -> list[str]:
    """Text broken at spaces, but at no no-break space, into lines of at most `room`.

    A text of more than `most` lines ends in an ellipsis.
    """
    broken: list[str] = []
    for word in (word for word in _BREAKS.split(text) if word):
        joined = f"{broken[-1]} {word}" if broken else word
        if broken and width(joined, size, bold=bold) <= room:
            broken[-1] = joined
        else:
            broken.append(word)
    if len(broken) > most:
        broken = [*broken[: most - 1], broken[most - 1] + " …"]
    return [_shortened(line, size, room, bold) for line in broken]


def _shortened(line: str, size: float, room: float, bold: bool) -> str:
    """A line cut so that it fits, for a word that is longer than the room."""
    if width(line, size, bold=bold) <= room:
        return line
    while line and width(line + "…", size, bold=bold) > room:
        line = line[:-1]
    return line + "…"
