"""From a text to its logical lines: comments gone, continued lines joined, every character's place kept."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from topo.netlist.lines import LONGEST_LINE, Line

# Names that drawing programs of many kinds give to nets: no comment, though a dollar sign starts them.
_DOLLAR_NAME = re.compile(r"\$[A-Za-z]_")
# A comment by which `topo convert` keeps what the form cannot say: an own line, and the elements that stand for it.
_KEPT = re.compile(r"\*topo\s+(?P<line>\S.*?)(?:\s+=\s+(?P<elements>\S[^=]*))?")


@dataclass
class Text:
    """The lines of one file: its title, what it says line by line, and what `topo convert` kept in comments.

    `stray` are lines that continue nothing; `kept` are (own line, names of the elements for it, line).
    """

    title: str = ""
    lines: list[Line] = field(default_factory=list)
    stray: list[Line] = field(default_factory=list)
    kept: list[tuple[str, tuple[str, ...], Line]] = field(default_factory=list)


def split_text(text: str, file: str, titled: bool) -> Text:
    """The logical lines of a text; the first line is the title where `titled`.

    A line that starts with `+` goes on from the line before, as does one after a final backslash; comment and blank
    lines between do not part them. LF, CR LF and CR all end a line.
    """
    if text.startswith("\ufeff"):
        text = text[1:]
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    found = Text()
    goes_on = False
    for number, raw in enumerate(text.split("\n"), 1):
        if number == 1 and titled:
            found.title = raw
            continue
        goes_on = _take(found, Line(raw, ((0, number, raw),), file), goes_on)
    return found


def _take(found: Text, line: Line, goes_on: bool) -> bool:
    """Take one physical line; whether the next one continues it."""
    raw = line.text
    first = raw.lstrip()[:1]
    if first in ("*", "#"):
        _keep(found, line)
        return goes_on
    said = raw if len(raw) > LONGEST_LINE else _without_comment(raw)
    if not said.strip():
        return goes_on
    continued = said.endswith("\\")
    if continued:
        said = said[:-1].rstrip()
    if first == "+":
        said = said.replace("+", " ", 1)
    if goes_on or first == "+":
        if not found.lines:
            found.stray.append(line)
            return False
        before = found.lines[-1]
        pieces = (*before.pieces, (len(before.text) + 1, *line.pieces[0][1:]))
        found.lines[-1] = Line(f"{before.text} {said}", pieces, line.file)
    else:
        found.lines.append(Line(said, line.pieces, line.file))
    return continued


def _keep(found: Text, line: Line) -> None:
    """Take a comment by which an own line was kept."""
    if "*topo" not in line.text[:40] or len(line.text) > LONGEST_LINE:
        return
    match = _KEPT.fullmatch(line.text.strip())
    if match is not None:
        found.kept.append((match["line"], tuple((match["elements"] or "").split()), line))


def _without_comment(raw: str) -> str:
    """A line up to its comment: from `;`, from `//` or `$` that stands alone or starts a word; quoted text stays."""
    if ";" not in raw and "$" not in raw and "//" not in raw:
        return raw.rstrip()
    quote = ""
    position = 0
    while position < len(raw):
        character = raw[position]
        if quote:
            quote = "" if character == quote else quote
        elif character in "\"'":
            quote = character if raw.find(character, position + 1) >= 0 else ""
        elif character in ";$/" and _starts_comment(raw, position):
            return raw[:position].rstrip()
        position += 1
    return raw.rstrip()


def _starts_comment(raw: str, position: int) -> bool:
    character = raw[position]
    if character == ";":
        return True
    alone = position == 0 or raw[position - 1] in " \t,"
    if character == "/":
        return alone and raw.startswith("//", position)
    return alone and not _DOLLAR_NAME.match(raw, position)
