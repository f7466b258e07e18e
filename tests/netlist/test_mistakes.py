"""The mistakes that people make when they type a paper diagram, each with the message that catches it."""

from __future__ import annotations

import topo
from topo.analysis import operating_point
from topo.analysis.sanity import check_with_point
from topo.errors import NetlistError

STAGE = """circuit  Microphone stage
supply   vcc 9V
input    mic
output   out
signal   300Hz to 3.4kHz
C1   electrolytic 4u7 16V : base mic
R1   47k             : vcc base
R2   10k             : base gnd
Q1   npn             : b=base c=col e=emit
R3   470             : emit gnd
R4   2k2             : vcc col
C2   electrolytic 10u 16V : col out
R5   10k             : out gnd
"""


def told(old: str, new: str, file: str = "stage.net") -> str:
    """Everything that is said of the stage with a mistake made in it, as a person reads it."""
    assert old in STAGE
    try:
        circuit = topo.loads(STAGE.replace(old, new), file)
    except NetlistError as error:
        return str(error)
    problems = [*circuit.warnings, *check_with_point(circuit, operating_point(circuit))]
    return "\n".join(map(str, problems))


def test_without_a_mistake_nothing_is_said():
    assert told("", "") == ""


def test_a_missed_junction_dot_leaves_a_net_with_one_connection():
    assert "the net e2 has a single connection (emitter of Q1)" in told("e=emit", "e=e2")


def test_one_net_under_two_names():
    assert told("R2   10k             : base gnd", "R2   10k             : bas gnd") .startswith(
        "stage.net, line 8, column 24: warning: the net bas has a single connection (terminal 1 of R2).\n"
        "  R2   10k             : bas gnd\n"
        "                         ^^^\n"
        "  Did you mean base?"
    )  # fmt: skip


def test_two_kinds_of_ground():
    found = told("supply   vcc 9V", "supply   vcc 9V\nground   chassis")

    assert "gnd is a net of its own here, since chassis is said to be the ground." in found
    assert "Write  join chassis gnd   if they are one." in found


def test_pnp_typed_for_npn():
    found = told("Q1   npn", "Q1   pnp")

    assert "the base-emitter junction of Q1 has" in found
    assert "of reverse voltage at rest." in found
    assert "Is Q1 an npn, or are collector and emitter exchanged?" in found


def test_a_pinout_order_in_place_of_the_diagram():
    assert "the terminals of a transistor need names" in told("b=base c=col e=emit", "emit base col")


def test_collector_and_emitter_exchanged():
    found = told("c=col e=emit", "c=emit e=col")

    assert "the base-emitter junction of Q1 has 8.1 V of reverse voltage at rest." in found
    assert "Is Q1 a pnp, or are collector and emitter exchanged?" in found


def test_a_value_ten_times_too_small_saturates_the_stage_and_is_found():
    found = told("R1   47k", "R1   4k7")

    assert "Q1 is saturated at rest" in found
    assert "47 kΩ for R1" in found


def test_exchanged_digits_of_a_value():
    assert "74 kΩ is not a preferred value (E24 or E96). Was it 47 kΩ or 75 kΩ?" in told("47k ", "74k ")


def test_milli_for_mega():
    found = told("R5   10k", "R5   1m")

    assert "1 mΩ: `m` is milli. Was `M`, mega, meant?" in found
    assert "Write 1M if so." in found


def test_old_marks_are_asked_about_and_not_assumed():
    assert "`8mfd` is an old mark: microfarads?\n" in told("10u 16V", "8mfd 16V")
    assert "Write 0.02u if so; until then the value is not known." in told("4u7 16V", ".02 16V")
    assert "`K` is read as kilo, as IEC 60062 has it" in told("2k2", "2K2")
    circuit = topo.loads(STAGE.replace("4u7 16V", ".02 16V"))
    assert circuit.part("C1").value is None


def test_a_decimal_comma():
    found = told("2k2", "2,2k")

    assert "a comma has no meaning here" in found
    assert "4.7k or 4k7" in found


def test_an_electrolytic_turned_round():
    found = told("C2   electrolytic 10u 16V : col out", "C2   electrolytic 10u 16V : out col")

    assert "the electrolytic C2 has" in found
    assert "the wrong way round at rest." in found


def test_a_voltage_above_a_capacitors_rating():
    assert "C2 is rated at 4 V and has" in told("10u 16V", "10u 4V")


def test_a_zener_turned_round():
    found = told("R5   10k", "R7   1k : vcc ref\nZD1  5V6 : ref gnd\nR5   10k")

    assert "the zener diode ZD1 conducts forwards" in found


def test_a_designator_used_twice():
    found = told("R5   10k", "R4   10k")

    assert "the designator `R4` is used twice; it is on line 11 too." in found
    assert "Free is R5, for example." in found


def test_a_part_left_out_leaves_a_base_without_bias():
    found = told("R1   47k             : vcc base\nR2   10k             : base gnd\n", "")

    assert "the base of Q1 has no path for direct current" in found
    assert "Is a bias resistor missing?" in found


def test_a_part_left_out_leaves_a_collector_without_supply():
    assert "the collector of Q1 has no path for direct current." in told("R4   2k2             : vcc col\n", "")


def test_the_polarity_of_the_supply():
    found = told("vcc 9V", "vcc -9V")

    assert "the electrolytic C2 has" in found


def test_a_kind_misspelt():
    found = told("electrolytic 4u7", "elektrolytic 4u7")

    assert "`elektrolytic` is not understood" in found
    assert "Did you mean electrolytic?" in found


def test_several_mistakes_are_told_in_one_run():
    text = STAGE.replace("2k2", "2,2k").replace("npn", "nppn").replace("R2   10k", "R1   10k")
    try:
        topo.loads(text, "stage.net")
    except NetlistError as error:
        assert [problem.code for problem in error.problems] == ["ref-twice", "unknown-word", "comma"]
