"""Expressions are read into trees, and nothing but expressions is."""

from __future__ import annotations

import pytest

from topo.errors import InputError, Place
from topo.matching.expressions import names_in, parse_expression

HERE = Place("file.yaml", 3, 9)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("50 mV", 0.05, "V"),
        ("1 V", 1.0, "V"),
        ("2k", 2000.0, ""),
        ("4k7", 4700.0, ""),
        ("2R2", 2.2, "ohm"),
        ("10 ohm", 10.0, "ohm"),
        ("10 Ω", 10.0, "ohm"),
        ("100 n", 1e-7, ""),
        ("4.7 µF", 4.7e-6, "F"),
        ("5%", 0.05, ""),
        ("1e-3 A", 0.001, "A"),
        ("100 kHz", 1e5, "Hz"),
    ],
)
def test_literals_may_have_prefixes_and_units(text: str, value: float, unit: str):
    kind, number, found = parse_expression(text, HERE)

    assert kind == "number"
    assert number == pytest.approx(value)
    assert found == unit


@pytest.mark.parametrize(
    ("text", "tree"),
    [
        ("a and b or c", ["or", ["and", ["name", "a"], ["name", "b"]], ["name", "c"]]),
        ("not a and b", ["and", ["not", ["name", "a"]], ["name", "b"]]),
        ("a < b + c", ["<", ["name", "a"], ["+", ["name", "b"], ["name", "c"]]]),
        ("a - b - c", ["-", ["-", ["name", "a"], ["name", "b"]], ["name", "c"]]),
        ("-a ** b", ["minus", ["**", ["name", "a"], ["name", "b"]]]),
        ("a < b < c", ["and", ["<", ["name", "a"], ["name", "b"]], ["<", ["name", "b"], ["name", "c"]]]),
        ("drop(re upper)", ["call", "drop", ["name", "re upper"]]),
        ("'idle current'", ["text", "idle current"]),
        ("upper.ctl", ["name", "upper", "ctl"]),
        ("same(drive.upper, output.upper)", ["call", "same", ["name", "drive", "upper"], ["name", "output", "upper"]]),
        ("rf()", ["call", "rf"]),
    ],
)
def test_operators_bind_as_in_arithmetic(text: str, tree: list):
    assert parse_expression(text, HERE) == tree


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a(",
        "a and",
        "a b.c d(",
        "1 +",
        "a = b",
        "a; b",
        "lambda: 0",
        "[a for a in b]",
        "{a}",
        "a[0]",
        "a.__class__.__mro__[1]",
        "__import__('os').system('true')",
        "(" * 200 + "a" + ")" * 200,
        "-" * 300 + "a",
        "not " * 90 + "a",
        "a" * 500,
        "9" * 500,
        "a\x00b",
        "`a`",
        "a := 1",
        "'unclosed",
        "2 ** 2 ** 2 ** 2 ** (",
    ],
)
def test_what_is_no_expression_is_refused_with_a_place(text: str):
    with pytest.raises(InputError) as error:
        parse_expression(text, HERE)

    assert all(problem.place.line == 3 for problem in error.value.problems)


def test_a_dunder_is_but_a_name_that_nothing_answers_to():
    assert parse_expression("a.__class__", HERE) == ["name", "a", "__class__"]


def test_names_are_listed_once_in_the_order_of_their_standing():
    tree = parse_expression("drop(b) > a + drop(b) and on(c.ctl)", HERE)

    assert names_in(tree) == [("b",), ("a",), ("c", "ctl")]
