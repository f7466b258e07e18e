"""Lines of the usual forms are understood as the grammar understands them; all others are left to it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.bench.amplifiers import text as channels
from topo.matching import library
from topo.netlist import loads
from topo.netlist.drafting import Drafter
from topo.netlist.grammar import KEYWORDS, parse_by_grammar
from topo.netlist.lines import Line, logical_lines
from topo.netlist.problems import Problems
from topo.netlist.usual import _forms, usual_line

SAMPLES = sorted((Path(__file__).resolve().parents[2] / "samples").glob("*.net"))
MUTATIONS = 3_000
PIECES = (
    "R1",
    "device",
    "=",
    ":",
    " ",
    "|",
    "to",
    "input",
    "10k",
    "3:1",
    ":x",
    "\t",
    "a=b",
    "(",
    '"',
    "-",
    "ſupply",
    "\\",
    "#",
)


def lines() -> list[Line]:
    """Every line of the samples, of a channel of the bench, and of the examples of the library."""
    texts = [file.read_text(encoding="utf-8") for file in SAMPLES] + [channels(1)]
    for pattern in library().patterns:
        texts += [example.netlist for example in library().examples(pattern.slug)]
    found = {line.text: line for text in texts for line in logical_lines(text, "test")}
    return list(found.values())


LINES = lines()


def line_of(text: str) -> Line:
    return Line(text, ((0, 1, text),), "test")


def assert_as_the_grammar_says(line: Line) -> bool:
    usual = usual_line(line)
    if usual is not None:
        told = parse_by_grammar(line, Problems())
        assert type(usual) is type(told) and usual == told, line.text
    return usual is not None


def test_every_line_of_the_library_and_the_samples_is_understood_alike():
    taken = sum(assert_as_the_grammar_says(line) for line in LINES)
    assert taken > 0.95 * len(LINES)


def test_lines_with_typing_mistakes_are_understood_alike():
    dice = random.Random(7)
    for _ in range(MUTATIONS):
        text = dice.choice(LINES).text
        for _ in range(dice.randint(1, 3)):
            at = dice.randint(0, len(text))
            text = text[:at] + dice.choice(("", *PIECES)) + text[at + dice.randint(0, 2) :]
        if text.strip():
            assert_as_the_grammar_says(line_of(text))


@given(st.lists(st.sampled_from(PIECES), min_size=1, max_size=12).map("".join).filter(str.strip))
def test_rows_of_odd_pieces_are_understood_alike(text):
    assert_as_the_grammar_says(line_of(text))


@pytest.mark.parametrize(
    "text",
    ["R1 10k a b", "R1 10k : | a b", "R1 10k :", "R1 : a=b=c d", "R1 hFE = 200 : a b", "block x (a b)", "Ω1 10k : a b"],
)
def test_what_is_no_usual_line_is_left_to_the_grammar(text):
    assert usual_line(line_of(text)) is None


def test_every_statement_of_the_language_is_known_for_one():
    assert {*KEYWORDS, "to"} == _forms().keywords


def test_the_grammar_is_not_needed_for_a_plain_netlist(monkeypatch):
    monkeypatch.setattr("topo.netlist.grammar._parser", lambda: pytest.fail("the parser was made"))
    lines = ["circuit Two", "device X npn hFE=5", "supply vcc 9V", "signal 1k to 2k", "input a"]
    circuit = loads("\n".join([*lines, "R1 4k7 : vcc a", "Q1 npn : b=a c=vcc e=gnd"]))
    assert [part.ref for part in circuit.parts] == ["R1", "Q1"]


TWICE = """
device fast npn hFE=80
supply vcc 9V
input a
output c
signal 1kHz to 2kHz
R1 4K7 : vcc a
R2 4K7 : vcc b
R3 5k1 0.5W : a gnd
R4 5k1 0.5W : b gnd
RT1 5k1 : a b
C1 100n 50V : a b
C2 100n 50V : b c
C3 0.02 : b c
C4 0.02 : c gnd
Q1 fast : b=a c=vcc e=c
Q2 fast : b=b c=vcc e=c
T1 transformer 2:1 : vcc a | c gnd
T2 transformer 2:1 : vcc b | c gnd
"""
TEXTS = [TWICE, channels(2), *(file.read_text(encoding="utf-8") for file in SAMPLES)]


@pytest.mark.parametrize("text", TEXTS, ids=["twice", "channels", *(file.stem for file in SAMPLES)])
def test_lines_that_say_the_same_are_read_as_if_each_were_alone(text, monkeypatch):
    class Forgetful(dict):
        def __setitem__(self, key, value):
            pass

    once = loads(text)
    whole = Drafter.__init__

    def forgetful(self, *arguments):
        whole(self, *arguments)
        self.natures = Forgetful()

    monkeypatch.setattr(Drafter, "__init__", forgetful)
    assert loads(text) == once
