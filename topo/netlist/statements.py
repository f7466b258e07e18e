"""What the statements of a file say: title, supplies, ports, bands, temperature, notes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from topo.netlist.circuit import GROUND, Port, Supply
from topo.netlist.kinds import GROUPS
from topo.netlist.syntax import Statement, Word
from topo.quantities import QuantityError, parse, show

if TYPE_CHECKING:
    from topo.netlist.drafting import Drafter

# The band of speech as telephony has it; the language's own default where a person speaks or listens.
SPEECH_BAND = (300.0, 3400.0)


@dataclass
class Said:
    """What statements have said; `nets` maps each statement (by identity) to the numbers of its nets."""

    nets: dict[int, list[int]] = field(default_factory=dict)
    title: str = ""
    ground: str = GROUND
    supplies: list[Supply] = field(default_factory=list)
    inputs: list[Port] = field(default_factory=list)
    outputs: list[Port] = field(default_factory=list)
    bands: dict[str | None, tuple[float, float]] = field(default_factory=dict)
    band_assumed: bool = False
    temperature: float = 27.0
    notes: list[str] = field(default_factory=list)


def take_statements(drafter: Drafter) -> None:
    """Fill `drafter.said` from the statements of its sheet, once all nets are joined."""
    Taker(drafter).take()


class Taker:
    """Takes the statements of one sheet in order."""

    def __init__(self, drafter: Drafter) -> None:
        self.drafter = drafter
        self.said = drafter.said
        self.problems = drafter.problems
        self._ground: tuple[Statement, str] | None = None
        self._supply_lines: dict[str, tuple[int, float]] = {}
        self._band_lines: dict[str | None, int] = {}

    def take(self) -> None:
        """Take every statement."""
        ports: list[tuple[Statement, list[Port]]] = []
        for statement, section in self.drafter.sheet.statements:
            words = statement.words
            match statement.keyword:
                case "circuit":
                    self.said.title = " ".join(words[0].text.split()) if words else ""
                case "note":
                    self.said.notes.append(" ".join(words[0].text.split()))
                case "ground":
                    self._take_ground(statement)
                case "supply":
                    self._take_supply(statement)
                case "input":
                    ports.append((statement, self.said.inputs))
                case "output":
                    ports.append((statement, self.said.outputs))
                case "signal":
                    self._take_band(statement, section)
                case "temperature":
                    self._take_temperature(statement)
        self._name_ground()
        for statement, found in ports:
            self._take_port(statement, found)
        self._default_band()

    def _error(self, code: str, statement: Statement, word: Word, /, **words: object) -> None:
        self.problems.error(code, statement.line, word.start, len(word.text), **words)

    def _value(self, statement: Statement, word: Word, unit: str, expected: str) -> float | None:
        """The value of a statement's word; None where it is none, which is said."""
        try:
            return parse(word.text, unit)
        except QuantityError as error:
            self._error("bad-value", statement, word, message=str(error), expected=expected)
            return None

    def _net(self, statement: Statement, index: int = 0) -> str:
        return self.drafter.nets.shown(self.said.nets[id(statement)][index])

    def _take_ground(self, statement: Statement) -> None:
        name = statement.words[0].text
        if self._ground is not None and self._ground[1].casefold() != name.casefold():
            before, other = self._ground
            self._error("ground-twice", statement, statement.words[0], line=before.line.number, name=other)
        self._ground = self._ground or (statement, name)

    def _name_ground(self) -> None:
        """The shown name of the ground: the first of its names that was typed."""
        if self._ground is not None:
            self.said.ground = self._net(self._ground[0])
        else:
            self.said.ground = self.drafter.nets.shown_or("gnd", GROUND)

    def _take_supply(self, statement: Statement) -> None:
        words = statement.words
        if words[1].text == "?":
            self._error("supply-voltage", statement, words[1])
            return
        volts = self._value(statement, words[1], "V", "a voltage such as 9V or -12V")
        ohms = self._value(statement, words[2], "ohm", "a resistance such as 2R2") if len(words) > 2 else 0.0
        if volts is None or ohms is None:
            return
        if ohms < 0:
            self._error("negative-value", statement, words[2])
        net = self._net(statement)
        before = self._supply_lines.get(net)
        if before is not None:
            self._error("supply-twice", statement, words[0], net=net, line=before[0], volts=show(before[1], "V"))
            return
        self._supply_lines[net] = (statement.line.number, volts)
        place = statement.line.place(words[0].start, len(words[0].text))
        self.said.supplies.append(Supply(net, volts, ohms, place))

    def _take_port(self, statement: Statement, found: list[Port]) -> None:
        words = statement.words
        reference = self._net(statement, 1) if len(words) > 1 else self.said.ground
        place = statement.line.place(words[0].start, len(words[0].text))
        found.append(Port(self._net(statement), reference, place))

    def _take_band(self, statement: Statement, section: str | None) -> None:
        low_word, high_word = statement.words
        low = self._value(statement, low_word, "Hz", "a frequency such as 300Hz or 3.5MHz")
        high = self._value(statement, high_word, "Hz", "a frequency such as 300Hz or 3.5MHz")
        if low is None or high is None:
            return
        if not 0 < low < high:
            mend = f"Write  signal {high_word.text} to {low_word.text}" if 0 < high < low else ""
            self._error("band-order", statement, low_word, mend=mend)
            return
        if section in self._band_lines:
            where = f"of the section {section}" if section else "of the circuit"
            self._error("band-twice", statement, low_word, where=where, line=self._band_lines[section])
            return
        self._band_lines[section] = statement.line.number
        self.said.bands[section] = (low, high)

    def _take_temperature(self, statement: Statement) -> None:
        word = statement.words[0]
        text = word.text
        if text[-1:] in "Cc" and text[-2:-1] != "°":
            text = text[:-1]
        try:
            value = parse(text, "°C")
        except QuantityError:
            message = f"`{word.text}` is not a temperature"
            self._error("bad-value", statement, word, message=message, expected="a figure in °C, such as 40")
            return
        if not -100 <= value <= 300:
            self._error("temperature-range", statement, word, shown=show(value, "°C"))
            return
        self.said.temperature = value

    def _default_band(self) -> None:
        """The band of speech where a person speaks or listens and no band is said."""
        if None in self.said.bands:
            return
        kinds = (draft.nature.kind.name for draft in self.drafter.drafts.values())
        if any(kind in GROUPS["transducer"] for kind in kinds):
            self.said.bands[None] = SPEECH_BAND
            self.said.band_assumed = True
