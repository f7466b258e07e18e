"""A YAML text keeps the place of every value, and what was typed."""

from __future__ import annotations

import pytest

from topo.matching.yaml_source import read_yaml


def test_every_value_knows_its_line_and_column():
    entry, problems = read_yaml("a: 1\nb:\n  - x\n  - {c: y}\n", "f")

    assert not problems
    assert entry is not None
    second = entry.get("b")
    assert second is not None
    assert (second.items[0].place.line, second.items[0].place.column) == (3, 5)
    inner = second.items[1].get("c")
    assert inner is not None
    assert (inner.text, inner.place.line) == ("y", 4)


@pytest.mark.parametrize("word", ["no", "on", "off", "yes", "1e3", "0x10", "012", "2026-11-25", "1:30", ".inf"])
def test_words_that_yaml_takes_for_something_else_stay_what_was_typed(word: str):
    entry, _ = read_yaml(f"a: {word}", "f")

    assert entry is not None
    found = entry.get("a")
    assert found is not None
    assert (found.kind, found.text) == ("text", word)


def test_a_lone_tilde_is_nothing_unless_quoted():
    entry, _ = read_yaml("a: ~\nb: '~'", "f")

    assert entry is not None
    assert [value.kind for _, _, value in entry.pairs] == ["nothing", "text"]


def test_a_key_that_stands_twice_is_told_with_both_lines():
    _, problems = read_yaml("a: 1\nb: 2\na: 3\n", "f")

    assert [problem.place.line for problem in problems] == [3]
    assert "line 1" in problems[0].message


@pytest.mark.parametrize(
    "text",
    [
        "a: [1, 2",
        "a: b: c",
        "\t- a",
        "a: !!python/object/apply:os.system ['true']",
        "a: *missing",
        "- [" * 40 + "]" * 40,
        "",
        "# nothing but a remark",
    ],
)
def test_a_text_that_cannot_be_read_is_a_problem_and_no_crash(text: str):
    entry, problems = read_yaml(text, "f")

    assert problems or (entry is not None and entry.kind != "map") or "python" in text


def test_aliases_that_multiply_are_stopped():
    bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n"
    for one, other in zip("abcdefg", "bcdefgh", strict=True):
        bomb += f"{other}: &{other} [{', '.join([f'*{one}'] * 9)}]\n"

    _, problems = read_yaml(bomb, "f")

    assert any(problem.code == "too-deep" for problem in problems)
