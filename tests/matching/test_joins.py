"""Joins are read as they are written."""

from __future__ import annotations

import pytest

from topo.errors import InputError, Place
from topo.matching.joins import parse_join
from topo.matching.pattern import Link, Spot

HERE = Place("file.yaml", 7, 5)


def test_a_chain_has_a_link_between_each_two_nodes():
    join = parse_join("rail -feed- bias -diode> common", "dc", HERE)

    assert join.spots == (Spot("literal", "rail"), Spot("net", "bias"), Spot("net", "common"))
    assert join.links == (Link("-", "feed"), Link("-", "diode", ">"))


@pytest.mark.parametrize(
    ("text", "link"),
    [
        ("a = b", Link("=")),
        ("a ~ b", Link("~")),
        ("a ~(1.3 V) b", Link("~", limit=1.3)),
        ("a ~(250mV) b", Link("~", limit=0.25)),
        ("a -r- b", Link("-", "r")),
        ("a -(re upper)- b", Link("-()", "re upper")),
        ("a <d- b", Link("-", "d", "<")),
    ],
)
def test_each_sort_of_link_is_known(text: str, link: Link):
    assert parse_join(text, "dc", HERE).links == (link,)


@pytest.mark.parametrize("word", ["0", "gnd", "rail", "supply"])
def test_four_words_are_nodes_of_their_own(word: str):
    assert parse_join(f"a -c- {word}", "signal", HERE).spots[1] == Spot("literal", word)


@pytest.mark.parametrize(
    ("text", "terminal"), [("q.ctl = a", "ctl"), ("amp.in- = a", "in-"), ("c one.+ = a", "+"), ("r.1 = a", "1")]
)
def test_a_terminal_is_a_name_after_a_dot(text: str, terminal: str):
    assert parse_join(text, "wire", HERE).spots[0].terminal == terminal


@pytest.mark.parametrize(
    ("text", "column"), [("bias ~", 11), ("a b", 5), ("a -x b", 7), ("~ a", 5), ("a = ", 8), ("a.b.c = d", 8), ("", 5)]
)
def test_a_join_that_cannot_be_read_says_where(text: str, column: int):
    with pytest.raises(InputError) as error:
        parse_join(text, "dc", HERE)

    (problem,) = error.value.problems
    assert problem.place.line == 7
    assert abs(problem.place.column - column) <= 1
    assert "rail -feed- bias" in problem.expected


def test_a_join_of_absurd_length_is_refused():
    with pytest.raises(InputError):
        parse_join("a" + " -r- a" * 100, "dc", HERE)
