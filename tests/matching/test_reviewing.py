"""What authors of patterns are told: problems of form, and by what an example fails first."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main

PATTERN = """
name: lamp feed
family: coupling
purpose: Feeds a lamp.
source: common practice
reading: {claim: beside, sort: coupling}
roles: {feed: {kind: resistor}, lamp: {kind: led, when: forward(lamp)}}
nets: {rail: {is: rail}, n: }
joins:
  wire:
    - rail -feed- n
    - n -lamp> gnd
where: [value(feed) < 10k]
text:
  block:
    student: ["{feed} feeds {lamp}."]
    technician: ["{feed} feeds {lamp}."]
examples:
  match:
    - as: plain
      netlist: |
        supply vcc 9V
        R1 1k : vcc a
        D1 led : a gnd
      roles: {feed: R1}
    - as: other
      netlist: |
        supply vcc 12V
        R7 2k2 : vcc a
        D3 led : a gnd
  no match:
    - as: the lamp turned round
      netlist: |
        supply vcc 9V
        R1 1k : vcc a
        D1 led : gnd a
    - as: the feed far too large
      netlist: |
        supply vcc 9V
        R1 100k : vcc a
        D1 led : a gnd
"""


def check(tmp_path: Path, text: str, *options: str):
    file = tmp_path / "lamp-feed.yaml"
    file.write_text(textwrap.dedent(text))
    return CliRunner().invoke(main, ["patterns", "check", str(file), *options])


def test_a_file_whose_examples_go_as_they_say_is_good(tmp_path):
    result = check(tmp_path, PATTERN)

    assert result.exit_code == 0, result.output
    assert "4 examples, 0 failed" in result.output


def test_what_each_example_binds_is_shown_when_asked_for(tmp_path):
    assert "feed R7, lamp D3" in check(tmp_path, PATTERN, "-v").output


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("R7 2k2", "R7 22k", "the condition `value(feed) < 10k` does not hold"),
        ("D3 led : a gnd", "D3 led : gnd a", "there is no led for the role `lamp` with `forward(lamp)`"),
        ("R7 2k2 : vcc a", "R7 2k2 : vcc b\n        R8 2k2 : vcc a", ""),
        ("D3 led : a gnd", "D3 led : a x\n        R9 1 : x gnd", "the join `n -lamp> gnd` (wire) does not hold"),
        ("roles: {feed: R1}", "roles: {feed: R2}", "it matches, but with other roles: feed R1, lamp D1"),
    ],
)
def test_an_example_that_should_match_says_by_what_it_fails(tmp_path, old: str, new: str, words: str):
    result = check(tmp_path, PATTERN.replace(old, new))

    assert words in result.output
    assert bool(result.exit_code) == bool(words)


def test_an_example_that_should_not_match_says_what_it_binds(tmp_path):
    result = check(tmp_path, PATTERN.replace("R1 100k : vcc a", "R1 5k : vcc a"))

    assert result.exit_code == 1
    assert "it matches: feed R1, lamp D1" in result.output


def test_a_netlist_that_cannot_be_read_is_told(tmp_path):
    result = check(tmp_path, PATTERN.replace("R7 2k2 : vcc a", "R7 2k2 vcc a"))

    assert result.exit_code == 1
    assert "the netlist cannot be used" in result.output


def test_a_known_miss_fails_the_check_once_it_goes_right(tmp_path):
    result = check(tmp_path, PATTERN.replace("- as: other", "- as: other\n      known miss: true"))

    assert result.exit_code == 1
    assert "a known miss now goes as it should" in result.output


def test_problems_of_form_come_with_their_line(tmp_path):
    result = check(tmp_path, PATTERN.replace("kind: resistor", "kind: resister"))

    assert result.exit_code == 1
    assert "lamp-feed.yaml, line 7" in result.output


def test_a_path_that_is_not_there_is_a_wrong_use(tmp_path):
    result = CliRunner().invoke(main, ["patterns", "check", str(tmp_path / "none.yaml")])

    assert result.exit_code == 2
    assert "none.yaml" in result.output


def test_a_pattern_is_shown_as_a_page(tmp_path):
    (tmp_path / "lamp-feed.yaml").write_text(PATTERN)

    result = CliRunner().invoke(main, ["patterns", "show", "lamp-feed", "--patterns", str(tmp_path)])

    assert result.exit_code == 0, result.output
    for words in (
        "lamp feed",
        "Feeds a lamp.",
        "rail -feed- n",
        "{feed} feeds {lamp}.",
        "is none: the lamp turned round",
    ):
        assert words in result.output


def test_the_list_names_every_pattern_once(tmp_path):
    (tmp_path / "lamp-feed.yaml").write_text(PATTERN)

    result = CliRunner().invoke(main, ["patterns", "list", "--patterns", str(tmp_path)])

    assert result.output.count("lamp-feed") == 1
    assert "coupling" in result.output
