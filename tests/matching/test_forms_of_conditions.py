"""Conditions that ask the same are of one form, whatever their roles are called; others are not."""

from __future__ import annotations

from topo.errors import Place
from topo.matching.expressions import parse_expression
from topo.matching.forms import form_of


def form(text: str, names: tuple[str, ...], roles: tuple[str, ...] | None = None, figures: tuple[str, ...] = ()):
    return form_of(parse_expression(text, Place("test", 1, 1)), names, names if roles is None else roles, figures)


def test_a_condition_keeps_its_form_when_its_role_is_called_otherwise():
    assert form("drop(feed) >= 50 mV", ("feed",)) is form("drop(upper) >= 50 mV", ("upper",))


def test_another_number_or_function_is_another_form():
    one = form("drop(feed) >= 50 mV", ("feed",))
    assert form("drop(feed) >= 51 mV", ("feed",)) is not one
    assert form("value(feed) >= 50 mV", ("feed",)) is not one


def test_the_place_of_each_role_counts():
    assert form("value(a) > value(b)", ("a", "b")) is form("value(one) > value(two)", ("one", "two"))
    assert form("value(a) > value(b)", ("a", "b")) is not form("value(two) > value(one)", ("one", "two"))


def test_a_role_is_not_of_the_form_of_a_net():
    assert form("given(a)", ("a",)) is not form("given(a)", ("a",), roles=())


def test_quoted_words_stay_as_they_are():
    one = form("is_kind(a, 'resistor')", ("a", "resistor"))
    assert form("is_kind(a, 'capacitor')", ("a", "capacitor")) is not one


def test_a_condition_with_a_figure_is_of_a_form_of_its_own():
    told = [form("corner > 100 Hz", ("a",), figures=("corner",)) for _ in range(2)]
    assert told[0] is not told[1]
