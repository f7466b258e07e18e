import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from topo.cli import main
from topo.report.envelope import schema

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.net"))
INTERCOM = ROOT / "samples" / "intercom.net"
HALF_TYPED = """
circuit Half typed
supply vcc 9V
R1 ? : vcc a
Q1 npn : b=a c=b e=gnd
R2 1k : vcc b
"""


def run(*arguments, **options):
    return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False, **options)


@pytest.fixture(scope="module")
def envelopes():
    """What `explain --json` prints of every sample."""
    return {sample: json.loads(run("explain", sample, "--json").stdout) for sample in SAMPLES}


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_the_json_of_a_sample_keeps_to_the_schema(sample, envelopes):
    problems = [error.message for error in Draft202012Validator(schema()).iter_errors(envelopes[sample])]

    assert problems == []


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_every_part_has_one_ledger_entry_and_one_role_line(sample, envelopes):
    found = envelopes[sample]
    parts = [entry["part"] for entry in found["ledger"]]

    assert len(parts) == len(set(parts)) == found["circuit"]["parts"]
    assert [line["part"] for line in found["explanation"]["parts"]] == parts
    assert all(line["role"] for line in found["explanation"]["parts"])


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_every_part_is_named_in_the_text_of_both_voices(sample, envelopes):
    for voice in ("student", "technician"):
        text = run("explain", sample, "--voice", voice).stdout
        for entry in envelopes[sample]["ledger"]:
            assert entry["part"] in text


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_no_text_holds_an_unfilled_placeholder_or_an_unknown_number(sample):
    for voice in ("student", "technician"):
        text = run("explain", sample, "--voice", voice).stdout
        assert "{" not in text
        assert not re.search(r"\bnan\b|\bNone\b|\d not known", text)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_no_line_is_wider_than_the_page(sample):
    assert max(map(len, run("explain", sample).stdout.splitlines())) <= 88


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_the_reduced_netlist_of_a_sample_reads_back_to_the_same_blocks(sample, tmp_path, envelopes):
    reduced = tmp_path / "reduced.net"
    assert run("reduce", sample, "-o", reduced).exit_code == 0
    again = json.loads(run("explain", reduced, "--json").stdout)
    gone = {entry["part"] for entry in envelopes[sample]["ledger"] if entry["detail"] in ("whole", "working")}

    def blocks(found):
        kept = [(block["pattern"], sorted(set(block["parts"]) - gone)) for block in found["blocks"]]
        return sorted((pattern, parts) for pattern, parts in kept if parts)

    assert blocks(again) == blocks(envelopes[sample])


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_reducing_a_reduced_sample_again_changes_nothing(sample, tmp_path):
    once = tmp_path / "once.net"
    run("reduce", sample, "-o", once)

    again = json.loads(run("reduce", once, "--json").stdout)

    assert [entry["part"] for entry in again["ledger"] if entry["fate"] != "kept"] == []


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_the_working_circuit_stays_within_its_limits(sample):
    totals = json.loads(run("reduce", sample, "--json").stdout)["totals"]

    assert abs(totals.get("gain dB", 0)) < 1
    assert abs(totals.get("current %", 0)) < 5


def test_the_same_file_gives_the_same_bytes_under_any_hash_seed():
    printed = {
        subprocess.run(
            [sys.executable, "-m", "topo.cli", "explain", "--json", str(ROOT / "samples" / "hf-link.net")],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "42")
    }

    assert len(printed) == 1


def test_the_report_is_four_files(tmp_path):
    shown = run("explain", INTERCOM, "-o", tmp_path / "report")

    assert shown.exit_code == 0
    assert sorted(path.name for path in (tmp_path / "report").iterdir()) == [
        "blocks.svg",
        "explanation.md",
        "reading.json",
        "reduced.net",
    ]
    assert (tmp_path / "report" / "explanation.md").read_text().startswith("# Bench intercom")


