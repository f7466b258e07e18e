"""`topo bias`."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from topo.cli import main
from topo.report.setting_json import SCHEMA

SAMPLES = Path(__file__).parents[2] / "samples"
FINAL = """circuit Final
supply vdd 28V
input rfin
output ant
signal 1.8MHz to 30MHz
device pwr nmos VTH=3 K=1
T1 transformer 2:1+1 : rfin gnd | ga ct gb
R1 10 : ga g1
R2 10 : gb g2
Q1 pwr : g=g1 d=d1 s=gnd
Q2 pwr : g=g2 d=d2 s=gnd
T2 transformer 1+1:4 : d1 vd d2 | ant gnd
L1 choke 10u : vdd vd
C1 100n : vd gnd
R3 2k2 : vdd zr
D1 zener 5V6 : gnd zr
VR1 trimmer 1k at 40% : zr w gnd
R4 1k : w ct
C2 100n : ct gnd
AE1 antenna 50 : ant gnd
"""


@pytest.fixture
def bias(tmp_path):
    """Runs `topo bias` on a text; gives its words in one line."""

    def run(text: str, *options: str, status: int = 0) -> str:
        path = tmp_path / "amp.net"
        path.write_text(text, encoding="utf-8")
        result = CliRunner().invoke(main, ["bias", str(path), *options], catch_exceptions=False)
        assert result.exit_code == status
        assert "--json" in options or all(len(line) <= 88 for line in result.stdout.splitlines())
        return " ".join(result.output.split())

    return run


def test_the_first_step_says_which_end_is_minimum(bias):
    assert "1 VR1 to minimum: wiper towards gnd (VR1: second end, on net gnd)." in bias(FINAL)


def test_a_trimmer_that_is_drawn_the_other_way_round_has_its_minimum_at_the_other_end(bias):
    assert "wiper towards gnd (VR1: first end, on net gnd)" in bias(FINAL.replace(": zr w gnd", ": gnd w zr"))


def test_a_trimmer_that_is_typed_at_its_minimum_is_found_all_the_same(bias):
    assert "it biases Q1 and Q2" in bias(FINAL.replace("at 40%", "at 100%"))


def test_the_total_at_minimum_is_an_estimate_with_a_range(bias):
    assert "the total should be about 10 mA (9 to 12) (estimate)" in bias(FINAL)


def test_the_readers_own_current_becomes_a_target_total(bias):
    text = bias(FINAL, "--set", "Q2=200mA")

    assert "until the total has risen by 200 mA (210 mA in all by the estimate)" in text
    assert "100 mA 100 mA <- your figure" in text


def test_no_specified_current_is_invented(bias):
    text = bias(FINAL)

    assert "until the total has risen by the specified current of that stage" in text
    assert "your figure" not in text
    assert "The equipment's own manual governs" in text


def test_gates_without_a_defined_bias_at_an_open_wiper_are_a_hazard(bias):
    assert "A wiper of VR1 that loses contact leaves Q1 and Q2 without a defined bias" in bias(FINAL)


def test_a_wiper_whose_loss_brings_full_bias_is_a_hazard(bias):
    text = bias(FINAL.replace("R4 1k : w ct", "R4 1k : w ct\nR5 10k : ct zr"))

    assert "Hazard: if the wiper of VR1 loses contact, the bias goes to full" in text


def test_a_device_without_a_trimmer_is_refused_with_what_is_allowed(bias):
    text = bias(FINAL.replace("Q2 pwr", "Q2 pwr"), "--set", "D1=5mA", status=2)

    assert "No bias trimmer acts on D1. A current may be set for VR1: Q1, Q2." in text


def test_a_device_that_does_not_exist_is_refused(bias):
    assert "There is no part Q9." in bias(FINAL, "--set", "Q9=5mA", status=2)


@pytest.mark.parametrize("typed", ["Q1", "Q1=", "Q1=5V", "Q1=-2mA", "=5mA"])
def test_a_figure_that_is_no_current_is_refused_with_an_example(bias, typed):
    assert "such as Q5=150mA" in bias(FINAL, "--set", typed, status=2)


def test_two_figures_for_one_trimmer_are_refused(bias):
    assert "VR1 has two figures" in bias(FINAL, "--set", "Q1=5mA", "--set", "Q2=6mA", status=2)


def test_a_target_out_of_reach_is_told(bias):
    text = bias(FINAL, "--set", "Q1=500A")

    assert "Out of reach: 500 A more by VR1 (Q1 and Q2)" in text
    assert "cannot reach that" in text


def test_driver_comes_before_final_and_each_has_its_own_step():
    result = CliRunner().invoke(
        main,
        ["bias", str(SAMPLES / "hf-link.net"), "--set", "Q4=150mA", "--set", "Q1=20mA"],
        catch_exceptions=False,
    )
    text = " ".join(result.stdout.split())

    assert "Two idle currents are set, each by its own trimmer" in text
    assert "3 Slowly raise VR1 (it biases Q1 and Q2, the driver) until the total has risen by 20 mA" in text
    assert "4 Leave VR1. Slowly raise VR2 (it biases Q4 and Q5, the final)" in text
    assert "a further 150 mA" in text


def test_a_circuit_without_a_trimmer_says_what_sets_its_currents():
    text = " ".join(CliRunner().invoke(main, ["bias", str(SAMPLES / "intercom.net")]).stdout.split())

    assert "No bias trimmer is recognised here: there is nothing to set." in text
    assert "sets the current at rest of" in text


def test_a_circuit_with_missing_values_is_no_fault(bias):
    text = bias(FINAL.replace("R3 2k2", "R3 ?"))

    assert "Which end of VR1 is minimum cannot be told" in text or "nothing to set" in text


AUDIO = """circuit Audio
supply vcc 24V
input in
output spk
signal 50Hz to 15kHz
C1 4u7 : in b1
R1 47k : b1 o
R2 12k : b1 m
R3 47 : e1 gnd
VR2 trimmer 10k at 10% : m m gnd
Q1 npn : b=b1 c=lo e=e1
Q2 npn : b=w c=hi e=lo
R4 680 : hi j
VR1 trimmer 1k at 40% : j w k
R5 470 : k lo
R6 1k : boot hi
R7 470 : vcc boot
C2 100u : boot o
Q3 npn hFE=80 : b=hi c=vcc e=eu
Q4 pnp hFE=80 : b=lo c=gnd e=el
R8 R47 : eu o
R9 R47 : o el
C3 1000u : o spk
LS1 speaker 8 : spk gnd
"""

VALVES = """circuit Mono block
supply ht 400V
supply neg -60V
input in
output spk
signal 40Hz to 15kHz
T1 transformer 1:1+1 : in gnd | s1 t s2
V1 pentode : a=a1 g1=g1 g2=ht g3=k1 k=k1
V2 pentode : a=a2 g1=g2 g2=ht g3=k2 k=k2
R1 10k : s1 g1
R2 10k : s2 g2
R3 10 : k1 gnd
R4 10 : k2 gnd
T2 transformer 10+10:1 : a1 ht a2 | spk gnd
LS1 speaker 8 : spk gnd
R5 4k7 : neg r
VR1 trimmer 10k at 40% : r w q
R6 10k : q gnd
R7 47k : w t
C1 10u : t gnd
"""

GATES = (
    FINAL.replace("ga ct gb", "ga gnd gb")
    .replace("R1 10 : ga g1", "C8 100n : ga g1")
    .replace("R2 10 : gb g2", "C9 100n : gb g2")
    .replace("R4 1k : w ct\nC2 100n : ct gnd", "R4 1k : w g1\nVR2 trimmer 1k at 40% : zr w2 gnd\nR5 1k : w2 g2")
)


def test_a_trimmer_of_the_outputs_middle_is_set_before_the_current_and_is_no_bias_trimmer(bias):
    text = bias(AUDIO)

    assert "One idle current is set by VR1" in text
    assert "3 VR2 sets the direct voltage at the output (o), and no current" in text
    assert "about 12 V" in text
    assert "correct it by VR2" in text


def test_only_an_audio_amplifier_is_told_to_settle_as_long_as_one(bias):
    assert "10 to 30 min for an audio power stage" in bias(AUDIO)
    assert "30 min" not in bias(FINAL)


def test_the_grids_of_valves_get_their_voltage_before_the_high_tension(bias):
    text = bias(VALVES)

    assert "1 VR1 to minimum: wiper towards neg (VR1: first end, at R5)." in text
    assert "the negative voltage must stand at every grid (V1 -49 V, V2 -49 V" in text
    assert "valves: again after 30 min" in text
    assert "read the drop across R3 (10 Ω) for V1" in text


def test_a_trimmer_for_each_of_two_devices_makes_neither_of_them_a_driver(bias):
    text = bias(GATES)

    assert "Slowly raise VR1 (it biases Q1" in text
    assert "Leave VR1. Slowly raise VR2 (it biases Q2" in text
    assert "the driver" not in text


def test_a_caution_stands_beside_the_step_that_it_belongs_to(bias):
    text = bias(FINAL)
    place = {words: text.index(words) for words in ("1 VR1 to minimum", "2 Heat sink", "5 Drive at a low level")}

    assert text.index("a few tens of millivolts at the gate") > text.index("3 Slowly raise VR1")
    assert place["5 Drive at a low level"] < text.index("burn") < text.index("VR1: travel")


def test_the_table_gives_the_total_with_a_range_and_what_is_typed_is_told(bias):
    text = bias(FINAL)

    assert "total (other specimens)" in text
    assert "As typed it stands at 60 % of its travel from minimum: Q1" in text
    assert "Over its whole travel gate to source of Q1 goes from 0 V to" in text


@pytest.mark.parametrize("sample", sorted(SAMPLES.glob("*.net")), ids=lambda path: path.stem)
def test_the_json_of_a_sample_keeps_to_the_schema(sample):
    result = CliRunner().invoke(main, ["bias", str(sample), "--json"], catch_exceptions=False)

    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(json.loads(result.stdout))


def test_the_json_has_the_readers_figure_and_the_wiper_for_it(bias):
    found = json.loads(bias(FINAL, "--set", "Q2=200mA", "--json"))
    trimmer = found["trimmers"][0]

    assert trimmer["target"] == 0.2
    assert 0 < trimmer["setting"] < 1
    assert trimmer["minimum"]["towards"] == "gnd"
    assert [step["moment"] for step in found["steps"]] == ["minimum", "on", "raise", "settle", "drive"]


def test_devices_that_are_off_as_typed_but_carry_the_current_once_it_is_raised_are_those_that_are_set(bias):
    darlingtons = (
        AUDIO.replace("at 40%", "at 15%")
        .replace(
            "Q3 npn hFE=80 : b=hi c=vcc e=eu", "Q3 npn : b=hi c=vcc e=x\nQ5 npn hFE=80 : b=x c=vcc e=eu\nR20 220 : x y"
        )
        .replace("Q4 pnp hFE=80 : b=lo c=gnd e=el", "Q4 pnp : b=lo c=gnd e=y\nQ6 pnp hFE=80 : b=y c=gnd e=el")
        .replace("R4 680", "R4 1k5")
    )
    text = bias(darlingtons)

    assert "Slowly raise VR1 (it biases Q5 and Q6" in text


def test_a_supply_of_unknown_current_is_metered_where_it_feeds_the_devices(bias):
    text = bias(FINAL + "supply vaux 5V\nR9 4k7 : vaux gnd\nK1 relay worked : vdd kc | vdd o1 o2\nR10 1k : kc gnd\n")

    assert "meter in the lead of vdd" in text
    assert "it cannot be calculated: values are missing" in text
