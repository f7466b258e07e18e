"""A file's lines sorted: statements, device types, blocks, and part lines with their sections."""

from __future__ import annotations

from dataclasses import dataclass, field

from topo.netlist.grammar import parse_line
from topo.netlist.kinds import KIND_OF_WORD
from topo.netlist.lines import LONGEST_LINE, Line, logical_lines
from topo.netlist.marks import Marks
from topo.netlist.problems import Problems
from topo.netlist.syntax import PartLine, Statement, Word
from topo.netlist.what import Nature, Reader

# Statements that say something of the whole circuit, wherever they stand.
_ANYWHERE = frozenset(("circuit", "supply", "ground", "input", "output", "temperature", "note", "device"))


@dataclass
class Block:
    """A sub-circuit: its name, its nets, and the part and `join` lines in it."""

    name: Word
    nets: tuple[Word, ...]
    line: Line
    rows: list[PartLine | Statement] = field(default_factory=list)


@dataclass
class Sheet:
    """What a file says, line by line; `rows` are part and `join` lines outside blocks with their sections."""

    file: str
    rows: list[tuple[PartLine | Statement, str | None]] = field(default_factory=list)
    statements: list[tuple[Statement, str | None]] = field(default_factory=list)
    blocks: dict[str, Block] = field(default_factory=dict)
    types: dict[str, tuple[str, Nature]] = field(default_factory=dict)
    sections: list[str] = field(default_factory=list)


class Sorter:
    """Sorts the lines of one text into a sheet."""

    def __init__(self, problems: Problems, marks: Marks, file: str) -> None:
        self.problems = problems
        self.marks = marks
        self.sheet = Sheet(file)
        self.block: Block | None = None
        self.section: str | None = None
        self._devices: list[Statement] = []

    def sort(self, text: str) -> Sheet:
        """The sheet of a text; lines that cannot be understood are among the problems."""
        for line in logical_lines(text, self.sheet.file):
            if not self._readable(line):
                continue
            shape = parse_line(line, self.problems)
            if isinstance(shape, PartLine):
                self._row(shape)
            elif shape is not None:
                self._statement(shape)
        if self.block is not None:
            self._error("block-open", self.block.line, self.block.name, name=self.block.name.text)
        for statement in self._devices:
            self._device(statement)
        return self.sheet

    def _error(self, code: str, at: Line, word: Word, /, **words: object) -> None:
        self.problems.error(code, at, word.start, len(word.text), **words)

    def _readable(self, line: Line) -> bool:
        """Whether a line is of a sane length and free of control characters."""
        if len(line.text) > LONGEST_LINE:
            self.problems.error("line-too-long", line, 0, 1, most=LONGEST_LINE)
            return False
        if line.text.isprintable():
            return True
        for start, character in enumerate(line.text):
            if not character.isprintable() and not character.isspace():
                self.problems.error("control-character", line, start)
                return False
        return True

    def _row(self, row: PartLine | Statement) -> None:
        if self.block is not None:
            self.block.rows.append(row)
        else:
            self.sheet.rows.append((row, self.section))

    def _statement(self, statement: Statement) -> None:
        keyword = statement.keyword
        if keyword == "join":
            self._row(statement)
        elif keyword == "block":
            self._open(statement)
        elif keyword == "end":
            self._close(statement)
        elif keyword == "device":
            self._devices.append(statement)
        elif self.block is not None and keyword not in _ANYWHERE:
            self.problems.error(
                "block-statement", statement.line, _indent(statement.line), len(keyword), keyword=keyword
            )
        elif keyword == "section":
            self.section = " ".join(statement.words[0].text.split())
            if self.section not in self.sheet.sections:
                self.sheet.sections.append(self.section)
        else:
            self.sheet.statements.append((statement, self.section))

    def _open(self, statement: Statement) -> None:
        name, nets = statement.words[0], statement.words[1:]
        if self.block is not None:
            self._error("block-in-block", statement.line, name)
            self._end_block()
        self.block = Block(name, nets, statement.line)
        folded = name.text.casefold()
        if folded in KIND_OF_WORD:
            self._error("device-keyword", statement.line, name, name=name.text, what="a block")
        seen: set[str] = set()
        for net in nets:
            if net.text.casefold() in seen:
                self._error("block-nets", statement.line, net, name=net.text)
            seen.add(net.text.casefold())
        before = self.sheet.blocks.get(folded)
        if before is not None:
            self._error("block-twice", statement.line, name, name=name.text, line=before.line.number)

    def _close(self, statement: Statement) -> None:
        if self.block is None:
            self.problems.error("end-alone", statement.line, _indent(statement.line), 3)
        self._end_block()

    def _end_block(self) -> None:
        if self.block is not None:
            self.sheet.blocks.setdefault(self.block.name.text.casefold(), self.block)
            self.block = None

    def _device(self, statement: Statement) -> None:
        """Take a `device` line: a nature by the name of the type."""
        name, line = statement.words[0], statement.line
        folded = name.text.casefold()
        if folded in KIND_OF_WORD:
            self._error("device-keyword", line, name, name=name.text, what="a device")
            return
        if folded in self.sheet.types:
            before = next(other.line.number for other in self._devices if other.words[0].text.casefold() == folded)
            self._error("device-twice", line, name, name=name.text, line=before)
            return
        assert statement.what is not None
        nature = Reader(line, self.problems, {}, self.marks).read(statement.what, name, named_by="device")
        if nature is not None:
            self.sheet.types[folded] = (name.text, nature)


def _indent(line: Line) -> int:
    """Where the line's first word starts."""
    return len(line.text) - len(line.text.lstrip())
