"""Doubtful and old-fashioned marks: asked about, never assumed."""

from __future__ import annotations

import pytest
from pytest import approx

import topo


def asked(line: str) -> tuple[float | None, list[tuple[str, str]]]:
    """The value of a line's part, and the codes and mends of what is asked about its value."""
    circuit = topo.loads(line)
    marks = {"old-mark", "doubtful-mark", "small-resistor", "large-capacitor", "capital-kilo", "not-preferred"}
    return circuit.parts[0].value, [(item.code, item.mend) for item in circuit.warnings if item.code in marks]


@pytest.mark.parametrize(
    ("mark", "mend"),
    [
        ("8mfd", "8u"),
        ("8MFD", "8u"),
        ("8MF", "8u"),
        ("8mf", "8u"),
        ("100uuF", "100p"),
        ("100µµF", "100p"),
        ("100MMF", "100p"),
        ("100mmfd", "100p"),
        ("100P", "100p"),
        ("4.7U", "4.7u"),
        (".02", "0.02u"),
        ("0.1", "0.1u"),
    ],
)
def test_an_old_mark_of_a_capacitor_leaves_its_value_not_known(mark, mend):
    value, questions = asked(f"C1 {mark} : a b")

    assert value is None
    assert questions == [("old-mark", f"Write {mend} if so; until then the value is not known.")]


@pytest.mark.parametrize(("mark", "farads"), [("1UF", 1e-6), ("4.7UF", 4.7e-6), ("10NF", 1e-8), ("100PF", 1e-10)])
def test_a_capacitor_of_a_list_in_capitals_has_the_one_value_that_its_mark_can_mean(mark, farads):
    assert asked(f"C1 {mark} : a b") == (approx(farads), [])


@pytest.mark.parametrize(("mark", "mend"), [("1meg", "1M"), ("2.2MEG", "2.2M")])
def test_an_old_mark_of_a_resistor_leaves_its_value_not_known(mark, mend):
    value, questions = asked(f"R1 {mark} : a b")

    assert value is None
    assert f"Write {mend}" in questions[0][1]


def test_millifarads_are_what_they_say_and_are_asked_about():
    value, questions = asked("C1 8mF : a b")

    assert value == approx(8e-3)
    assert questions == [("doubtful-mark", "Write 8u if that was meant.")]


def test_a_letter_before_all_figures_is_a_point_and_is_asked_about():
    """IEC 60062: the letter stands for the point."""
    value, questions = asked("C1 n22 : a b")

    assert value == approx(0.22e-9)
    assert questions[0][1] == "Write 22n if that was meant, or 0n22 to be sure."


def test_a_resistor_marked_r47_is_not_asked_about():
    assert asked("R1 R47 : a b") == (0.47, [])


def test_capital_kilo_is_read_by_the_standard_and_asked_about_once_a_file():
    circuit = topo.loads("R1 47K : a b\nR2 4K7 : a b\nR3 10K : a b")

    found = [item for item in circuit.warnings if item.code == "capital-kilo"]
    assert [item.value for item in circuit.parts] == [47e3, 4.7e3, 10e3]
    assert len(found) == 1
    assert "(and in 2 more values)" in found[0].message


@pytest.mark.parametrize("line", ["R1 0 : a b", "R1 10mohm : a b", "R1 0R01 : a b", "C1 1F : a b", "C1 1e-6 : a b"])
def test_small_and_large_values_within_reason_are_not_asked_about(line):
    assert asked(line)[1] == []


def test_a_resistor_below_ten_milliohms_is_asked_about():
    assert asked("R1 9m1 : a b")[1] == [("small-resistor", "Write 9M1 if so.")]


def test_a_capacitor_above_one_farad_is_asked_about():
    assert [code for code, _ in asked("C1 4M7 : a b")[1]] == ["large-capacitor"]


@pytest.mark.parametrize(
    "line", ["R1 1.02k : a b", "R1 249 : a b", "C1 25u electrolytic : a b", "C1 32u electrolytic : a b"]
)
def test_values_of_any_series_are_not_asked_about(line):
    """E96 of IEC 60063; older electrolytics were made in values of their own (common practice)."""
    assert asked(line)[1] == []
