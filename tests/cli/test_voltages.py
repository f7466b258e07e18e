"""`topo voltages`."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from topo.cli import main
from topo.report.voltages import SCHEMA

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))
STAGE = """circuit Stage
supply vcc 9V
R1 22k : vcc b
R2 4k7 : b gnd
R3 220 : e gnd
R4 1k : vcc c
Q1 npn IS=10f hFE=100 : b=b c=c e=e
"""


@pytest.fixture
def voltages(tmp_path):
    """Runs `topo voltages` on a text."""

    def run(text: str, *options: str):
        path = tmp_path / "amp.net"
        path.write_text(text, encoding="utf-8")
        return CliRunner().invoke(main, ["voltages", str(path), *options], catch_exceptions=False)

    return run


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_the_json_of_a_sample_keeps_to_the_schema_and_its_text_to_the_page(sample):
    found = CliRunner().invoke(main, ["voltages", str(sample), "--nets", "--json"], catch_exceptions=False)
    page = CliRunner().invoke(main, ["voltages", str(sample), "--nets"], catch_exceptions=False)

    problems = Draft202012Validator(json.loads(SCHEMA.read_text())).iter_errors(json.loads(found.stdout))
    assert [problem.message for problem in problems] == []
    assert max(len(line) for line in page.stdout.splitlines()) <= 88


def test_the_total_supply_current_stands_first_with_its_range(voltages):
    lines = voltages(STAGE).stdout.splitlines()

    assert lines[2].startswith("Total supply current at rest: 3.8 mA (") and "vcc (9 V), calculated." in lines[2]


def test_each_lead_has_volts_a_range_and_a_mark(voltages):
    rows = [line.split() for line in voltages(STAGE).stdout.splitlines()]

    assert any(row[:4] == ["Q1", "npn", "b", "1.45"] and row[-1] == "c" and "to" in row for row in rows)


def test_a_value_that_is_missing_is_named_and_what_is_known_is_printed(voltages):
    text = voltages(STAGE + "R5 ? : vcc x\nQ2 npn : b=x c=y e=gnd\nR6 1k : vcc y\n").stdout

    assert "R5 has no value: give one to get the voltages of x, y." in text
    assert "not known; why is said below" in text
    assert "1.45 V" in text


def test_what_rests_on_an_assumed_value_is_marked(voltages):
    text = voltages(STAGE.replace("IS=10f hFE=100 ", "").replace("22k", "220k").replace("4k7", "47k")).stdout

    assert "vcc (9 V), which rests on an assumed value" in " ".join(text.split())
    assert "Q1: silicon with typical parameters assumed" in text


def test_a_point_that_a_pointer_meter_would_load_is_told(voltages):
    text = voltages(STAGE.replace("22k", "220k").replace("4k7", "47k")).stdout

    assert "A pointer meter of 100 kΩ to 200 kΩ reads low at Q1 b" in text


def test_a_set_with_positive_earth_says_where_the_leads_go(voltages):
    text = voltages(STAGE.replace("vcc 9V", "vcc -9V").replace("npn", "pnp")).stdout

    assert "positive earth" in text
    assert "Total supply current at rest: 3.8 mA" in text


def test_high_tension_brings_a_caution(voltages):
    assert "High voltage: 250 V" in voltages(STAGE.replace("9V", "250V")).stdout
    assert "High voltage" not in voltages(STAGE).stdout


RECTIFIER = "T1 transformer 10:1 : m n | s gnd\nD1 rectifier : s dc\nC1 1000u : dc gnd\nR1 100 : dc gnd\n"


def test_without_any_supply_no_voltage_is_called_calculated_and_the_line_to_add_is_told(voltages):
    text = " ".join(voltages(RECTIFIER, "--nets").stdout.split())
    told = json.loads(voltages(RECTIFIER, "--nets", "--json").stdout)

    assert "No supply is typed" in text
    assert "add a line such as supply dc 12V" in text
    assert {row["status"] for row in told["nets"] if row["name"] != "gnd"} == {"not known"}


def test_nets_inside_resistors_in_series_have_a_range(voltages):
    told = json.loads(voltages("supply vcc 10V\nR1 1k : vcc m\nR2 1k : m gnd\n", "--nets", "--json").stdout)
    inner = next(row for row in told["nets"] if row["name"] == "m")

    assert inner["volts"]["low"] < inner["volts"]["typical"] == 5.0 < inner["volts"]["high"]


def test_a_loose_base_is_to_be_looked_at_before_the_figures_are_trusted(voltages):
    text = " ".join(voltages(STAGE.replace("R1 22k : vcc b\nR2 4k7 : b gnd\n", "C1 1u : in b\n")).stdout.split())

    assert "Look at this first: The base of Q1 has no path for direct current" in text


def test_a_loose_emitter_is_to_be_looked_at_before_the_figures_are_trusted(voltages):
    text = " ".join(voltages(STAGE.replace("R3 220", "C3 22u")).stdout.split())

    assert "The emitter of Q1 has no path for direct current." in text


def test_contradictory_sources_are_given_no_figures(voltages):
    text = " ".join(voltages("supply vcc 9V\nBT1 battery 12V : vcc gnd\nR1 1k : vcc gnd\n").stdout.split())

    assert "vcc (9 V) not known" in text
    assert "take one of them away" in text
