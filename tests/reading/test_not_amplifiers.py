"""Circuits that are no amplifier are called none, and yield no pair."""

from __future__ import annotations

import pytest
from circuits import BRIDGE_OF_SWITCHES, MULTIVIBRATOR, RECTIFIER_SUPPLY, TWO_SINGLE_STAGES

from topo.reading.summary import with_article

CIRCUITS = {
    "a rectifier supply with a centre-tapped secondary": RECTIFIER_SUPPLY,
    "a multivibrator": MULTIVIBRATOR,
    "a bridge of switches": BRIDGE_OF_SWITCHES,
    "two single stages on one rail": TWO_SINGLE_STAGES,
}


@pytest.mark.parametrize("text", CIRCUITS.values(), ids=CIRCUITS)
def test_no_pair_is_claimed(reading, text):
    assert not [block.name for block in reading(text).blocks if block.sort == "output"]


@pytest.mark.parametrize("text", [RECTIFIER_SUPPLY, MULTIVIBRATOR, BRIDGE_OF_SWITCHES])
def test_it_is_not_called_an_amplifier(reading, text):
    assert "amplifier" not in reading(text).summary


@pytest.mark.parametrize("text", CIRCUITS.values(), ids=CIRCUITS)
def test_no_near_miss_is_invented(reading, text):
    assert reading(text).near_misses == ()


def test_a_circuit_that_makes_its_own_signal_is_said_to_work_into_no_load(reading):
    text = """
    supply vcc 12V
    output out
    T1 transformer 10+10:5+5:20 : p1 vcc p2 | b1 tap b2 | out gnd
    R1 1k : vcc tap
    R2 10 : tap gnd
    Q1 npn : b=b1 c=p1 e=gnd
    Q2 npn : b=b2 c=p2 e=gnd
    R3 10 : out gnd
    """
    assert " into " not in reading(text).summary


def test_letters_spoken_with_a_vowel_have_an():
    assert with_article("H-bridge") == "an H-bridge"
    assert with_article("high-pass filter") == "a high-pass filter"


def test_a_connector_is_not_called_unknown(reading):
    assert reading("supply vcc 9V\nJ1 jack : a gnd\nR1 1k : vcc a\n").not_recognised == ("R1",)


def test_a_circuit_without_a_state_of_rest_is_not_warned_of_one(reading):
    codes = [problem.code for problem in reading(MULTIVIBRATOR).warnings]

    assert not [code for code in codes if code.startswith("device-")]


def test_a_supply_is_called_by_its_own_name(reading):
    assert reading(RECTIFIER_SUPPLY).summary == "A rectifier and reservoir."


def test_of_an_integrated_circuit_it_is_said_that_its_inside_is_not_known(reading):
    text = """
    supply vcc 9V
    input in
    output out
    C1 1u : in a
    U1 ic : 1=a 2=b 3=vcc 4=gnd
    C2 100u : b out
    """
    assert "What goes on inside U1 is not known." in reading(text).summary
