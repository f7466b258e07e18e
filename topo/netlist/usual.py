"""Lines of the usual forms, understood without the parser: what is not surely one of them is left to the grammar.

What a word may be is read from the terminals of `grammar/netlist.lark` itself. Only a line of ASCII signs whose words
are parted by white space is taken, and only where the grammar gives it the same shape; a line with a mistake never is.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from topo.netlist.lines import Line
from topo.netlist.syntax import Item, PartLine, Setting, Statement, What, Word
from topo.resources import own_folder

_TERMINAL = re.compile(r"^(REF|NET|WORD|TEXT|_COLON): /(.+)/$", re.MULTILINE)
_KEYWORD = re.compile(r"^_[A-Z]+\.2: /([a-z]+)\(", re.MULTILINE)
_WORDS = re.compile(r"\S+")
# The words of each statement that is taken: `to` stands for itself.
_STATEMENTS = {
    "circuit": "(?:TEXT)?",
    "note": "TEXT",
    "section": "TEXT",
    "supply": r"NET\s+WORD(?:\s+WORD)?",
    "ground": "NET",
    "input": r"NET(?:\s+NET)?",
    "output": r"NET(?:\s+NET)?",
    "signal": r"WORD\s+to\s+WORD",
    "join": r"NET(?:\s+NET)+",
    "temperature": "WORD",
    "device": r"NET(?:\s+WORD(?:=WORD)?)*",
}
_OF_TEXT = frozenset(("circuit", "note", "section"))


class _Forms(NamedTuple):
    """The grammar's keywords; the forms of a part line up to its colon, of its terminals, of each statement's words."""

    keywords: frozenset[str]
    head: re.Pattern[str]
    where: re.Pattern[str]
    statements: dict[str, re.Pattern[str]]


@cache
def _forms() -> _Forms:
    """The forms, made of the grammar's terminals."""
    grammar = (own_folder("grammar") / "netlist.lark").read_text(encoding="utf-8")
    terminals = {name: f"(?:{form})" for name, form in _TERMINAL.findall(grammar)}
    ref, net, word, colon = (terminals[name] for name in ("REF", "NET", "WORD", "_COLON"))

    def filled(form: str) -> str:
        return re.sub("TEXT|NET|WORD", lambda found: terminals[found[0]], form)

    return _Forms(
        frozenset(_KEYWORD.findall(grammar)),
        re.compile(rf"\s*{ref}(?:\s+{word}(?:={word})?)*\s*{colon}"),
        re.compile(rf"\s+{net}(?:={net})?(?:\s+(?:\||{net}(?:={net})?))*\s*"),
        {keyword: re.compile(rf"\s*{filled(form)}\s*") for keyword, form in _STATEMENTS.items()},
    )


def usual_line(line: Line) -> PartLine | Statement | None:
    """The shape of a line of a usual form; None for any other."""
    text = line.text
    if not text.isascii():
        return None
    forms = _forms()
    first = text.split(None, 1)[0].casefold()
    if first in forms.keywords:
        return _statement(first, line) if first in _STATEMENTS else None
    head = forms.head.match(text)
    if head is None or forms.where.fullmatch(text, head.end()) is None:
        return None
    colon = head.end() - 1
    ref, *said = [Word(found[0], found.start()) for found in _WORDS.finditer(text, 0, colon)]
    groups: list[list[Item]] = [[]]
    for found in _WORDS.finditer(text, colon + 1):
        item = found[0]
        if item == "|":
            groups.append([])
        elif "=" in item:
            groups[-1].append(Item(*_parted(Word(item, found.start()))))
        else:
            groups[-1].append(Item(None, Word(item, found.start())))
    return PartLine(ref, _what(said), tuple(map(tuple, groups)), line)


def _what(said: list[Word]) -> What:
    """Words and `name=value` settings."""
    settings = [word for word in said if "=" in word.text]
    if not settings:
        return What(tuple(said), ())
    words = [word for word in said if "=" not in word.text]
    return What(tuple(words), tuple([Setting(*_parted(word)) for word in settings]))


def _parted(word: Word) -> tuple[Word, Word]:
    """The two words of `name=value`."""
    name, _, value = word.text.partition("=")
    return Word(name, word.start), Word(value, word.start + len(name) + 1)


def _statement(keyword: str, line: Line) -> Statement | None:
    text = line.text
    begin = len(text) - len(text.lstrip()) + len(keyword)
    if _forms().statements[keyword].fullmatch(text, begin) is None:
        return None
    if keyword in _OF_TEXT:
        said = text[begin:].lstrip()
        words = [Word(said, len(text) - len(said))] if said else []
    else:
        words = [Word(found[0], found.start()) for found in _WORDS.finditer(text, begin)]
        if keyword == "device":
            return Statement(keyword, (words[0],), _what(words[1:]), line)
        if keyword == "signal":
            del words[1]
    return Statement(keyword, tuple(words), None, line)
