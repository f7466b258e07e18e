"""Slips of the pen that leave a circuit that can be read: each is told of on its own line, correct circuits of none."""

from pathlib import Path

import pytest

import topo
from topo.cli.check import judge_circuit

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.net"))


def said(text, code):
    """The lines of which something of that code is said, with the words."""
    problems = judge_circuit(topo.loads(text), gaps=False, voltages=True)
    return {problem.place.line: f"{problem.message} {problem.mend}" for problem in problems if problem.code == code}


def sample(name, old, new):
    """The text of a sample with one line changed, and the number of that line."""
    rows = (ROOT / "samples" / f"{name}.net").read_text(encoding="utf-8").split("\n")
    number = next(place for place, row in enumerate(rows) if row.startswith(old))
    rows[number] = new
    return "\n".join(rows), number + 1


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_of_a_correct_sample_nothing_is_said(path):
    assert judge_circuit(topo.load(path), gaps=False, voltages=True) == ()


def test_an_emitter_resistor_that_is_not_like_its_sister_is_told_with_the_sister():
    text, line = sample("intercom", "R10 ", "R10  22                  : e3 gnd")
    found = said(text, "unlike-pair")

    assert line in found
    assert "R11" in found[line]


def test_a_bias_resistor_ten_times_too_large_is_told_on_its_own_line():
    text, line = sample("gate-speaker-class-ab", "R1 ", "R1   220k                : mid b1")

    assert "22 kΩ for R1" in said(text, "value-slipped")[line]


def test_a_bypass_capacitor_ten_times_too_small_is_asked_about():
    text, line = sample("intercom", "C5 ", "C5   4u7 electrolytic    : e2 gnd")

    assert "47 µF would be" in said(text, "capacitor-small")[line]


def test_a_bias_diode_turned_round_is_told_with_the_mend():
    text, line = sample("hall-amplifier", "D1 ", "D1   diode               : k1 vp")

    assert "Write  D1 ... : vp k1" in said(text, "diode-reversed")[line]


def test_a_power_stage_without_its_loudspeaker_is_told():
    text, _ = sample("gate-speaker-class-b", "LS1 ", "")

    assert "Is a loudspeaker missing?" in next(iter(said(text, "no-load").values()))


def test_windings_that_drive_a_pair_in_phase_are_told_on_the_transformer_s_line():
    text, line = sample("intercom", "T1 ", "T1   transformer 3:1+1   : d2 vcc | tap s1 s2")

    assert "T1" in said(text, "pair-in-phase")[line]


def test_a_pair_whose_halves_are_driven_by_a_shared_column_is_driven_rightly():
    text = """
    supply vee -24V
    input a
    output spk
    C1 10u : a b
    R1 22k : o b
    R2 470 : b gnd
    Q5 pnp germanium : b=b c=low e=gnd
    R7 2k2 : vee high
    R8 120 : high low
    Q1 pnp germanium : b=high c=vee e=x1
    Q3 pnp germanium : b=x1 c=vee e=e1
    R3 220 : x1 o
    R5 0R47 : e1 o
    Q2 npn germanium : b=low c=x2 e=o
    Q4 pnp germanium : b=x2 c=o e=e2
    R4 220 : x2 gnd
    R6 0R47 : e2 gnd
    C3 1000u : o spk
    LS1 speaker 8 : spk gnd
    """

    assert said(text, "pair-in-phase") == {}


def test_an_electrolytic_turned_round_is_told_where_it_bears_it_too():
    text, line = sample("intercom", "C3 ", "C3   100u electrolytic   : gnd e1")

    assert "no more than it bears" in said(text, "electrolytic-reversed")[line]


def test_a_collector_at_the_voltage_of_the_base_that_it_drives_is_right():
    text = "supply vcc 9V\ninput in\noutput out\nsignal 100Hz to 10kHz\nC1 10u : in b1\nR1 100k : e2 b1\n"
    text += "R2 22k : vcc c1\nQ1 npn : b=b1 c=c1 e=gnd\nR3 4k7 : vcc out\nQ2 npn : b=c1 c=out e=e2\n"
    text += "R4 1k : e2 gnd\nC2 100u : e2 gnd\n"

    assert said(text, "value-slipped") == {}


def test_a_divider_that_is_weak_for_its_base_is_told_with_the_emitter_resistor():
    text, line = sample("watch-receiver", "R25 ", "R25 47                   : e7 gnd")

    assert "470 Ω for R25" in said(text, "value-slipped")[line]


def test_a_stage_s_resistor_is_looked_for_beside_an_oscillator_too():
    text, line = sample("watch-receiver", "R24 ", "R24 1k                   : b7 gnd")

    assert "10 kΩ for R24" in said(text, "value-slipped")[line]
