"""Every row of the table of messages: each broken example draws its message, at a place within the text."""

from __future__ import annotations

import pytest

import topo
from topo.errors import NetlistError, Problem
from topo.netlist.messages import MESSAGES

# Rows without an example here need a text of thousands of lines; tests elsewhere draw them.
WITHOUT_EXAMPLE = {"too-many-terminals", "not-understood", "line-too-long", "block-deep", "too-many-parts"}

ROWS = [(code, example) for code, message in MESSAGES.items() for example in message.examples]


def problems_of(text: str) -> tuple[Problem, ...]:
    try:
        return topo.loads(text).warnings
    except NetlistError as error:
        return error.problems


@pytest.mark.parametrize(("code", "text"), ROWS, ids=[f"{code}: {text!r}" for code, text in ROWS])
def test_a_broken_example_earns_its_message(code, text):
    problems = problems_of(text)

    assert code in [problem.code for problem in problems], "\n".join(map(str, problems))


@pytest.mark.parametrize(("code", "text"), ROWS, ids=[f"{code}: {text!r}" for code, text in ROWS])
def test_the_place_of_a_problem_lies_within_its_line(code, text):
    lines = text.split("\n")

    for problem in problems_of(text):
        if problem.place.line:
            line = lines[problem.place.line - 1]
            assert problem.source == line
            assert 1 <= problem.place.column <= len(line) + 1
            assert problem.place.column + problem.place.length - 1 <= len(line) + 1


def test_every_message_has_an_example():
    assert {code for code, message in MESSAGES.items() if not message.examples} == WITHOUT_EXAMPLE


def test_no_message_is_left_unfilled():
    for _, text in ROWS:
        for problem in problems_of(text):
            assert "{" not in str(problem)
