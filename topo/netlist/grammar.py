"""From a logical line to its shape, by `grammar/netlist.lark`; lark is imported when the first line is read."""

from __future__ import annotations

import re
from functools import cache

from topo.netlist.kinds import GROUPS, implied_kinds
from topo.netlist.lines import Line
from topo.netlist.problems import Problems
from topo.netlist.shapes import SYNTAX
from topo.netlist.syntax import Item, PartLine, Setting, Statement, What, Word
from topo.resources import lark_parser

_ONE_WORD_STATEMENTS = ("circuit", "note", "section", "ground", "temperature")
_WORD_STATEMENTS = ("supply", "input", "output", "signal", "join", "block", "end")


@cache
def _parser():
    """The parser; what it returns lacks the line, which `parse_line` adds."""
    from lark import Transformer

    class Shapes(Transformer):
        """Builds the shapes as the parser goes, so that no tree is made."""

        def start(self, found):
            return found[0]

        def what(self, found):
            settings = tuple(item for item in found if isinstance(item, Setting))
            return What(tuple(item for item in found if not isinstance(item, Setting)), settings)

        def setting(self, found):
            return Setting(*found)

        def here(self, found):
            return Item(None, found[0])

        def named(self, found):
            return Item(*found)

        def where(self, found):
            groups: list[list[Item]] = [[]]
            for item in found:
                if isinstance(item, Item):
                    groups[-1].append(item)
                else:
                    groups.append([])
            return tuple(map(tuple, groups))

        def part(self, found):
            return PartLine(found[0], found[1], found[2], None)  # type: ignore[arg-type]

        def device(self, found):
            return Statement("device", (found[0],), found[1], None)  # type: ignore[arg-type]

        def REF(self, token):
            return Word(token.value, token.start_pos)

        NET = WORD = TEXT = REF

    def statement(keyword):
        return lambda self, found: Statement(keyword, tuple(word for word in found if word), None, None)  # type: ignore[arg-type]

    for keyword in (*_ONE_WORD_STATEMENTS, *_WORD_STATEMENTS):
        setattr(Shapes, keyword, statement(keyword))
    return lark_parser("netlist", "start", Shapes())


def parse_line(line: Line, problems: Problems) -> PartLine | Statement | None:
    """The shape of a line; None where it has none, which is then among the problems."""
    from lark import UnexpectedInput

    try:
        return _parser().parse(line.text)._replace(line=line)
    except UnexpectedInput as error:
        _report(error, line, problems)
        return None


def _report(error, line: Line, problems: Problems) -> None:
    """Say what is wrong with a line, by the table of broken examples."""
    from lark import UnexpectedEOF, UnexpectedToken

    code = error.match_examples(_parser().parse, SYNTAX, use_accepts=True) or "not-understood"
    start = error.pos_in_stream
    if (
        start is None
        or isinstance(error, UnexpectedEOF)
        or (isinstance(error, UnexpectedToken) and error.token.type == "$END")
    ):
        start = len(line.text.rstrip())
    words = {"mend": _colon_put(line.text)} if code == "no-colon" else {}
    problems.error(code, line, start, _length(line.text, start), **words)


def _colon_put(text: str) -> str:
    """The line of a two-terminal part with its colon put in, if it has words enough; else ""."""
    before, colon, after = text.partition(":")
    if colon and after.strip():
        return f"Write  {before.strip()} : {after.strip()}"
    words = text.split()
    kinds = implied_kinds(words[0]) if words else ()
    if len(words) < 3 or len(kinds) != 1 or kinds[0] not in GROUPS["two-terminal"]:
        return ""
    return f"Write  {' '.join(words[:-2])} : {' '.join(words[-2:])}   if the last two are its nets."


def _length(text: str, start: int) -> int:
    """The length of the word that starts at a place; a sign of punctuation stands alone."""
    rest = text[start:]
    if not rest or rest[0] in ':|=#,()"':
        return 1
    return len(re.split(r'[\s:|=#,()"]', rest, maxsplit=1)[0]) or 1
