"""Patterns' drawings: what the reader of pattern files refuses, and that figures follow them."""

import re
from pathlib import Path

import pytest

import topo
from topo.drawing import figure
from topo.matching.schema import read_pattern

PAIR = Path(__file__).parents[3] / "patterns" / "compound-devices" / "long-tailed-pair.yaml"
STAGES = """
supply vcc 12V
input in
output out
C1 10u : in b1
R1 100k : vcc b1
R2 22k : b1 gnd
Q1 npn : b=b1 c=c1 e=e1
R3 4k7 : vcc c1
R4 1k : e1 gnd
C2 10u : c1 b2
R5 100k : vcc b2
R6 22k : b2 gnd
Q2 npn : b=b2 c=c2 e=e2
R7 4k7 : vcc c2
R8 1k : e2 gnd
C3 10u : c2 out
R9 10k : out gnd
"""
GERMANIUM = """
supply vee -9V
input in
C1 10u : in b1
R1 47k : vee b1
R2 10k : b1 gnd
Q1 pnp germanium : b=b1 c=c1 e=e1
R3 2k2 : vee c1
R4 470 : e1 gnd
"""


def places(text):
    """Designator to matrix of each symbol of a figure."""
    svg = figure(topo.read(topo.loads(text))).svg
    found = re.findall(r'data-ref="(\w+)"[^>]*matrix\(([-\d ]+)\)', svg)
    return {ref: tuple(int(number) for number in matrix.split()) for ref, matrix in found}


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("right: {at: [12, 1], o: mirror}", "no mirror images"),
        ("right: {at: [12, 0], o: up}", "no such position"),
        ("right: {o: mirror}", "needs a place"),
    ],
)
def test_a_drawing_that_cannot_be_drawn_is_refused(wrong, told):
    text = PAIR.read_text(encoding="utf-8")
    right = "right: {at: [12, 0], o: mirror}"
    assert right in text
    _, problems = read_pattern(text.replace(right, wrong), "pair.yaml")
    assert any(told in problem.message for problem in problems)


def test_two_stages_of_one_kind_are_drawn_alike():
    at = places(STAGES)
    assert at["Q1"][5] == at["Q2"][5]
    for one, two in (("R1", "R5"), ("R2", "R6"), ("R3", "R7"), ("R4", "R8")):
        assert [at[one][axis] - at["Q1"][axis] for axis in (4, 5)] == [
            at[two][axis] - at["Q2"][axis] for axis in (4, 5)
        ]


def test_a_single_negative_supply_is_drawn_above_and_the_emitters_below():
    at = places(GERMANIUM)
    assert at["R3"][5] < at["Q1"][5] < at["R4"][5]
    assert at["Q1"][3] == -1


def test_images_on_ground_and_on_a_supply_share_no_symbol():
    at = places(
        "supply vcc 24V\ninput in\noutput out\nC1 10u : in b\nR1 1k : vcc b\nR2 1k : b gnd\nQ1 npn : b=b c=x1 e=o\n"
        "Q2 pnp : b=b c=x2 e=o\nR3 220 : x1 vcc\nR4 220 : x2 gnd\nC2 100u : o out\nR5 8 : out gnd\n"
    )
    assert at["R3"][5] < at["Q1"][5] < at["Q2"][5] < at["R4"][5]
