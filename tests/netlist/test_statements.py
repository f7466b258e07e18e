"""What statements mean."""

from __future__ import annotations

import pytest
from pytest import approx

import topo
from topo.netlist.circuit import Port, Supply


def codes(circuit) -> list[str]:
    return [problem.code for problem in circuit.warnings]


def test_the_title_is_free_text_to_the_end_of_the_line():
    assert topo.loads("circuit  Bench intercom: talk-back = amplifier (1)   # a comment").title == (
        "Bench intercom: talk-back = amplifier (1)"
    )


def test_notes_are_kept_in_order():
    assert topo.loads("note from sheet 3: issue 2\nNOTE  R4 not fitted").notes == (
        "from sheet 3: issue 2",
        "R4 not fitted",
    )


def test_a_supply_may_be_negative_and_may_have_a_resistance():
    circuit = topo.loads("supply vcc 9V\nsupply vee -12V 2R2\nR1 1k : vcc vee")

    assert circuit.supplies == (Supply("vcc", 9.0), Supply("vee", -12.0, 2.2))


def test_ports_are_against_ground_or_a_second_net():
    circuit = topo.loads("R1 1k : a b\nR2 1k : b 0\ninput a\noutput b a")

    assert circuit.inputs == (Port("a", "0"),)
    assert circuit.outputs == (Port("b", "a"),)


def test_a_band_is_of_the_circuit_or_of_a_section():
    circuit = topo.loads("""
        signal 300Hz to 3.4kHz
        section mixer
        signal 1.8MHz to 30MHz
        R1 1k : a b
        section audio
        R2 1k : b c
    """)

    assert circuit.bands == {None: (300.0, approx(3400.0)), "mixer": (1.8e6, 30e6)}
    assert circuit.band == (300.0, approx(3400.0))
    assert circuit.sections == ("mixer", "audio")
    assert [item.section for item in circuit.parts] == ["mixer", "audio"]
    assert not circuit.band_assumed


@pytest.mark.parametrize("line", ["LS1 8 : a gnd", "X1 headphones 32 : a gnd", "MK1 microphone : a gnd"])
def test_the_band_of_speech_is_assumed_where_somebody_speaks_or_listens(line):
    circuit = topo.loads(f"supply vcc 9V\nR1 1k : vcc a\n{line}")

    assert circuit.band == (300.0, 3400.0)
    assert circuit.band_assumed
    assert "band-asked" not in codes(circuit)


def test_the_band_is_asked_for_elsewhere():
    circuit = topo.loads("supply vcc 9V\nR1 1k : vcc gnd")

    assert circuit.band is None
    assert "band-asked" in codes(circuit)


@pytest.mark.parametrize("text", ["40", "40C", "40°C", "40c"])
def test_the_temperature_is_in_degrees_celsius(text):
    assert topo.loads(f"temperature {text}").temperature == 40.0


def test_the_temperature_is_27_if_not_said():
    assert topo.loads("R1 1k : a b").temperature == 27.0


def test_keywords_ignore_case_and_are_words_of_their_own():
    circuit = topo.loads("SUPPLY vcc 9V\nInput a\nR1 1k : supply ground1\nR2 1k : input1 a")

    assert circuit.supplies[0].volts == 9.0
    assert circuit.part("R1").net("1") == "supply"


def test_statements_mean_the_same_wherever_they_stand():
    early = topo.loads("supply vcc 9V\nground x\nsignal 1kHz to 2kHz\nR1 1k : vcc x")
    late = topo.loads("R1 1k : vcc x\nsignal 1kHz to 2kHz\nground x\nsupply vcc 9V")

    assert early == late


def test_global_statements_may_stand_inside_a_block():
    circuit = topo.loads("block s (a)\nsupply vcc 9V\nR1 1k : a vcc\nend\nA1 s : gnd")

    assert circuit.part("A1.R1").net("2") == "vcc"
    assert circuit.supplies == (Supply("vcc", 9.0),)
