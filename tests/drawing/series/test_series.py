"""The progressive set of one circuit."""

import re
import xml.etree.ElementTree as ElementTree
from functools import cache

import pytest

import topo
from topo.drawing.schematic.extracting import extract, shapes_of
from topo.drawing.series import series

AMPLIFIER = """
circuit Six transistors & a <speaker>
supply vcc 12V
input in
output spk
signal 300Hz to 3.4kHz
C1 electrolytic 10u : b1 in
R1 22k : mid b1
R2 3k9 : b1 gnd
Q1 npn : b=b1 c=low e=gnd
R3 1k : vcc high
D1 diode : high between
D2 diode : between low
Q2 npn hFE=150 : b=high c=vcc e=e2
Q3 pnp hFE=150 : b=low c=gnd e=e3
R4 0R47 : e2 mid
R5 0R47 : e3 mid
C2 electrolytic 470u : mid spk
LS1 speaker 8 : spk gnd
C3 electrolytic 1000u : vcc gnd
"""
PREAMP = """
supply vcc 12V
input in
output out
C1 10u : in b1
R1 100k : vcc b1
R2 22k : b1 gnd
R3 2k2 : vcc c1
R4 470 : e1 gnd
C4 100u : e1 gnd
Q1 npn : b=b1 c=c1 e=e1
C2 10u : c1 out
R9 100k : out gnd
"""


@cache
def steps_of(text):
    reading = topo.read(topo.loads(text))
    return series(topo.explain(reading), topo.reduce(reading, "principle"), width=170.0)


def places(svg):
    """Place and position of each symbol with a designator."""
    return {ref: (turn, x, y) for ref, _, _, turn, x, y in shapes_of(svg).symbols if ref and "input" not in ref}


def test_the_set_goes_from_the_output_stage_to_the_whole():
    steps = steps_of(AMPLIFIER)

    assert [step.heading for step in steps] == [
        "The bare principle",
        "With its drive",
        "With its bias",
        "With feedback",
        "With what decouples, steadies and protects it",
        "The whole circuit",
    ]
    assert [step.added for step in steps[2:]] == [("D1", "D2"), ("R1",), ("C3",), ()]
    assert {part.ref for part in steps[-1].circuit.parts} == {part.ref for part in topo.loads(AMPLIFIER).parts}


def test_each_part_is_at_the_same_place_in_every_step():
    whole = places(steps_of(AMPLIFIER)[-1].svg)

    for step in steps_of(AMPLIFIER):
        battery = {ref for ref, name, *_ in shapes_of(step.svg).symbols if name == "battery"}
        for ref, where in places(step.svg).items():
            if ref not in battery:
                assert where == whole[ref]
    assert len({re.search(r'viewBox="[^"]*"', step.svg).group() for step in steps_of(AMPLIFIER)}) == 1


def test_each_figure_joins_what_its_own_circuit_joins():
    for step in steps_of(AMPLIFIER):
        net_of = {(part.ref, t.net) for part in step.circuit.parts for t in part.terminals}
        extracted = extract(shapes_of(step.svg))
        assert not extracted.errors
        refs = {pin[0] for pins, _ in extracted.groups for pin in pins}
        assert {ref for ref, _ in net_of} <= refs
        assert step.metrics.text_overlaps == step.metrics.symbol_overlaps == step.metrics.wires_through_symbols == 0


def test_an_ideal_source_stands_for_bias_that_is_not_yet_there():
    reading = topo.read(topo.loads(AMPLIFIER))
    volts = reading.views.point.voltage("high", "low")
    first = steps_of(AMPLIFIER)[0]

    (battery,) = [part for part in first.circuit.parts if part.kind == "battery"]
    assert battery.value == pytest.approx(volts)
    assert [t.net for t in battery.terminals] == ["high", "low"]
    assert list(first.terminals) == ["high"]


def test_what_is_new_is_drawn_heavier_and_the_whole_plain():
    steps = steps_of(AMPLIFIER)

    assert len(re.findall(r'<g fill="none" stroke="#000000"', steps[1].svg)) == 4
    assert len(re.findall(r'<g fill="none" stroke="#000000"', steps[-1].svg)) == 2


def test_a_caption_says_what_was_added_what_is_missing_and_what_stands_for_it():
    caption = " ".join(steps_of(AMPLIFIER)[1].caption)

    assert "Added, in a heavier line: C1, Q1, R2 and R3." in caption
    assert "Not yet shown: C3, D1, D2 and R1." in caption
    assert "b1 at 0.699 V" in caption
    assert caption.count("* Rests on assumed values of D1, D2 and Q") == 1
    assert any(sentence.endswith(".*") for sentence in steps_of(AMPLIFIER)[1].caption)


def test_titles_and_alternative_texts_are_quoted():
    root = ElementTree.fromstring(steps_of(AMPLIFIER)[0].svg)

    assert root.find("{*}title").text == "Six transistors & a <speaker>, step 1 of 6: the bare principle"
    assert root.find("{*}desc").text.startswith("Schematic of ")


def test_a_circuit_without_output_stage_begins_with_its_stages():
    steps = steps_of(PREAMP)

    assert {"Q1", "R3", "R4"} <= {part.ref for part in steps[0].circuit.parts}
    assert steps[0].terminals["b1"] == pytest.approx(topo.read(topo.loads(PREAMP)).views.point.voltage("b1"))
    assert "out" not in steps[0].terminals
