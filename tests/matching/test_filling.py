"""Texts speak of the circuit at hand, and keep silent on what is not known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.matching.building import TAIL, document_of, views_of
from topo.matching import Context, fill, matches
from topo.matching.shelf import Library

NETLIST = "supply vcc 9V\nR1 1k : vcc mid\nD1 led : mid gnd\nQ1 npn : b=mid c=vcc e=out\nR3 1k : out gnd\n"
BODY = """
roles:
  feed: {kind: resistor, is: feed resistor}
  lamp: {kind: led, is: lamp}
  device: {kind: amplifying, is: follower, witness: true}
  bypass: {kind: capacitor, is: bypass, optional: true}
nets: {rail: {is: rail}, mid: , low: {is: ground}}
joins: {wire: [rail -feed- mid, mid -lamp> low, mid = device.ctl, mid -bypass- low]}
figures:
  feed current: {is: "current(feed)", unit: A}
  corner: {is: "1 / (2 * pi * value(feed) * value(bypass))", unit: Hz}
"""


def filled(text: str, netlist: str = NETLIST):
    """The text, filled for the one match in a netlist."""
    document = document_of(BODY, tail=TAIL.replace("It is one.", text, 1))
    library = Library((document.pattern,))
    circuit = views_of(netlist)
    (match,) = matches(circuit, library)
    return fill(document.texts.block["student"][0], match, Context(circuit, library))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{feed} feeds {lamp}.", "R1 feeds D1."),
        ("The {is feed} is on {mid}.", "The feed resistor is on mid."),
        ("It ends on {low}.", "It ends on ground."),
        ("{device} takes it at its {word(device.ctl)}.", "Q1 takes it at its base."),
        ("{value(feed)} is in series.", "1 kΩ is in series."),
        ("{2 * value(feed)} is twice as much.", "2 kΩ is twice as much."),
    ],
)
def test_placeholders_become_designators_names_and_numbers(text: str, words: str):
    found = filled(text)

    assert found is not None
    assert found.text == words


def test_a_figure_is_printed_with_its_unit():
    found = filled("{feed current} flows.")

    assert found is not None
    assert found.text.endswith("mA flows.")
    assert found.rests_on == ("R1",)


def test_a_filled_text_lists_the_parts_it_speaks_of():
    found = filled("{feed} feeds {lamp}, {feed} alone.")

    assert found is not None
    assert found.refs == ("R1", "D1")


@pytest.mark.parametrize("text", ["{bypass} is there.", "It begins at {corner}.", "{reactance(bypass)} is little."])
def test_a_sentence_of_what_is_not_there_is_left_out(text: str):
    assert filled(text) is None


def test_a_sentence_of_what_is_not_known_is_left_out():
    assert filled("It has {value(feed)}.", NETLIST.replace("R1 1k", "R1 ?")) is None


def test_a_number_that_rests_on_an_assumption_says_so():
    document = document_of(BODY, tail=TAIL.replace("It is one.", "{feed current} flows.", 1))
    library = Library((document.pattern,))
    circuit = views_of(NETLIST)
    circuit = replace(circuit, point=replace(circuit.point, assumed={"R1": "its value"}))
    (match,) = matches(circuit, library)

    found = fill(document.texts.block["student"][0], match, Context(circuit, library))

    assert found is not None
    assert found.assumed
