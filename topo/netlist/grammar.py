"""From a logical line to its shape, by `grammar/netlist.lark`; lark is imported for a line that is not usual."""

from __future__ import annotations

import re
from functools import cache

from topo.netlist.kinds import GROUPS, implied_kinds
from topo.netlist.lines import Line
from topo.netlist.problems import Problems
from topo.netlist.shapes import SYNTAX
from topo.netlist.spelling import nearest
from topo.netlist.syntax import Item, PartLine, Setting, Statement, What, Word
from topo.netlist.usual import usual_line
from topo.resources import lark_parser

_PUNCTUATION = ':|=#,()"'
# Signs that have no meaning in any place where the grammar does not have them.
_SIGNS_ALONE = frozenset(',()"')
_ONE_WORD_STATEMENTS = ("circuit", "note", "section", "ground", "temperature")
_WORD_STATEMENTS = ("supply", "input", "output", "signal", "join", "block", "end")
KEYWORDS = (*_ONE_WORD_STATEMENTS, *_WORD_STATEMENTS, "device")
_HAS_COLON = re.compile(r":(?=\s|$)")


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
    usual = usual_line(line)
    return parse_by_grammar(line, problems) if usual is None else usual


def parse_by_grammar(line: Line, problems: Problems) -> PartLine | Statement | None:
    """The same by the grammar, whatever the line."""
    from lark import UnexpectedInput

    try:
        return _parser().parse(line.text)._replace(line=line)
    except UnexpectedInput as error:
        _report(error, line, problems)
        return None


def _report(error, line: Line, problems: Problems) -> None:
    """Say what is wrong with a line, by the table of broken examples."""
    start = _start(error, line.text)
    code = _code(error, line.text)
    if code in ("bar-before-colon", "no-colon") and line.text[start : start + 1] == "|":
        code = "bar-before-colon" if _HAS_COLON.search(line.text) else "no-colon"
    words = {"mend": _mend_without_colon(line.text)} if code == "no-colon" else {}
    problems.error(code, line, start, _length(line.text, start), **words)


def _code(error, text: str) -> str:
    """The message that a broken example of the same kind earns: stopped in the same state by the same sort of sign."""
    state, sign = _stop(error, text)
    table = _stops()
    return table.get((state, sign)) or table.get((None, sign)) or table.get((state, None)) or "not-understood"


@cache
def _stops() -> dict[tuple[object, str | None], str]:
    """Where the broken examples stop: by state and sign, and by either alone."""
    from lark import UnexpectedInput

    table: dict[tuple[object, str | None], str] = {}
    for code, examples in SYNTAX.items():
        for example in examples:
            try:
                _parser().parse(example)
            except UnexpectedInput as error:
                state, sign = _stop(error, example)
                table.setdefault((state, sign), code)
                if sign in _SIGNS_ALONE:
                    table.setdefault((None, sign), code)
                elif sign in ("end", "word"):
                    table.setdefault((state, None), code)
    return table


def _stop(error, text: str) -> tuple[object, str]:
    """The parser's state where it stopped, and the sign that stopped it: punctuation, a word, or the line's end."""
    start = _start(error, text)
    sign = text[start : start + 1]
    if not sign:
        sign = "end"
    elif sign not in _PUNCTUATION:
        sign = "word"
    return getattr(error.state, "position", error.state), sign


def _start(error, text: str) -> int:
    """Where the parser stopped; the end of the text if it wanted more."""
    from lark import UnexpectedEOF, UnexpectedToken

    wanted_more = isinstance(error, UnexpectedToken) and error.token.type == "$END"
    if error.pos_in_stream is None or isinstance(error, UnexpectedEOF) or wanted_more:
        return len(text.rstrip())
    return error.pos_in_stream


def _mend_without_colon(text: str) -> str:
    """A mend for a line without a colon: the keyword meant, or the line with its colon; "" if neither is likely."""
    first = text.split(maxsplit=1)[0].casefold()
    keyword = nearest(first, KEYWORDS, 0.75) if len(first) > 2 and not first[-1].isdigit() else ""
    if keyword:
        return f"Did you mean the statement {keyword}?"
    pressed = re.search(r"(?<!\d):|:(?!\d)", text)  # not that of a ratio
    if pressed and text[: pressed.start()].strip() and text[pressed.end() :].strip():
        return f"Write  {text[: pressed.start()].strip()} : {text[pressed.end() :].strip()}"
    words = text.split()
    kinds = implied_kinds(words[0]) if words else ()
    if len(words) < 3 or len(kinds) != 1 or kinds[0] not in GROUPS["two-terminal"]:
        return ""
    return f"Write  {' '.join(words[:-2])} : {' '.join(words[-2:])}   if the last two are its nets."


def _length(text: str, start: int) -> int:
    """The length of the word that starts at a place; a sign of punctuation stands alone."""
    rest = text[start:]
    if not rest or rest[0] in _PUNCTUATION:
        return 1
    return len(re.split(r'[\s:|=#,()"]', rest, maxsplit=1)[0]) or 1
