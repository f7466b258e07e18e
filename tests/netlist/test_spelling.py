"""Names that are nearly the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from topo.netlist.spelling import NearNames, did_you_mean, nearest


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("bas1", "base1"),
        ("base1", "bas1"),
        ("basee", "base"),
        ("bsae", "base"),
        ("bese", "base"),
        ("p22", "p2"),
        ("BAS", "base"),
    ],
)
def test_one_slip_of_the_hand_is_near(name, other):
    assert NearNames([other]).near(name) == (other,)


@pytest.mark.parametrize(
    ("name", "other"), [("n1", "n2"), ("base1", "base2"), ("a", "b"), ("ab", "a"), ("in", "out"), ("s12", "s21")]
)
def test_names_that_are_meant_to_differ_are_not_near(name, other):
    assert NearNames([other]).near(name) == ()


def test_a_name_is_not_near_itself():
    assert NearNames(["base", "Base"]).near("base") == ()


@given(st.lists(st.text("abc12", min_size=1, max_size=6), max_size=8), st.text("abc12", min_size=1, max_size=6))
def test_nearness_goes_both_ways(names, name):
    for other in NearNames(names).near(name):
        assert name in NearNames([name]).near(other)


def test_the_nearest_word_is_found_whatever_its_case():
    assert nearest("RESISTR", ["resistor", "regulator"]) == "resistor"
    assert did_you_mean("qqq", ["resistor"]) == ""
