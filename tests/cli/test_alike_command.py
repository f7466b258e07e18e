from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from topo.cli import main
from topo.matching import library
from topo.report.alike import alike_schema

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
CLASS_B, CLASS_AB = SAMPLES / "gate-speaker-class-b.net", SAMPLES / "gate-speaker-class-ab.net"


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    library()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "circuits"
    shutil.copytree(SAMPLES, made)
    return made


def run(*arguments, **options):
    return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False, **options)


def test_the_nearest_circuit_comes_first_with_what_it_shares_and_what_differs(folder):
    found = run("alike", CLASS_B, folder, "-n", "2")

    assert found.exit_code == 0
    assert found.stdout.index("the same structure") < found.stdout.index("second build with diode bias")
    assert "In it alone: diode spreader." in found.stdout


def test_the_file_itself_is_none_of_the_collection():
    found = json.loads(run("alike", CLASS_B, SAMPLES, "--json").stdout)

    assert found["compared"] == len(list(SAMPLES.glob("*.net"))) - 1
    assert found["nearest"][0]["file"] == str(CLASS_AB)


def test_the_json_keeps_to_the_schema(folder):
    (folder / "bad.net").write_text("supply vcc\n", encoding="utf-8")
    found = json.loads(run("alike", CLASS_B, folder, "--json").stdout)

    assert [error.message for error in Draft202012Validator(alike_schema()).iter_errors(found)] == []
    assert [item["file"] for item in found["skipped"]] == [str(folder / "bad.net")]


def test_files_that_cannot_be_read_are_named_on_standard_error_and_left_out(folder):
    (folder / "bad.net").write_text("supply vcc\n", encoding="utf-8")

    found = run("alike", CLASS_B, folder)

    assert found.exit_code == 0
    assert f"Skipped {folder / 'bad.net'}: line 1" in found.stderr
    assert "bad.net" not in found.stdout


def test_no_progress_is_written_where_there_is_no_terminal(folder):
    found = run("alike", CLASS_B, folder)

    assert found.stderr == ""
    assert "\r" not in found.stdout


def test_a_folder_without_netlists_is_wrong_use(tmp_path):
    found = run("alike", CLASS_B, tmp_path)

    assert found.exit_code == 2
    assert "There is no .net file" in found.stderr


def test_a_second_run_says_the_same(folder):
    assert run("alike", CLASS_B, folder).stdout == run("alike", CLASS_B, folder).stdout
