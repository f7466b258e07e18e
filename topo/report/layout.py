"""Lines of plain text: wrapping to a width, heads with something at the right, emphasis for a terminal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

WIDEST = 88
NARROWEST = 40
_NO_BREAK = "\N{NO-BREAK SPACE}"
# A figure stays on one line with its unit: "10 µF", "4.7 kΩ", "22 mA", "3 dB".
_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:[fpnµmkMG]?(?:Ω|F|H|V|A|W|Hz|s|S)|dB|°C|%)(?![\w]))")


@dataclass(frozen=True)
class Page:
    """How wide a page is, and whether emphasis may be set in the terminal's own bold."""

    width: int = WIDEST
    bold: bool = False

    def strong(self, text: str) -> str:
        """Text in bold where the page allows it."""
        return f"\x1b[1m{text}\x1b[0m" if self.bold and text else text

    def paragraph(self, text: str, indent: str = "", hanging: str | None = None) -> list[str]:
        """A paragraph in lines; `hanging` is the indent of all lines but the first."""
        kept = _FIGURE_AND_UNIT.sub(_NO_BREAK, text)
        wrapped = textwrap.wrap(
            kept,
            self.width,
            initial_indent=indent,
            subsequent_indent=indent if hanging is None else hanging,
            break_long_words=False,
            break_on_hyphens=False,
        )
        return [line.replace(_NO_BREAK, " ") for line in wrapped]

    def head(self, left: str, right: str, indent: str = "") -> list[str]:
        """A head line with words at its right end; they go to a line of their own where there is no room."""
        gap = self.width - len(left) - len(right)
        if gap >= 2:
            return [self.strong(left) + " " * gap + right]
        first = [self.strong(line) for line in self.paragraph(left, hanging=indent)]
        return first + self.paragraph(right, indent, indent)

    def table(self, rows: Iterable[tuple[str, ...]], indent: str = "") -> list[str]:
        """Rows in columns; the last column is wrapped under itself."""
        rows = [tuple(row) for row in rows]
        if not rows:
            return []
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]) - 1)]
        made: list[str] = []
        for row in rows:
            lead = indent + "".join(cell.ljust(wide) + "  " for cell, wide in zip(row, widths, strict=False))
            if len(lead) > self.width - 24:
                made += [lead.rstrip(), *self.paragraph(row[-1], indent + "    ")]
            else:
                made += self.paragraph(row[-1], lead, " " * len(lead)) or [lead.rstrip()]
        return made


def names(refs: Iterable[str], *, most: int | None = None) -> str:
    """Designators as people write them in a row: "R1, R2 and R3"."""
    listed = list(refs)
    if most is not None and len(listed) > most:
        return ", ".join(listed[:most]) + f" and {len(listed) - most} more"
    return " and ".join([", ".join(listed[:-1]), listed[-1]] if len(listed) > 1 else listed)
