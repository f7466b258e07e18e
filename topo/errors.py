"""The family of exceptions, and the place in a file that each one points at."""

from __future__ import annotations

from dataclasses import dataclass, field

# Longer source lines are shown in part.
WIDEST_SOURCE = 140
# More problems of one input are counted, not shown.
MOST_SHOWN = 100


@dataclass(frozen=True, order=True)
class Place:
    """A place in an input file; lines and columns count from 1, 0 means not known."""

    file: str = "<text>"
    line: int = 0
    column: int = 0
    length: int = 1

    def __str__(self) -> str:
        if not self.line:
            return self.file
        where = f"{self.file}, line {self.line}"
        return f"{where}, column {self.column}" if self.column else where


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input: where, what, what was expected, and a mend to type.

    `severity` is "error", "warning" or "note"; `code` is a short stable word for the kind of problem
    (such as "unknown-kind"), which the JSON output carries; `source` is the line as typed.
    """

    place: Place
    message: str
    expected: str = ""
    mend: str = ""
    source: str = ""
    severity: str = "error"
    code: str = ""

    def __str__(self) -> str:
        label = "" if self.severity == "error" else f"{self.severity}: "
        lines = [f"{self.place}: {label}{self.message}"]
        if self.source:
            source, column = _window(self.source.replace("\t", " "), self.place.column)
            lines.append("  " + source)
            if column:
                lines.append("  " + " " * (column - 1) + "^" * max(1, min(self.place.length, len(source) - column + 1)))
        if self.expected:
            lines.append(f"  Expected: {self.expected}")
        if self.mend:
            lines.append(f"  {self.mend}")
        return printable("\n".join(lines))


def printable(text: str) -> str:
    """A text in which no name that was typed can steer a terminal: signs that are not seen are replaced."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() or sign == "\n" else "\ufffd" for sign in text)


def json_text(value: object, indent: int = 2) -> str:
    """JSON as people read it, in which a sign that is not seen stands as its escape; never NaN, ValueError instead."""
    import json

    text = json.dumps(value, ensure_ascii=False, indent=indent, allow_nan=False)
    if all(row.isprintable() for row in text.split("\n")):
        return text
    return "".join(sign if sign.isprintable() or sign == "\n" else json.dumps(sign)[1:-1] for sign in text)


def _window(source: str, column: int) -> tuple[str, int]:
    """A source line short enough to print, cut around the column where it is long."""
    source = "".join(character if character.isprintable() else " " for character in source)
    if len(source) <= WIDEST_SOURCE:
        return source, column
    start = max(0, min(column - WIDEST_SOURCE // 2, len(source) - WIDEST_SOURCE))
    end = start + WIDEST_SOURCE
    before, after = "..." if start else "", "..." if end < len(source) else ""
    return f"{before}{source[start:end]}{after}", column - start + len(before) if column else 0


class TopoError(Exception):
    """Anything that `topo` says instead of doing what was asked; `exit_status` is for the command line."""

    exit_status = 1


@dataclass(eq=False)
class InputError(TopoError):
    """An input that cannot be understood: every problem of it, each with its place."""

    problems: tuple[Problem, ...] = field(default_factory=tuple)

    def __str__(self) -> str:
        shown = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        left = len(self.problems) - len(shown)
        return "\n".join([*shown, f"... and {left} more."] if left else shown)


class NetlistError(InputError):
    """A circuit file that cannot be understood."""


class PatternError(InputError):
    """A pattern file that cannot be understood, or that fails its own examples."""


@dataclass(eq=False)
class CircuitError(TopoError):
    """A circuit that is understood but cannot be analysed: which nets and parts, and what to add."""

    message: str
    nets: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    mend: str = ""

    def __str__(self) -> str:
        return f"{self.message} {self.mend}".strip()


@dataclass(eq=False)
class UsageError(TopoError):
    """A wrong request: what was asked, and what is allowed."""

    message: str
    allowed: tuple[str, ...] = ()
    exit_status = 2

    def __str__(self) -> str:
        return f"{self.message} Allowed: {', '.join(sorted(self.allowed))}." if self.allowed else self.message
