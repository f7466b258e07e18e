"""Whatever a pattern file holds, it is understood or refused in words; nothing crashes and nothing hangs."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.matching.building import found, pattern_text
from topo.errors import PatternError
from topo.matching.schema import read_pattern
from topo.resources import own_folder

FILES = sorted(own_folder("patterns").rglob("*.yaml"))


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_file_is_refused_or_understood(data):
    text = data.draw(st.sampled_from(FILES)).read_text(encoding="utf-8")
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(text) - 1))
        length = data.draw(st.integers(0, 12))
        put = data.draw(
            st.sampled_from(["", "{", "}", "[", ": ", "- ", "~", "'", '"', "&a ", "*a", "\t", "(", "\x00", "é"])
        )
        text = text[:place] + put + text[place + length :]

    document, problems = read_pattern(text, "thing.yaml")

    assert (document is None) == bool(problems)
    assert all(problem.message and str(problem) for problem in problems)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_refused(text):
    document, problems = read_pattern(text, "thing.yaml")

    assert document is None
    assert problems


@pytest.mark.parametrize(
    "expression",
    ["feed.__class__", "feed.__init__.__globals__", "__import__('os')", "open('/etc/passwd')", "exec(feed)", "().x"],
)
def test_an_expression_reaches_nothing_but_the_circuit(expression: str):
    body = "roles: {feed: {kind: resistor}}\nnets: {rail: {is: rail}, n: }\njoins: {wire: [rail -feed- n]}\n"

    document, problems = read_pattern(pattern_text(body + f'where: ["{expression}"]\n'), "thing.yaml")

    assert document is None
    assert problems


def test_a_pattern_without_hold_is_stopped_with_words():
    roles = ", ".join(f"r{number}: {{kind: resistor}}" for number in range(9))
    nets = ", ".join(f"n{number}: " for number in range(9))
    joins = ", ".join(f"rail -r{number}- n{number}" for number in range(9))
    body = f"""
roles: {{{roles}}}
nets: {{rail: {{is: rail}}, {nets}}}
joins: {{wire: [{joins}]}}
where: ["value(r0) + value(r8) > 1e12"]
"""
    netlist = "supply vcc 9V\n" + "".join(f"R{n} 1k : vcc n{n}\nD{n} led : n{n} gnd\n" for n in range(12))
    start = time.monotonic()

    with pytest.raises(PatternError, match="too many ways"):
        found(netlist, body)

    assert time.monotonic() - start < 60
