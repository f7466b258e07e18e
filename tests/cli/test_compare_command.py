from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from topo.cli import main
from topo.report.comparison import comparison_schema

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.net"))
INTERCOM, LINK = ROOT / "samples" / "intercom.net", ROOT / "samples" / "hf-link.net"


def run(*arguments, **options):
    return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False, **options)


def test_the_section_of_one_file_is_compared_with_the_whole_of_the_other():
    found = run("compare", INTERCOM, LINK, "--section", "final")

    assert found.exit_code == 0
    assert "The same circuit, a transformer-coupled push-pull pair, with different means of bias:" in found.stdout
    assert "R10 2.2 Ω  R17 0.1 Ω  as 7.1 Ω  stabilising resistor" in found.stdout


def number_of(title):
    """The number of a stage in the explanation of the HF link."""
    lines = run("explain", LINK).stdout.splitlines()
    return next(line.split()[0] for line in lines if line[:1].isdigit() and title in line)


@pytest.mark.parametrize("focus", ["number", "Q4", "b:q5", "B:R17"])
def test_a_focus_by_number_or_part_means_the_same_as_the_section(focus):
    focus = number_of("Output: ") if focus == "number" else focus

    def blocks(*options):
        return json.loads(run("compare", INTERCOM, LINK, *options, "--json").stdout)["blocks"]

    assert blocks("--focus", focus) == blocks("--section", "Final")


def test_each_file_may_have_a_focus_of_its_own():
    driver, final = number_of("Driver: "), number_of("Output: ")
    found = json.loads(run("compare", LINK, LINK, "--focus", f"A:{driver}", "--focus", f"B:{final}", "--json").stdout)

    assert found["likeness"] == "same circuit"
    assert (found["first"]["focus"][:1], found["second"]["focus"][:1]) == (driver, final)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--section", "Finale"), "Sections of"),
        (("--focus", "99"), "has no stage 99"),
        (("--focus", "Q99"), "has no part 'Q99'"),
        (("--focus", "A:Q3", "--focus", "A:Q1"), "two focuses on A"),
    ],
)
def test_a_focus_that_is_not_there_is_told_with_what_there_is(options, said):
    found = run("compare", INTERCOM, LINK, *options)

    assert found.exit_code == 2
    assert said in found.stderr


def test_one_circuit_may_come_from_standard_input_and_not_both():
    text = INTERCOM.read_text(encoding="utf-8")

    assert "part for part" in run("compare", "-", INTERCOM, input=text).stdout
    assert run("compare", "-", "-", input=text).exit_code == 2


def test_a_file_with_mistakes_is_told_and_nothing_is_compared(tmp_path):
    bad = tmp_path / "bad.net"
    bad.write_text("supply vcc\n", encoding="utf-8")

    found = run("compare", bad, INTERCOM)

    assert found.exit_code == 1
    assert "bad.net" in found.stderr
    assert not found.stdout


@pytest.mark.parametrize("first", SAMPLES, ids=lambda path: path.stem)
def test_the_json_of_two_samples_keeps_to_the_schema(first):
    validator = Draft202012Validator(comparison_schema())
    for second in SAMPLES:
        found = json.loads(run("compare", first, second, "--json").stdout)
        assert [error.message for error in validator.iter_errors(found)] == []


@pytest.mark.parametrize("first", SAMPLES, ids=lambda path: path.stem)
def test_every_part_that_is_compared_is_named_in_the_text(first):
    for second in SAMPLES:
        text = run("compare", first, second).stdout
        found = json.loads(run("compare", first, second, "--json").stdout)
        assert max(map(len, text.splitlines())) <= 88
        assert all(ref in text for side in ("first", "second") for ref in found[side]["compared"])


def test_the_same_files_give_the_same_bytes_under_any_hash_seed():
    printed = {
        subprocess.run(
            [sys.executable, "-m", "topo.cli", "compare", "--json", str(INTERCOM), str(LINK)],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "2")
    }

    assert len(printed) == 1


def test_both_block_maps_are_drawn_into_a_file(tmp_path):
    drawing = tmp_path / "both.svg"

    assert run("compare", INTERCOM, LINK, "-o", drawing).exit_code == 0
    assert drawing.read_text(encoding="utf-8").startswith("<svg ")


STAGE = """circuit A stage
supply vcc 9V
input  a
output o
C1  1u    : a b
R1  47k   : vcc b
R2  10k   : b gnd
Q1  npn   : b=b c=c e=e
R3  4k7   : vcc c
R4  1k    : e gnd
C3  1u    : c o
R5  47k   : o gnd
"""


def test_the_report_in_a_folder_has_both_schematics_and_a_table_of_the_parts(tmp_path):
    one, other, report = tmp_path / "one.net", tmp_path / "other.net", tmp_path / "report"
    one.write_text(STAGE, encoding="utf-8")
    other.write_text(STAGE + "C2 100u : e gnd\n", encoding="utf-8")

    assert run("compare", one, other, "-o", report).exit_code == 0

    assert sorted(path.name for path in report.iterdir()) == [
        "a.svg",
        "b.svg",
        "blocks.svg",
        "comparison.json",
        "comparison.md",
    ]
    page = (report / "comparison.md").read_text(encoding="utf-8")
    assert "](a.svg) | ![" in page
    assert "| R3 4.7 kΩ | R3 4.7 kΩ |" in page
    Draft202012Validator(comparison_schema()).validate(json.loads((report / "comparison.json").read_text()))
