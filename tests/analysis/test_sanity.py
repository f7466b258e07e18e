"""What is asked about a circuit once its voltages are known."""

from __future__ import annotations

from dataclasses import replace

import topo
from topo.analysis import operating_point
from topo.analysis.sanity import check_with_point


def found(text: str) -> dict[str, str]:
    """Codes and messages of what the operating point gives rise to."""
    circuit = topo.loads(text)
    return {problem.code: str(problem) for problem in check_with_point(circuit, operating_point(circuit))}


def test_the_idle_half_of_a_complementary_pair_is_no_mistake():
    assert "junction-reversed" not in found("""
        supply vcc 9V
        R1 1k   : vcc drive
        R2 1k   : drive gnd
        Q1 npn  : b=drive c=vcc e=mid
        Q2 pnp  : b=drive c=gnd e=mid
        R3 10k  : mid gnd
    """)


def test_a_transistor_of_class_c_is_off_by_intention():
    assert (
        found("""
        supply vcc 12V
        signal 7MHz to 7.2MHz
        input drive
        output tank
        L1 10u  : drive gnd
        Q1 npn  : b=drive c=tank e=gnd
        L2 10u  : vcc tank
    """)
        == {}
    )


def test_a_transistor_almost_biased_is_noted_as_off():
    words = found("""
        supply vcc 12V
        input base
        output col
        R1 100k : vcc base
        R2 1k   : base gnd
        Q1 npn  : b=base c=col e=gnd
        R3 1k   : vcc col
    """)

    assert "Q1 is off at rest, with 0.12 V between base and emitter." in words["device-off"]
    assert "10 kΩ for R1" in words["device-off"] or "10 kΩ for R2" in words["device-off"]


def test_a_saturated_transistor_of_a_circuit_without_ports_is_only_noted():
    circuit = topo.loads("""
        supply vcc 5V
        R1 10k : vcc b
        Q1 npn : b=b c=c e=gnd
        R2 1k  : vcc c
    """)

    problems = check_with_point(circuit, operating_point(circuit))
    assert [(problem.code, problem.severity) for problem in problems] == [("device-saturated", "note")]


def test_the_polarity_of_the_majority_is_told():
    words = found("""
        supply vcc -9V
        R1 47k : vcc b1
        R2 10k : b1 gnd
        Q1 npn : b=b1 c=c1 e=e1
        R3 1k  : e1 gnd
        R4 2k2 : vcc c1
        Q2 pnp : b=c1 c=vcc e=e2
        R5 1k  : e2 gnd
        Q3 pnp : b=e2 c=vcc e=e3
        R6 1k  : e3 gnd
    """)

    assert "Is Q1 a pnp, as 2 of the 3 are, or" in words["junction-reversed"]


def test_a_resistor_beyond_its_rating_is_told():
    words = found("supply vcc 12V\nR1 100 0.5W : vcc gnd")

    assert "R1 (100 Ω) would turn 1.4 W into heat; it is rated at 0.5 W." in words["rating-exceeded"]


def test_a_resistor_that_would_glow_is_told():
    assert "hot-resistor" in found("supply vcc 12V\nR1 10 : vcc gnd")


def test_a_supply_that_is_as_good_as_shorted_is_told():
    assert "supply-overloaded" in found("supply vcc 12V\nR1 0R1 : vcc gnd")


def test_what_cannot_be_computed_is_noted_and_stops_nothing():
    words = found("supply vcc 9V\nR1 ? : vcc a\nR2 1k : a gnd")

    assert "R1" in words["not-computed"]


def test_a_note_that_asks_ends_with_its_question():
    circuit = topo.loads("supply vcc 9V\nR1 1k : vcc gnd")
    point = replace(
        operating_point(circuit), status="partly solved", missing=("is a resistor missing?", "net a floats")
    )

    messages = [problem.message for problem in check_with_point(circuit, point)]
    assert messages == ["is a resistor missing?", "net a floats."]
