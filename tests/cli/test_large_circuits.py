"""Circuits of thousands of parts on the command line: bounded output, and refusal in words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.bench.amplifiers import text
from topo.cli import main


@pytest.fixture(scope="module")
def rack(tmp_path_factory) -> str:
    file = tmp_path_factory.mktemp("rack") / "rack.net"
    file.write_text(text(60), encoding="utf-8")
    return str(file)


def run(*arguments: str):
    return CliRunner().invoke(main, arguments)


def test_a_large_circuit_is_summed_up_in_a_few_dozen_lines(rack):
    result = run("explain", rack)
    assert result.exit_code == 0
    assert "3480 parts" in result.output and "60 pieces of 1 shape" in result.output
    assert len(result.output.splitlines()) < 60


def test_the_overview_as_json_counts_blocks(rack):
    data = json.loads(run("explain", rack, "--json").output)
    assert data["overview"]["pieces"] == data["overview"]["read"] == 60
    assert all(block["count"] % 60 == 0 for block in data["blocks"] if block["sort"] == "stage")


def test_one_piece_is_explained_by_any_part_of_it(rack):
    result = run("explain", rack, "--part", "q1_17")
    assert result.exit_code == 0
    assert "Q1_17" in result.output and "Q1_16" not in result.output


def test_a_part_that_is_not_there_is_said(rack):
    result = run("explain", rack, "--part", "Q99")
    assert result.exit_code == 1
    assert "no part Q99" in result.output


def test_check_says_once_what_holds_for_many_pieces(rack):
    result = run("check", rack)
    assert result.exit_code == 0
    assert "in 59 pieces more" in result.output
    assert len(result.output.splitlines()) < 40


def test_a_report_in_files_is_refused(rack, tmp_path: Path):
    result = run("explain", rack, "-o", str(tmp_path / "out"))
    assert result.exit_code == 2
    assert "--part" in result.output


def test_what_cannot_be_solved_together_is_refused_in_words(tmp_path: Path):
    file = tmp_path / "rack.net"
    file.write_text(text(110), encoding="utf-8")
    result = run("voltages", str(file))
    assert result.exit_code == 1
    assert "can be solved together" in result.output and "Traceback" not in result.output
