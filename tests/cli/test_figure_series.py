"""`topo figure --series`."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples" / "gate-speaker-class-ab.net"


def run(*arguments, **options):
    return CliRunner().invoke(main, ["figure", *map(str, arguments)], catch_exceptions=False, **options)


def test_a_set_is_written_with_its_index(tmp_path):
    result = run(SAMPLE, "--series", tmp_path / "set", "--width", "50mm")

    assert result.exit_code == 0
    names = sorted(path.name for path in (tmp_path / "set").iterdir())
    assert names == ["index.md", *(f"step-{number}.svg" for number in range(1, 7))]
    index = (tmp_path / "set" / "index.md").read_text(encoding="utf-8")
    for number in range(1, 7):
        assert f"](step-{number}.svg)" in index
    assert "step-1.svg" in result.stdout
    assert "too small to read in print" in result.stderr


def test_a_set_is_written_as_pdf_and_told_as_json(tmp_path):
    result = run(SAMPLE, "--series", tmp_path, "--format", "pdf", "--json")

    told = json.loads(result.stdout)
    assert [row["file"] for row in told["figures"]] == [f"step-{number}.pdf" for number in range(1, 7)]
    assert told["figures"][0]["metrics"]["text_overlaps"] == 0
    assert (tmp_path / "step-3.pdf").read_bytes().startswith(b"%PDF")


def test_the_set_is_the_same_bytes_on_every_run(tmp_path):
    for name in ("one", "two"):
        run(SAMPLE, "--series", tmp_path / name)
    for path in sorted((tmp_path / "one").iterdir()):
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


@pytest.mark.parametrize("option", (["--detail", "whole"], ["-o", "x.svg"], ["--blocks"], ["--focus", "2"]))
def test_what_cannot_go_together_is_refused(option, tmp_path):
    result = run(SAMPLE, "--series", tmp_path / "set", *option)

    assert result.exit_code == 2
    assert "cannot go together" in result.stderr
    assert not (tmp_path / "set").exists()


def test_a_format_is_for_sets_only():
    result = run(SAMPLE, "--format", "pdf")

    assert result.exit_code == 2
    assert "--series" in result.stderr