def test_a_report_may_be_written_again(tmp_path):
    for _ in range(2):
        assert run("explain", INTERCOM, "-o", tmp_path).exit_code == 0

    assert len(list(tmp_path.iterdir())) == 4


def test_nothing_is_written_when_the_netlist_has_errors(tmp_path):
    broken = tmp_path / "broken.net"
    broken.write_text("supply vcc 9V\nQ1 npn : a b c\n")

    shown = run("explain", broken, "-o", tmp_path / "report")

    assert shown.exit_code == 1
    assert "line 2" in shown.stderr and shown.stdout == ""
    assert not (tmp_path / "report").exists()


def test_nothing_is_written_when_one_file_cannot_be(tmp_path):
    (tmp_path / "blocks.svg").mkdir()

    shown = run("explain", INTERCOM, "-o", tmp_path)

    assert shown.exit_code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["blocks.svg"]


def test_standard_input_is_a_hyphen():
    shown = run("explain", "-", input=INTERCOM.read_text())

    assert shown.exit_code == 0
    assert "Bench intercom" in shown.stdout


def test_a_half_typed_circuit_is_told_as_far_as_it_goes():
    shown = run("explain", "-", input=HALF_TYPED)

    assert shown.exit_code == 0
    assert "Half typed" in shown.stdout and "R1" in shown.stdout


def test_an_empty_file_is_told_as_empty():
    shown = run("explain", "-", input="")

    assert shown.exit_code in (0, 1)
    assert "Traceback" not in shown.output


def test_the_two_voices_differ():
    student = run("explain", INTERCOM, "--voice", "student").stdout
    technician = run("explain", INTERCOM, "--voice", "technician").stdout

    assert "Check:" in technician and "Check:" not in student


def test_an_unknown_voice_is_wrong_use():
    assert run("explain", INTERCOM, "--voice", "choir").exit_code == 2


def test_emphasis_is_for_terminals_alone():
    assert "\x1b" not in run("explain", INTERCOM).stdout


def test_the_ledger_is_a_table_of_every_part():
    shown = run("reduce", INTERCOM, "--detail", "principle", "--ledger", "table").stdout

    for ref in ("R1", "C7", "Q4", "T2", "LS1"):
        assert f"\n{ref} " in shown or f"\n  {ref} " in shown
    assert "Solved again without them" in shown


def test_explaining_imports_neither_networkx_nor_graphviz():
    code = (
        "import sys; from click.testing import CliRunner; from topo.cli import main;"
        f"CliRunner().invoke(main, ['explain', {str(INTERCOM)!r}]);"
        "print([m for m in ('networkx', 'scipy', 'graphviz') if m in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert shown.stdout.strip() == "[]"


@pytest.mark.parametrize("name", ["intercom", "hall-amplifier", "beacon-flasher"])
def test_the_json_of_a_driven_sample_keeps_to_the_schema(name):
    made = json.loads(run("explain", ROOT / "samples" / f"{name}.net", "--signal", "--json").stdout)

    assert [error.message for error in Draft202012Validator(schema()).iter_errors(made)] == []
    assert made["signal"]["status"] == ("no ports" if name == "beacon-flasher" else "found")


def test_a_circuit_is_driven_on_request_alone(envelopes):
    assert all(made["signal"] is None for made in envelopes.values())
    assert "Under drive" not in run("explain", INTERCOM).stdout
    assert "Under drive, by calculation" in run("explain", INTERCOM, "--signal").stdout


def test_the_report_of_a_driven_circuit_tells_of_it(tmp_path):
    run("explain", ROOT / "samples" / "hall-amplifier.net", "--signal", "-o", tmp_path)
    page = (tmp_path / "explanation.md").read_text(encoding="utf-8")

    assert "## Under drive, by calculation" in page
    assert "| wiper | Q9 and Q10 at rest, in all | distortion | crossover |" in page
