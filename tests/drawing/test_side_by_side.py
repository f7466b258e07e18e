from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import topo
from topo.comparison import compare, focus_of
from topo.drawing.side_by_side import comparison_svg, schematic_pair

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture(scope="module")
def drawing():
    one, two = (topo.read(topo.load(SAMPLES / f"{name}.net")) for name in ("intercom", "hf-link"))
    return comparison_svg(compare(one, two, focus=(None, focus_of(two, section="Final"))))


def test_both_circuits_are_drawn_in_one_well_formed_drawing(drawing):
    words = " ".join(ET.fromstring(drawing).itertext())

    assert "A  Bench intercom" in words
    assert "B  HF link" in words


def test_a_box_says_what_corresponds_to_it(drawing):
    words = " ".join(ET.fromstring(drawing).itertext())

    assert "in B: Q4 Q5 T3" in words
    assert "by other means in A: D1 R9 C6" in words


def test_the_drawing_of_a_comparison_says_in_words_how_alike_they_are(drawing):
    described = ET.fromstring(drawing).find("{http://www.w3.org/2000/svg}desc")

    assert described is not None
    assert described.text.startswith("The same circuit, a transformer-coupled push-pull pair")


def test_titles_are_quoted():
    text = "circuit <b>&\nsupply vcc 9V\nR1 1k : vcc a\nR2 1k : a gnd\n"
    one = topo.read(topo.loads(text))

    assert "<b>" not in comparison_svg(compare(one, one))


STAGE = """
supply vcc 9V
input  a
output o
C1  1u    : a b
R1  47k   : vcc b
R2  10k   : b gnd
Q1  npn   : b=b c=c e=e
R3  4k7   : vcc c
R4  1k    : e gnd
C3  1u    : c o
R5  47k   : o gnd
"""


def test_a_part_without_a_counterpart_is_heavier_in_its_schematic():
    plain, bypassed = (topo.read(topo.loads(text)) for text in (STAGE, STAGE + "C2 100u : e gnd\n"))

    def weights(figure):
        return {float(found) for found in re.findall(r'stroke-width="([\d.]+)"', figure.svg)}

    same, _ = schematic_pair(compare(plain, plain))
    one, other = schematic_pair(compare(plain, bypassed))

    assert one.svg == same.svg
    assert max(weights(other)) > max(weights(same))


def test_only_what_is_compared_is_drawn():
    one, two = topo.read(topo.loads(STAGE)), topo.read(topo.loads(STAGE + "R6 10k : vcc d\nLED1 led : d gnd\n"))
    compared = compare(one, two, focus=(None, focus_of(two, parts=["Q1"])))

    _, figure = schematic_pair(compared)

    assert {part.ref for part in figure.circuit.parts} <= set(compared.second.compared)
    assert "R3" in figure.svg
    assert ">LED1<" not in figure.svg
