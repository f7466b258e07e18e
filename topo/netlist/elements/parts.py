"""Parts of elements, one letter at a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from topo.netlist.circuit import Part, Winding
from topo.netlist.elements.devices import DeviceMaker
from topo.netlist.elements.expanding import Element, Names
from topo.netlist.elements.figures import figure
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.shaping import LARGEST_VALUE, designator
from topo.netlist.elements.signals import Drive, drive_of
from topo.netlist.elements.tokens import assignments
from topo.netlist.kinds import GROUPS
from topo.netlist.lines import Line
from topo.netlist.syntax import Word
from topo.netlist.where import MOST_TERMINALS
from topo.netlist.words import may_be
from topo.quantities import rkm, show, with_unit

# Words behind the two nodes of a controlled source that is given otherwise than by a gain.
_CONTROLLED_BY = ("poly", "value", "table", "laplace", "freq", "chebyshev", "vol", "cur", "vcvs", "vccs")
# A controlled voltage source of at least this gain, its output against ground, is an operational amplifier's model.
_AMPLIFIER_GAIN = 1000.0
_SWITCH_WORDS = {"on": "closed", "off": "open"}
_NODES = {
    "R": 2,
    "C": 2,
    "L": 2,
    "D": 2,
    "V": 2,
    "I": 2,
    "Q": 3,
    "J": 3,
    "Z": 3,
    "M": 3,
    "B": 2,
    "E": 2,
    "F": 2,
    "G": 2,
    "H": 2,
    "T": 4,
    "S": 4,
    "W": 2,
}


@dataclass
class Made:
    """What elements came to: parts, drives (sources), coils and lines by designator, couplings still to be made.

    `named` are parts (case-folded) that a comment says in the netlist language.
    """

    parts: list[Part] = field(default_factory=list)
    drives: list[tuple[Part, Drive, Element]] = field(default_factory=list)
    coils: dict[str, tuple[Part, Element]] = field(default_factory=dict)
    couplings: list[Element] = field(default_factory=list)
    lines: dict[str, Line] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)


class Maker(DeviceMaker):
    """Makes the parts of one list."""

    def __init__(self, names: Names, found: Findings) -> None:
        super().__init__(names, found)
        self.made = Made()
        self._refs: dict[str, Element] = {}

    def take(self, element: Element) -> None:
        """Make what an element stands for; what is wrong with it is among the findings."""
        row = element.row
        before = self._refs.get(element.ref.casefold())
        if before is not None:
            where = f"line {before.row.line.number}"
            self.found.error("ref-twice", row.line, row.head, f"{element.ref} is already in {where}.", "each name once")
            return
        self._refs[element.ref.casefold()] = element
        self.made.lines[designator(element.ref).casefold()] = row.line
        if element.known is not None:
            self.made.parts.append(self.known(element))
        elif row.letter == "K":
            self.made.couplings.append(element)
        else:
            maker: Callable[[Element], Part | None] = getattr(self, f"_make_{row.letter.lower()}", self._opaque)
            if len(row.words) < (least := _NODES.get(row.letter, 1)):
                few = (
                    f"{element.ref} needs {least} node{'s' if least > 1 else ''} behind its name, and has fewer words."
                )
                self.found.error("few-nodes", row.line, row.head, few)
                return
            part = maker(element)
            if part is not None:
                self.made.parts.append(part)

    def _passive(self, element: Element, kind: str, unit: str, names: tuple[str, ...]) -> Part:
        """A resistor, capacitor or inductor: a value, or a model with one."""
        row, scope = element.row, element.scope
        rest = row.words[2:]
        value: float | None = None
        named = next((word for word in rest[:2] if scope.body.model(word.text) is not None), None)
        model = None if named is None else scope.body.model(named.text)
        rest = tuple(word for word in rest if word is not named)
        number = next((row.settings[name] for name in names if name in row.settings), None)
        if number is None and rest:
            number, rest = rest[0], rest[1:]
        if number is not None and rest and (between := _between(row.line.text, number, rest[0])) in ("", ","):
            text, more = f"{number.text}{between}{rest[0].text}", f"{number.text}.{rest[0].text}"
            self.found.warn(
                "bad-value",
                row.line,
                number,
                f"`{text}` of {element.ref} is no value; it is taken as not known.",
                mend=f"Write {more} if that is meant." if between and figure(more) is not None else "",
            )
            number, rest = Word("?", number.start), ()
        self.tell_unused(element, rest, frozenset((*names, "m", "rser") if unit == "H" else (*names, "m")))
        if number is None:
            self.found.warn("no-value", row.line, row.head, f"{element.ref} has no value; it is taken as not known.")
        else:
            value = self.value(element, number, "the value")
        if value is not None and model is not None:
            factor = model.params.get(names[0])
            value *= (self.value(element, factor, "the model's factor") or 1.0) if factor is not None else 1.0
        value = self._times(element, value, unit)
        value = self._sane(element, number, value, unit)
        marked = unit == "ohm" or (unit == "F" and (value or 0.0) < 1)
        text = "" if value is None else rkm(value) if marked else with_unit(value, unit)
        return self.part(element, kind, ("1", "2"), row.words[:2], value=value, value_text=text)

    def _times(self, element: Element, value: float | None, unit: str) -> float | None:
        """The value of so many equal ones in parallel (`M=2`)."""
        many = self.setting(element, "m")
        if value is None or not many or many <= 0:
            return value
        return value * many if unit == "F" else value / many

    def _sane(self, element: Element, word: Word | None, value: float | None, unit: str) -> float | None:
        """A value that may be meant, with a question where it is a thousand million times too small."""
        if value is None or word is None:
            return value
        line = element.row.line
        if not math.isfinite(value):
            self.found.warn("bad-value", line, word, f"{element.ref} has a boundless value; it is taken as not known.")
            return None
        if value < 0:
            self.found.warn(
                "negative-value", line, word, f"{element.ref} has a value below zero; it is taken as not known."
            )
            return None
        if value == 0 and unit in ("F", "H"):
            self.found.warn("zero-value", line, word, f"{element.ref} has a value of 0; it is taken as not known.")
            return None
        said, lower = show(value, unit), word.text.lower()
        if unit == "ohm" and 0 < value < 0.01 and "m" in lower:
            self.found.warn(
                "small-resistor",
                line,
                word,
                f"{element.ref} is {said}: in this form M is a thousandth.",
                mend="Write MEG for a million.",
            )
        elif unit == "F" and 0 < value < 1e-13 and "f" in lower:
            self.found.warn(
                "small-capacitor",
                line,
                word,
                f"{element.ref} is {said}: in this form F behind a figure is femto.",
                mend="Leave the F out if farads were meant.",
            )
        return value

    # -- one letter each ---------------------------------------------------------------------------------------------

    def _make_r(self, element: Element) -> Part:
        return self._passive(element, "resistor", "ohm", ("r", "res", "value"))

    def _make_c(self, element: Element) -> Part:
        return self._passive(element, "capacitor", "F", ("c", "cap", "value"))

    def _make_l(self, element: Element) -> Part:
        part = self._passive(element, "inductor", "H", ("l", "ind", "value"))
        loss = self.setting(element, "rser")
        if loss is not None and loss > 0:
            part = replace(part, params={"rdc": loss})
        self.made.coils[designator(element.ref).casefold()] = (part, element)
        return part

    def _make_v(self, element: Element) -> Part:
        drive = drive_of(element, self.value, "the voltage")
        params = {"R": drive.resistance} if drive.resistance else {}
        value = drive.level
        part = self.part(
            element,
            "source",
            ("+", "-"),
            element.row.words[:2],
            value=value,
            value_text=with_unit(value, "V"),
            params=params,
            ratings={"Hz": drive.hertz} if drive.mains and drive.hertz else {},
        )
        self.made.drives.append((part, drive, element))
        self.tell_unused(element, (), frozenset(("dc", "ac", "rser")))
        return part

    def _make_i(self, element: Element) -> Part:
        """A current source: the current flows into its first node and out of its second one."""
        drive = drive_of(element, self.value, "the current")
        part = self.part(
            element,
            "current",
            ("+", "-"),
            element.row.words[:2],
            value=drive.level,
            value_text=with_unit(drive.level, "A"),
        )
        self.made.drives.append((part, drive, element))
        self.tell_unused(element, (), frozenset(("dc", "ac")))
        return part

    def _make_d(self, element: Element) -> Part:
        return self.device(element, ("a", "k"), GROUPS["junction"])

    def _make_q(self, element: Element) -> Part:
        return self.device(element, ("c", "b", "e"), GROUPS["bipolar"])

    def _make_j(self, element: Element) -> Part:
        return self.device(element, ("d", "g", "s"), GROUPS["jfet"])

    def _make_z(self, element: Element) -> Part:
        return self.device(element, ("d", "g", "s"), GROUPS["fet"])

    def _make_m(self, element: Element) -> Part:
        return self.device(element, ("d", "g", "s", "b"), GROUPS["mosfet"])

    def _make_s(self, element: Element) -> Part:
        return self._switch(element, element.row.words[4:])

    def _make_w(self, element: Element) -> Part:
        return self._switch(element, element.row.words[2:])

    def _switch(self, element: Element, rest: tuple[Word, ...]) -> Part:
        """A controlled switch, in the state that its line says, open else."""
        state = next(
            (_SWITCH_WORDS[word.text.casefold()] for word in rest if word.text.casefold() in _SWITCH_WORDS), "open"
        )
        self.found.warn(
            "switch-state",
            element.row.line,
            element.row.head,
            f"the switch {element.ref} is taken as {state}; what works it is not followed.",
        )
        return self.part(element, "switch", ("1", "2"), element.row.words[:2], settings={"state": state})

    def _make_t(self, element: Element) -> Part:
        """A lossless line: for direct current and low frequencies a transformer of equal windings, one a conductor.

        Where its second conductor is one net from end to end the first is as good as a wire.
        """
        words = element.row.words
        nodes = (words[0], words[2], words[1], words[3])
        if self.names.net(words[1], element.scope) == self.names.net(words[3], element.scope):
            message = f"the line {element.ref} is taken as a wire; its delay is left out."
            self.found.warn("line", element.row.line, element.row.head, message)
            return self.part(element, "resistor", ("1", "2"), nodes[:2], value=0.0, value_text="0")
        windings = (Winding("w1", ("w1.1", "w1.2"), (1.0,)), Winding("w2", ("w2.1", "w2.2"), (1.0,)))
        self.found.warn(
            "line",
            element.row.line,
            element.row.head,
            f"the line {element.ref} is taken as a line transformer of equal windings; its delay is left out.",
        )
        return self.part(element, "transformer", ("w1.1", "w1.2", "w2.1", "w2.2"), nodes, windings=windings)

    def _make_b(self, element: Element) -> Part:
        """A source given by a formula: a plain one where the formula is a constant, else opaque."""
        return self._constant(element, {"v": "source", "i": "current"}) or self._opaque(element)

    def _make_g(self, element: Element) -> Part:
        return self._constant(element, {"value": "current"}) or self._opaque(element)

    def _constant(self, element: Element, kinds: Mapping[str, str]) -> Part | None:
        """The source of a line whose formula, behind one of some names, does not depend on the circuit."""
        row = element.row
        said = assignments(row.line.text)
        words = {word.text.casefold(): after for word, after in pairwise(row.words[2:])}
        for name, kind in kinds.items():
            word = said.get(name) or words.get(name)
            if word is None:
                continue
            try:
                level = element.scope.value(word)
            except FormulaError:
                return None  # such as V(out): a function that only a simulation knows
            unit = "V" if kind == "source" else "A"
            if not abs(level) <= LARGEST_VALUE:
                return None
            part = self.part(element, kind, ("+", "-"), row.words[:2], value=level, value_text=with_unit(level, unit))
            self.made.drives.append((part, Drive(level), element))
            message = f"{element.ref} is taken as a source of {show(level, unit)}, since its formula is a constant."
            self.found.note("constant-source", row.line, row.head, message)
            return part
        return None

    def _make_e(self, element: Element) -> Part:
        """A controlled voltage source: an operational amplifier's model where its gain is that of one, else opaque."""
        row = element.row
        if (constant := self._constant(element, {"value": "source", "vol": "source"})) is not None:
            return constant
        words, gain = row.words[:2] + _linear(row.words[2:]), None
        word = words[4] if len(words) == 5 else row.settings.get("gain")
        if word is not None and len(words) in (4, 5):
            try:
                gain = element.scope.value(word)
            except FormulaError:
                gain = None
        if (
            gain is None
            or abs(gain) < _AMPLIFIER_GAIN
            or not may_be("GAIN", abs(gain))
            or self.names.net(row.words[1], element.scope) != "gnd"
        ):
            return self._opaque(element)
        plus, minus = (words[2], words[3]) if gain > 0 else (words[3], words[2])
        self.found.note(
            "amplifier",
            row.line,
            row.head,
            f"{element.ref} is taken as an operational amplifier of gain {abs(gain):g}.",
        )
        return self.part(
            element, "opamp", ("out", "in+", "in-"), (row.words[0], plus, minus), params={"GAIN": abs(gain)}
        )

    def _opaque(self, element: Element) -> Part:
        """A part that joins nets to nothing: shown, never guessed at."""
        row = element.row
        count = _NODES.get(row.letter)
        if count is None:
            count = max(1, len(row.words) - 1)  # the last word names a model
        elif row.letter in "EG" and len(row.words) in (4, 5) and row.words[2].text.casefold() not in _CONTROLLED_BY:
            count = 4
        nodes = row.words[:count]
        if len(nodes) > MOST_TERMINALS:
            message = f"{element.ref} has more than {MOST_TERMINALS} nodes."
            self.found.error("too-many-terminals", row.line, nodes[MOST_TERMINALS], message, "fewer nodes")
        what = "it"
        if row.letter in "EFGH":
            what = "a controlled source"
        elif row.letter == "B":
            what = "a source given by a formula"
        self.found.warn(
            "opaque",
            row.line,
            row.head,
            f"{element.ref}: {what} has no counterpart here; it is taken as a part of which nothing is known,"
            " and the voltages are worked out without it.",
        )
        names = tuple(str(number) for number in range(1, len(nodes) + 1))
        return self.part(element, "other", names, nodes)


def _between(text: str, one: Word, other: Word) -> str:
    """What stands between two words of a line."""
    return text[one.start + len(one.text) : other.start]


def _linear(words: tuple[Word, ...]) -> tuple[Word, ...]:
    """The words behind the nodes of a controlled source, a polynomial of one variable without more than a gain as that.

    `POLY(1) a b 0 10` is `a b 10`.
    """
    if len(words) == 6 and words[0].text.casefold() == "poly" and (words[1].text, words[4].text) == ("1", "0"):
        return (*words[2:4], words[5])
    return words
