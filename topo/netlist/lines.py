"""From a text to its logical lines: comments gone, continued lines joined, every character's place kept."""

from __future__ import annotations

from dataclasses import dataclass

from topo.errors import Place

LONGEST_TEXT = 50_000_000
LONGEST_LINE = 20_000
MOST_LINES = 500_000


@dataclass(frozen=True)
class Line:
    """A logical line: its text without comments, and the physical lines that it was made of.

    `pieces` holds, for each physical line, where its text starts in `text`, its number, and the line as typed.
    """

    text: str
    pieces: tuple[tuple[int, int, str], ...]
    file: str

    @property
    def number(self) -> int:
        """The number of the first physical line."""
        return self.pieces[0][1]

    @property
    def source(self) -> str:
        """The physical lines as typed."""
        if len(self.pieces) == 1:
            return self.pieces[0][2]
        return "\n".join(piece[2] for piece in self.pieces)

    def place(self, start: int, length: int = 1) -> Place:
        """The place of a stretch of the text; it ends with its physical line."""
        at, number, raw = self.pieces[0] if len(self.pieces) == 1 else self.piece(start)
        return Place(self.file, number, start - at + 1, max(1, min(length, len(raw) - (start - at))))

    def piece(self, start: int) -> tuple[int, int, str]:
        """The physical line in which a character of the text stands."""
        found = self.pieces[0]
        for piece in self.pieces[1:]:
            if piece[0] > start:
                break
            found = piece
        return found


def logical_lines(text: str, file: str) -> list[Line]:
    """The lines of a text that say something, in order; LF, CR LF and CR all end a line."""
    if text.startswith("\ufeff"):
        text = text[1:]
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines: list[Line] = []
    held: list[tuple[int, int, str]] = []
    joined = ""
    for number, raw in enumerate(text.split("\n"), 1):
        said = raw.partition("#")[0].rstrip()
        goes_on = said.endswith("\\")
        if goes_on:
            said = said[:-1] + " "
        if held:
            held.append((len(joined), number, raw))
            joined += said
        elif goes_on:
            held, joined = [(0, number, raw)], said
        elif said:
            lines.append(Line(said, ((0, number, raw),), file))
        if held and not goes_on:
            if joined.strip():
                lines.append(Line(joined, tuple(held), file))
            held = []
    if held and joined.strip():
        lines.append(Line(joined, tuple(held), file))
    return lines


def source_at(source: str, first: int, number: int) -> str:
    """The physical line of that number among the lines of a source that starts at line `first`."""
    rows = source.split("\n")
    return rows[number - first] if 0 <= number - first < len(rows) else rows[0]
