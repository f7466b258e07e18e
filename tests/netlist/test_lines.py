"""Lines: comments, continuation, ends of line, odd texts and sizes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

import topo
from topo.errors import NetlistError, UsageError

PLAIN = "supply vcc 9V\nR1 1k : vcc a\nC1 1u : a gnd\n"


def same(text: str) -> None:
    """The text says the same as the plain one."""
    assert topo.loads(text) == topo.loads(PLAIN)


def test_a_comment_goes_to_the_end_of_its_line():
    same("# head\nsupply vcc 9V # supply\nR1 1k : vcc a# one\n  # two \\\nC1 1u : a gnd\n")


def test_a_backslash_goes_on_in_the_next_line():
    same("supply vcc \\\n 9V\nR1 \\ # a comment\n 1k \\\n : vcc\\\na\nC1 1u : a gnd \\\n")


def test_the_place_in_a_continued_line_is_that_of_the_physical_line():
    with pytest.raises(NetlistError) as caught:
        topo.loads("R1 1k \\\n  : a \\\n   b c")

    problem = caught.value.problems[0]
    assert (problem.place.line, problem.place.column, problem.source) == (3, 6, "   b c")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_end_of_line_is_as_good(end):
    same(PLAIN.replace("\n", end))


def test_a_byte_order_mark_is_no_text():
    same("\ufeff" + PLAIN)


def test_tabs_and_blank_lines_are_white_space():
    same("\n\n" + PLAIN.replace(" ", "\t ").replace("\n", "  \n\n"))


def test_an_empty_text_is_a_circuit_without_parts():
    circuit = topo.loads("")

    assert circuit.parts == ()
    assert [problem.code for problem in circuit.warnings] == ["no-parts"]


def test_a_file_that_is_not_utf8_is_told_with_its_place(tmp_path):
    path = tmp_path / "old.net"
    path.write_bytes(b"R1 1k : a b\nC1 4\xb57 : a b\n")

    with pytest.raises(NetlistError, match=r"old\.net, line 2, column 5: this is not UTF-8"):
        topo.load(path)


def test_a_file_that_is_not_there_is_a_wrong_use(tmp_path):
    with pytest.raises(UsageError, match="no such file"):
        topo.load(tmp_path / "none.net")


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(UsageError):
        topo.load(tmp_path)


def test_an_endless_line_is_refused():
    with pytest.raises(NetlistError, match="more than 20000 characters"):
        topo.loads("R1 1k : " + "a" * 30_000)


def test_all_errors_of_a_text_are_told_in_one_run_in_order():
    with pytest.raises(NetlistError) as caught:
        topo.loads("""
            supply vcc
            R1 4x7 : a b
            Q1 npn : a b c
            R1 1k : a b
            what is this
            R2 1k : a
        """)

    assert [problem.place.line for problem in caught.value.problems] == [2, 3, 4, 5, 6, 7]


@given(st.text(alphabet='RCQTA1 4k7:|=#,()"\\\n.+-abnpu', max_size=80))
def test_no_text_is_too_odd(text):
    try:
        topo.loads(text)
    except NetlistError as error:
        assert error.problems
        assert str(error)


@given(st.text(max_size=60))
def test_no_text_of_any_alphabet_is_too_odd(text):
    try:
        topo.loads(text)
    except NetlistError as error:
        assert str(error)
