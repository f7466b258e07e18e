"""Gathers the problems of a file, each with its place, its line, what was expected and a mend to type."""

from __future__ import annotations

from topo.errors import NetlistError, Problem
from topo.netlist.lines import Line
from topo.netlist.messages import MESSAGES

# After so many a text is given up: it is no netlist, or its lines share one mistake.
MOST_ERRORS = 5_000


class Problems:
    """The problems of one file, in the order of their lines when asked for."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, int, int], Problem] = {}
        self._errors = 0

    def __len__(self) -> int:
        return len(self._found)

    def error(self, code: str, line: Line, start: int, length: int = 1, /, **words: object) -> None:
        """Note an error; `words` fill the message of that code.

        Raises:
            NetlistError: there are more than `MOST_ERRORS`.
        """
        self._note("error", code, line, start, length, words)

    def warn(self, code: str, line: Line, start: int, length: int = 1, /, **words: object) -> None:
        """Note a warning; `words` fill the message of that code."""
        self._note("warning", code, line, start, length, words)

    def _note(self, severity: str, code: str, line: Line, start: int, length: int, words: dict[str, object]) -> None:
        place = line.place(start, length)
        message = MESSAGES[code]
        filled = [template.format(**words) for template in (message.text, message.expected, message.mend)]
        if "mend" in words:
            filled[2] = str(words["mend"])
        source = line.piece(start)[2]
        problem = Problem(place, filled[0], filled[1], filled[2], source, severity, code)
        kept = self._found.setdefault((code, place.line, place.column), problem)
        self._errors += kept is problem and severity == "error"
        if self._errors > MOST_ERRORS:
            raise NetlistError(self.in_order())

    @property
    def failed(self) -> bool:
        """Whether there is an error among them."""
        return any(problem.severity == "error" for problem in self._found.values())

    def in_order(self) -> tuple[Problem, ...]:
        """All problems by line and column, errors and warnings alike."""
        return tuple(sorted(self._found.values(), key=lambda problem: (problem.place.line, problem.place.column)))
