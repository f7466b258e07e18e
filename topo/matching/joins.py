"""Reads the joins of a pattern by `grammar/joins.lark`. Needed only while patterns are compiled."""

from __future__ import annotations

from functools import cache

from topo.errors import InputError, Place, Problem
from topo.matching.pattern import Join, Link, Spot
from topo.resources import lark_parser

LONGEST_JOIN = 200
LITERALS = ("0", "gnd", "rail", "supply")
EXPECTED = "nodes and links by turns, such as `rail -feed- bias` or `bias ~ device.ctl`"


@cache
def _parser():
    return lark_parser("joins", "start")


def parse_join(text: str, view: str, place: Place) -> Join:
    """The join written in `text`.

    Raises:
        InputError: with the column of what could not be read.
    """
    from lark import UnexpectedInput

    if len(text) > LONGEST_JOIN:
        raise InputError((Problem(place, f"A join has more than {LONGEST_JOIN} characters.", code="too-large"),))
    try:
        tree = _parser().parse(text)
    except UnexpectedInput as error:
        column = max(1, getattr(error, "column", 1) or 1) if getattr(error, "column", -1) != -1 else len(text) + 1
        where = Place(place.file, place.line, place.column + column - 1)
        problem = Problem(where, f"The join `{text}` cannot be read.", expected=EXPECTED, source=text, code="join")
        raise InputError((problem,)) from None
    spots = [_spot(node) for node in tree.children if node.data == "spot"]
    links = [_link(node) for node in tree.children if node.data != "spot"]
    return Join(view, text, tuple(spots), tuple(links), place.line)


def _spot(node) -> Spot:
    name = str(node.children[0])
    if len(node.children) > 1:
        return Spot("terminal", name, str(node.children[1])[1:])
    return Spot("literal" if name in LITERALS else "net", name)


def _link(node) -> Link:
    if node.data == "equal":
        return Link("=")
    if node.data == "lead":
        return Link("~")
    word = str(node.children[0])
    if node.data == "limited":
        number = float(word.rstrip("V").rstrip("m"))
        return Link("~", limit=number / 1000 if word.endswith("mV") else number)
    if node.data == "optional":
        return Link("-()", role=word[2:-2])
    return Link("-", role=word[1:-1], direction={"forward": ">", "backward": "<"}.get(node.data, ""))
