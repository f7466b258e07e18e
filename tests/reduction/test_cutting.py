"""A section cut out of a receiver rests and works as it does in the whole, and every part is accounted for."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from topo.errors import CircuitError
from topo.explanation.sections import wanted_sections
from topo.netlist import load, loads, write
from topo.reading import read
from topo.reduction.cutting import cut

ROOT = Path(__file__).resolve().parents[2]
KITCHEN = ROOT / "tests" / "reading" / "receivers" / "kitchen-wireless.net"


@cache
def reading():
    return read(load(KITCHEN))


@cache
def section(words):
    return cut(reading(), wanted_sections(reading(), words))


@pytest.mark.parametrize("words", ["audio", "IF amplifier", "converter", "output"])
def test_every_part_of_the_whole_has_one_entry(words):
    entries = [entry.part for entry in section(words).ledger]

    assert entries == [part.ref for part in reading().circuit.parts]


@pytest.mark.parametrize("words", ["audio", "IF amplifier", "converter", "output"])
def test_currents_and_voltages_at_rest_stay_what_they_are_in_the_whole(words):
    made = section(words)
    by_itself = read(loads(write(made.circuit)))
    here, there = by_itself.views, reading().views
    for ref in (part.ref for part in made.circuit.parts if part.kind == "pnp"):
        one, other = here.graph.element_of[ref], there.graph.element_of[ref]
        assert here.point.currents[one] == pytest.approx(there.point.currents[other], rel=1e-3, abs=1e-9)


def test_the_gain_of_a_section_stays_what_it_is_in_the_whole():
    said = next(text for text in section("audio").proof if text.startswith("Gain"))
    by_itself, whole = (float(words.split()[0]) for words in said.split(": ")[1].split(", in the whole "))

    assert by_itself == pytest.approx(whole, abs=0.2)


def test_the_source_is_what_the_detector_shows_and_the_drive_for_full_output_is_stated():
    text = " ".join(section("audio").proof)

    assert "Source at dv:" in text
    assert "Full output" in text


def test_what_lies_before_is_summed_up_as_the_source_and_what_feeds_as_the_supply():
    rules = {entry.part: entry.rule for entry in section("audio").ledger if entry.fate == "omitted"}

    assert rules["Q1"] == "summed up as the source"
    assert rules["C38"] == "summed up as the supply"


def test_a_section_that_is_not_there_is_refused_with_those_that_are():
    with pytest.raises(CircuitError, match="no section kitchen sink"):
        wanted_sections(reading(), "kitchen sink")
