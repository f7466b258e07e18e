"""The ledger as people and programs read it, and the netlist that explains itself."""

import json
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

import topo
from topo.cli import main
from topo.report.ledger import ledger_schema

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))
STAGE = """
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
C1 4u7 : in b0
R7 47 : b0 base
R1 56k : vcc b0
R2 12k : b0 gnd
Q1 npn : b=base c=col e=emit
R3 1k : vcc mid
R8 2k2 : mid col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
C4 100u : vcc gnd
"""


def run(*arguments, text=STAGE):
    return CliRunner().invoke(main, ["reduce", "-", *map(str, arguments)], input=text)


@cache
def table(*arguments):
    return run("--ledger", "table", *arguments).stdout


def paragraph(ref, shown):
    """The lines of one part's entry, as one line."""
    return next(" ".join(block.split()) for block in shown.split("\n\n") if block.startswith(f"{ref} "))


def test_a_stopper_is_told_with_its_drop_what_it_faces_and_what_changes_without_it():
    said = paragraph("R7", table())

    assert said.startswith("R7 47 Ω, b0 to base omitted at `working` stopper")
    assert "mV at rest; 47 Ω against" in said or "µV at rest; 47 Ω against" in said
    assert "Without it: gain +" in said


def test_a_capacitor_across_a_rail_changes_less_than_the_last_printed_digit():
    said = paragraph("C4", table())

    assert "across an ideal rail: it carries no signal." in said
    assert said.endswith("change by less than the last printed digit without it.")


def test_a_merged_part_says_where_it_went_and_that_nothing_changes():
    said = paragraph("R8", table())

    assert said.startswith("R8 2.2 kΩ, mid to col merged into R3 in series")
    assert said.endswith("Exact: nothing changes.")


def test_the_principle_says_what_stands_for_the_bias():
    said = paragraph("R2", table("--detail", "principle"))

    assert "Drawn with R1 as one ideal source: 0.7" in said


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("detail", ["whole", "working", "principle"])
def test_the_ledger_of_a_sample_keeps_to_the_schema(sample, detail):
    shown = run("--ledger", "json", "--detail", detail, text=sample.read_text())
    found = json.loads(shown.stdout)

    assert [error.message for error in Draft202012Validator(ledger_schema()).iter_errors(found)] == []
    assert found["kept"] + found["merged"] + found["omitted"] == found["circuit"]["parts"] == len(found["ledger"])
    assert topo.loads(found["netlist"]).parts


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("detail", ["whole", "working", "principle"])
def test_a_reduced_sample_reduces_no_further(sample, detail):
    once = run("--detail", detail, text=sample.read_text()).stdout
    again = json.loads(run("--json", "--detail", detail, text=once).stdout)

    assert [entry["part"] for entry in again["ledger"] if entry["fate"] != "kept"] == []


def test_a_principle_circuit_carries_its_currents():
    shown = json.loads(run("--json", "--detail", "principle", text=SAMPLES[-1].read_text()).stdout)

    assert all(abs(row["current %"]) < 50 for row in shown["devices"].values())
    assert "gain dB" in shown["totals"]


def test_an_unknown_part_is_wrong_use_with_the_nearest_name():
    shown = run("--keep", "R77")

    assert shown.exit_code == 2
    assert "There is no part R77. Did you mean R7" in shown.stderr


def test_what_is_ordered_to_go_is_told_so():
    said = paragraph("C2", run("--omit", "C2", "--ledger", "table").stdout)

    assert "left out by order" in said
    assert "Without it: gain −" in said


def test_no_progress_is_shown_where_no_one_watches():
    assert run("--ledger", "table").stderr == ""


def test_where_the_original_cannot_be_solved_the_ledger_says_that_the_proof_is_missing_and_why():
    shown = " ".join(table_of(STAGE.replace("R1 56k", "R1 ?").replace("R4 1k", "R4 ?")).split())

    assert "Not proved: the gain of the original is not known (R1 has no value" in shown
    assert "Solved again" not in shown


def table_of(text):
    return run("--ledger", "table", text=text).stdout


ACROSS_THE_LOAD = """
supply vcc 9V
input  a
output spk
R1  1k                           : vcc tap
D1  diode                        : tap gnd
T1  transformer 1:1+1 primary=2H : a gnd | s1 tap s2
Q1  npn                          : b=s1 c=p1 e=gnd
Q2  npn                          : b=s2 c=p2 e=gnd
T2  transformer 5+5:1 primary=1H : p1 vcc p2 | spk gnd
LS1 speaker 8                    : spk gnd
R9  100                          : spk gnd
"""


def test_a_resistor_across_the_loudspeaker_is_no_part_of_a_bias():
    ledger = topo.reduce(topo.read(topo.loads(ACROSS_THE_LOAD))).ledger
    entry = next(entry for entry in ledger if entry.part == "R9")

    assert "bias" not in entry.reason


def test_a_part_of_a_stage_is_told_by_its_role_in_the_stage_and_not_by_that_in_the_whole():
    sample = next(path for path in SAMPLES if path.stem == "hf-link")
    shown = CliRunner().invoke(main, ["reduce", str(sample), "--ledger", "table"]).stdout

    assert "Feed resistor of the trimmer and emitter-follower bias." in shown
    assert "_bias" not in shown
