"""Gathers what is wrong with, or noted of, an element list."""

from __future__ import annotations

from topo.errors import NetlistError, Place, Problem
from topo.netlist.lines import Line
from topo.netlist.problems import MOST_ERRORS
from topo.netlist.syntax import Word


class Findings:
    """The problems of one list and its included files, each once, in the order in which they stand."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, Place], Problem] = {}
        self._errors = 0

    def error(self, code: str, line: Line, word: Word | None, message: str, expected: str = "", mend: str = "") -> None:
        """Note what makes the list unreadable."""
        self._note("error", code, line, word, message, expected, mend)

    def warn(self, code: str, line: Line, word: Word | None, message: str, expected: str = "", mend: str = "") -> None:
        """Note what is doubtful, or left out although it may matter."""
        self._note("warning", code, line, word, message, expected, mend)

    def note(self, code: str, line: Line, word: Word | None, message: str) -> None:
        """Note how something was understood, or what was left out because it does not matter."""
        self._note("note", code, line, word, message, "", "")

    def _note(
        self, severity: str, code: str, line: Line, word: Word | None, message: str, expected: str, mend: str
    ) -> None:
        start, length = (word.start, len(word.text)) if word is not None else (0, max(1, len(line.text)))
        place = line.place(start, length)
        problem = Problem(place, message, expected, mend, line.piece(start)[2], severity, code)
        kept = self._found.setdefault((code, place), problem)
        self._errors += kept is problem and severity == "error"
        if self._errors > MOST_ERRORS:
            raise NetlistError(self.in_order())

    def forget(self, lines: set[Line]) -> None:
        """Let go of what is not wrong with lines that turned out to stand for something else."""
        places = {(line.file, number) for line in lines for _, number, _ in line.pieces}
        self._found = {
            key: problem
            for key, problem in self._found.items()
            if problem.severity == "error" or (problem.place.file, problem.place.line) not in places
        }

    @property
    def failed(self) -> bool:
        """Whether there is an error among them."""
        return any(problem.severity == "error" for problem in self._found.values())

    def in_order(self) -> tuple[Problem, ...]:
        """All of them, by file, line and column."""
        return tuple(sorted(self._found.values(), key=lambda problem: problem.place))
