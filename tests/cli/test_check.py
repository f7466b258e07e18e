"""`topo check`."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from topo.cli import main
from topo.errors import json_text

SOUND = "supply vcc 9V\nsignal 1kHz to 2kHz\nR1 1k : vcc a\nR2 1k : a gnd\n"


@pytest.fixture
def check(tmp_path):
    """Runs `topo check` on a text."""

    def run(text: str, *options: str):
        path = tmp_path / "amp.net"
        path.write_text(text, encoding="utf-8")
        return CliRunner().invoke(main, ["check", str(path), *options])

    return run


def test_a_sound_file_passes_with_its_size(check):
    result = check(SOUND)

    assert result.exit_code == 0
    assert result.output.endswith("amp.net: 2 parts, 3 nets; no problems.\n")


def test_errors_are_shown_and_fail(check):
    result = check(SOUND + "R3 4x7 : a b\nR4 1k : a\n")

    assert result.exit_code == 1
    assert "line 5, column 4: `4x7` is not understood" in result.output
    assert "2 errors. Nothing is read from it until the errors are mended." in result.output


def test_warnings_pass_unless_they_are_taken_for_errors(check):
    assert check(SOUND + "R3 1k : a b\n").exit_code == 0
    assert check(SOUND + "R3 1k : a b\n", "--strict").exit_code == 1


def test_json_has_every_problem_with_its_place(check):
    answer = json.loads(check(SOUND + "R3 1k : a b\n", "--json").output)

    assert answer["passed"] is True
    assert answer["parts"] == 3
    problem = answer["problems"][0]
    assert (problem["code"], problem["severity"], problem["line"], problem["column"]) == (
        "single-connection", "warning", 5, 11,
    )  # fmt: skip
    assert problem["source"] == "R3 1k : a b"


def test_json_tells_errors_too(check):
    result = check("R1 4x7 : a b", "--json")

    assert result.exit_code == 1
    assert json.loads(result.output)["passed"] is False


def test_gaps_are_noted_where_asked_for(check):
    result = check(SOUND.replace("R2", "R4"), "--gaps")

    assert result.exit_code == 0
    assert "R2 and R3 are not there, between R1 and R4." in result.output


def test_standard_input_is_a_file():
    result = CliRunner().invoke(main, ["check", "-"], input=SOUND)

    assert result.exit_code == 0
    assert "<standard input>: 2 parts" in result.output


def test_a_file_that_is_not_there_is_a_wrong_use():
    assert CliRunner().invoke(main, ["check", "none.net"]).exit_code == 2


def test_voltages_are_looked_at_unless_told_not_to(check):
    text = SOUND + "C1 electrolytic 1u : gnd a\n"

    assert "wrong way round" in check(text).output
    assert "wrong way round" not in check(text, "--no-voltages").output


def test_no_unseen_sign_of_a_name_is_printed_in_json(tmp_path):
    path = tmp_path / "odd.cir"
    path.write_text("t\nV1 a 0 1\nR1 a b 1k ; left\u2028right\nX9 a b box\nR2 b 0 1k\n.end\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["check", str(path), "--json"])

    assert json.loads(result.stdout)["parts"] == 3
    assert all(row.isprintable() for row in result.stdout.split("\n"))


def test_an_unseen_sign_stands_as_its_escape_in_json():
    assert json.loads(json_text({"a": "left\u2028right"})) == {"a": "left\u2028right"}
    assert "\\u2028" in json_text({"a": "left\u2028right"})
