"""`topo bias`."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main

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
        assert all(len(line) <= 88 for line in result.stdout.splitlines())
        return " ".join(result.output.split())

    return run


def test_the_first_step_says_which_end_is_minimum(bias):
    assert "1 VR1 to minimum: wiper towards gnd (VR1: second end)." in bias(FINAL)


def test_a_trimmer_that_is_drawn_the_other_way_round_has_its_minimum_at_the_other_end(bias):
    assert "wiper towards gnd (VR1: first end)" in bias(FINAL.replace(": zr w gnd", ": gnd w zr"))


def test_a_trimmer_that_is_typed_at_its_minimum_is_found_all_the_same(bias):
    assert "it biases Q1 and Q2" in bias(FINAL.replace("at 40%", "at 100%"))


def test_the_total_at_minimum_is_an_estimate_with_a_range(bias):
    assert "the total should be about 10 mA (9 to 12) (estimate)" in bias(FINAL)


def test_the_readers_own_current_becomes_a_target_total(bias):
    text = bias(FINAL, "--set", "Q2=200mA")

    assert "until the total has risen by 200 mA (210 mA in all by the estimate)" in text
    assert "210 mA 100 mA 100 mA <- your figure" in text


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
    assert "cannot reach that" in bias(FINAL, "--set", "Q1=500A")


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
