"""Doubtful and old-fashioned marks of values: asked about, never assumed."""

from __future__ import annotations

import re
from typing import NamedTuple

from topo.netlist.forms import Forms
from topo.netlist.kinds import GROUPS, Kind
from topo.netlist.lines import Line
from topo.netlist.problems import Problems
from topo.netlist.syntax import Word
from topo.quantities import is_preferred, nearest_preferred, plain_signs, rkm, show

_RESISTIVE = frozenset(("resistor", "potentiometer", "thermistor"))


class _Old(NamedTuple):
    """An old mark: the kinds it is met on, its form, the question, and the prefix that mends it."""

    kinds: frozenset[str]
    form: re.Pattern[str]
    question: str
    prefix: str


_CAPACITOR = frozenset(("capacitor",))
_NUMBER = r"(\d+\.?\d*|\.\d+)"
_OLD: tuple[_Old, ...] = (
    _Old(_CAPACITOR, re.compile(_NUMBER + r"(?:(?i:mfd)|MF|mf)"), "microfarads?", "u"),
    _Old(_CAPACITOR, re.compile(_NUMBER + r"(?i:uu|mm)(?i:fd?)?"), "micro-microfarads, that is picofarads?", "p"),
    _Old(_CAPACITOR, re.compile(_NUMBER + r"(?i:ufd)"), "microfarads?", "u"),
    _Old(_CAPACITOR, re.compile(_NUMBER + r"(?i:pfd)"), "picofarads?", "p"),
    _Old(_CAPACITOR, re.compile(r"(0?\.\d+)"), "microfarads?", "u"),
    _Old(_CAPACITOR | GROUPS["coil"], re.compile(_NUMBER + r"U"), "micro?", "u"),
    _Old(_CAPACITOR, re.compile(_NUMBER + r"N"), "nanofarads?", "n"),
    _Old(_CAPACITOR, re.compile(_NUMBER + r"P"), "picofarads?", "p"),
    _Old(GROUPS["coil"], re.compile(_NUMBER + r"MH"), "millihenries?", "m"),
    _Old(_RESISTIVE, re.compile(_NUMBER + r"(?i:meg)(?i:ohms?)?"), "megohms?", "M"),
    _Old(_RESISTIVE, re.compile(_NUMBER + r"(?i:kilohms?)"), "kilohms?", "k"),
)


class Marks:
    """Asks about the marks of one file."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._capital_kilos: list[tuple[Line, Word]] = []
        self._forms = Forms()

    def old(self, kind: Kind, word: Word, line: Line) -> str | None:
        """Ask about a mark that the language does not have; the mend, or None if the word is no such mark."""
        text = plain_signs(word.text)
        for mark in _OLD:
            if kind.name in mark.kinds and (found := mark.form.fullmatch(text)):
                number = found[1] if found[1][0] != "." else f"0{found[1]}"
                mend = f"{number}{mark.prefix}"
                words = {"text": word.text, "question": mark.question}
                mend_text = f"Write {mend} if so; until then the value is not known."
                self._problems.warn("old-mark", line, word.start, len(word.text), **words, mend=mend_text)
                return mend
        return None

    def look(self, kind: Kind, value: float, word: Word, line: Line, polarised: bool) -> None:
        """Ask about a value that is understood but doubtful."""
        text = plain_signs(word.text)
        if "K" in text:
            self._capital_kilos.append((line, word))
        if kind.name in ("resistor", "capacitor"):
            self._forms.note(kind.name, text, value, line, word)
        if kind.name in _RESISTIVE:
            self._look_at_resistor(value, word, line)
        elif kind.name == "capacitor":
            self._look_at_capacitor(value, text, word, line)
        if kind.name in ("resistor", "capacitor") and not polarised and not is_preferred(value):
            others = " or ".join(show(near, kind.unit) for near in nearest_preferred(value))
            self._warn("not-preferred", line, word, shown=show(value, kind.unit), others=others)

    def _look_at_resistor(self, value: float, word: Word, line: Line) -> None:
        if 0 < value < 0.01:
            self._warn("small-resistor", line, word, shown=show(value, "ohm"), mend=f"Write {rkm(value * 1e9)} if so.")

    def _look_at_capacitor(self, value: float, text: str, word: Word, line: Line) -> None:
        if value > 1:
            other = f"{rkm(value)}p" if "M" not in text else rkm(float(f"{value / 1e9:.6g}"), "F")
            self._warn("large-capacitor", line, word, shown=show(value, "F"), other=other)
        elif text.endswith("mF"):
            micro = f"{text[:-2]}u"
            question = "On old drawings mF is microfarads."
            mend = f"Write {micro} if that was meant."
            self._warn(
                "doubtful-mark", line, word, text=word.text, shown=show(value, "F"), question=question, mend=mend
            )
        elif re.fullmatch(r"[pnum]\d+F?", text):
            other = f"{text[1:]}{text[0]}"
            question = f"Was {text[1:]} {text[0]}F meant?"
            mend = f"Write {other} if that was meant, or 0{text} to be sure."
            self._warn(
                "doubtful-mark", line, word, text=word.text, shown=show(value, "F"), question=question, mend=mend
            )

    def _warn(self, code: str, line: Line, word: Word, **words: object) -> None:
        self._problems.warn(code, line, word.start, len(word.text), **words)

    def finish(self) -> None:
        """Ask about values typed as no other of the file is; say once for the file that capital K was read as kilo."""
        for line, word, words in self._forms.odd():
            self._warn("odd-form", line, word, **words)
        if not self._capital_kilos:
            return
        line, word = self._capital_kilos[0]
        others = len(self._capital_kilos) - 1
        more = f" (and in {others} more value{'s' if others > 1 else ''})" if others else ""
        mend = f"Write {word.text.replace('K', 'k')} to be sure."
        self._warn("capital-kilo", line, word, more=more, mend=mend)
