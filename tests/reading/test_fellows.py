"""The single part a decade off the value that all its fellows have; values mixed on purpose are left alone."""

import pytest

import topo
from topo.reading.fellows import odd_ones_out


def told(text):
    return {problem.place.line: f"{problem.message} {problem.mend}" for problem in odd_ones_out(topo.loads(text))}


def bypasses(*values):
    return "supply vcc 9V\n" + "".join(f"C{n} {value} : e{n} gnd\n" for n, value in enumerate(values, 1))


def test_the_single_bypass_ten_times_too_small_is_told():
    found = told(bypasses("47n", "47n", "4n7", "47n", "47n"))

    assert sorted(found) == [4]
    assert "Was 47 nF meant?" in found[4]


@pytest.mark.parametrize(
    "values",
    [
        ("47n", "47n", "4n7", "47n"),  # too few to tell
        ("47n", "47n", "4n7", "4n7", "47n", "47n"),  # the other value is there twice
        ("47n", "47n", "10n", "47n", "47n"),  # not a decade
        ("100n", "100n", "100n", "10n", "100n"),  # powers of ten are mixed on purpose
    ],
)
def test_values_that_may_be_meant_are_not_asked_about(values):
    assert told(bypasses(*values)) == {}


def test_a_capacitor_beside_another_is_graded_on_purpose():
    assert told(bypasses("47n", "47n", "4n7", "47n", "47n") + "C9 10u : e3 gnd\n") == {}


def test_one_of_three_feed_resistors_ten_times_too_small_is_told():
    text = "supply vcc 9V\n" + "".join(
        f"R{n} {value} : vcc v{n}\nC{n} 100u : v{n} gnd\n" for n, value in ((1, "220"), (2, "22"), (3, "220"))
    )

    assert sorted(told(text)) == [4]


def test_a_value_that_is_as_good_as_nothing_is_no_fault():
    assert list(odd_ones_out(topo.loads("C1 5e-324 : a gnd\nC2 1u : a b\nR1 1k : a b\nR2 1k : b gnd"))) == []
