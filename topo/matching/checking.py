"""Collects what is wrong with a pattern file: each problem with its place, what was expected, and the nearest word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from topo.errors import InputError, Place, Problem
from topo.matching.yaml_source import Entry

KEY_LENGTH = 60


class Checker:
    """Takes values from entries of a pattern file, and notes a problem wherever one is not of the expected form."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.lines = text.splitlines()
        self.problems: list[Problem] = []

    def complain(self, place: Place, message: str, expected: str = "", mend: str = "", code: str = "") -> None:
        """Notes a problem, with the line as typed."""
        source = self.lines[place.line - 1] if 0 < place.line <= len(self.lines) else ""
        self.problems.append(Problem(place, message, expected=expected, mend=mend, source=source, code=code))

    def take_over(self, error: InputError) -> None:
        """Notes the problems of a text that could not be read."""
        for problem in error.problems:
            self.complain(problem.place, problem.message, problem.expected, problem.mend, problem.code)

    def unknown(self, place: Place, what: str, word: str, known: Iterable[str], expected: str = "") -> None:
        """Notes a word that is not known, with the nearest that is."""
        names = sorted(set(known))
        near = nearest(word, names)
        listed = expected or (", ".join(names) if len(names) <= 24 else "")
        mend = f"Perhaps `{near}` was meant." if near else ""
        self.complain(place, f"There is no {what} `{word}`.", expected=listed, mend=mend, code="unknown")

    # -- values ---------------------------------------------------------------------------------------------------

    def text(self, entry: Entry | None, what: str) -> str:
        """A text; "" where it is missing or of another form."""
        if entry is None:
            return ""
        if entry.kind != "text" or not entry.text.strip():
            self.complain(entry.place, f"{what} has to be a text.", expected="words, in double quotes if in doubt")
            return ""
        return entry.text.strip() if "\n" not in entry.text else entry.text

    def texts(self, entry: Entry | None, what: str) -> list[tuple[str, Place]]:
        """A list of texts, or a single one, with their places."""
        if entry is None:
            return []
        items = entry.items if entry.kind == "list" else (entry,)
        found = []
        for item in items:
            text = self.text(item, f"Each item of {what}" if entry.kind == "list" else what)
            if text:
                found.append((text, inside(item)))
        return found

    def flag(self, entry: Entry | None, what: str, default: bool = False) -> bool:
        """`true` or `false`."""
        if entry is None:
            return default
        word = entry.text.strip().lower() if entry.kind == "text" else ""
        if word not in ("true", "false", "yes", "no"):
            self.complain(entry.place, f"{what} is either true or false.", expected="`true` or `false`")
            return default
        return word in ("true", "yes")

    def whole_number(self, entry: Entry | None, what: str, default: int, least: int = 0) -> int:
        """A whole number."""
        if entry is None:
            return default
        try:
            found = int(entry.text)
        except ValueError:
            found = least - 1
        if entry.kind != "text" or found < least:
            self.complain(entry.place, f"{what} has to be a whole number of at least {least}.", expected=str(default))
            return default
        return found

    def choice(self, entry: Entry | None, what: str, allowed: Sequence[str], default: str) -> str:
        """One of some words."""
        if entry is None:
            return default
        word = self.text(entry, what)
        if word and word not in allowed:
            self.unknown(entry.place, what.lower(), word, allowed, expected=", ".join(allowed))
            return default
        return word or default

    def items(self, entry: Entry | None, what: str) -> tuple[Entry, ...]:
        """The items of a list."""
        if entry is None:
            return ()
        if entry.kind != "list":
            self.complain(entry.place, f"{what} has to be a list.", expected="a line `- ...` for each item")
            return ()
        return entry.items

    def map(
        self, entry: Entry | None, what: str, allowed: Iterable[str] | None = None
    ) -> list[tuple[str, Place, Entry]]:
        """The pairs of a map; keys that are not allowed are noted and left out."""
        if entry is None:
            return []
        if entry.kind == "nothing":
            self.complain(entry.place, f"{what} is empty.", expected="lines `word: value` below it")
            return []
        if entry.kind != "map":
            self.complain(entry.place, f"{what} has to be a map.", expected="`word: value` pairs")
            return []
        known = None if allowed is None else tuple(allowed)
        found = []
        for key, place, value in entry.pairs:
            if known is not None and key not in known:
                self.unknown(place, f"key of {what.lower()}", key, known, expected=", ".join(known))
            elif len(key) > KEY_LENGTH:
                self.complain(place, f"A key of {what.lower()} has more than {KEY_LENGTH} characters.")
            else:
                found.append((key, place, value))
        return found


def inside(entry: Entry) -> Place:
    """Where the text of an entry begins, behind its quotation mark."""
    place = entry.place
    return Place(place.file, place.line, place.column + 1) if entry.quoted else place


def nearest(word: str, names: Iterable[str]) -> str:
    """The name most like a word, "" where none is."""
    from difflib import get_close_matches

    found = get_close_matches(word, list(names), n=1, cutoff=0.6)
    return found[0] if found else ""
