"""Arithmetic of element lists."""

import math

import pytest

from topo.netlist.elements.formulas import FormulaError, evaluate


def known(name):
    if name.lower() == "rl":
        return 8.0
    raise FormulaError(f"`{name}` is not known")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("{2*RL}", 16.0),
        ("'rl/(1+3)'", 2.0),
        ('"rl-1"', 7.0),
        ("2**3**2", 512.0),
        ("-2^2", -4.0),
        ("4.7k + 1meg", 1_004_700.0),
        ("max(1,2)*3k", 6000.0),
        ("rl > 4 ? 1 : 2", 1.0),
        ("if(rl<4, 1, 2)", 2.0),
        ("!(rl==8)", 0.0),
        ("sqrt(2)*exp(0)", math.sqrt(2)),
        ("10-2-3", 5.0),
    ],
)
def test_a_formula_has_its_value(text, value):
    assert evaluate(text, known) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1/0", "division by zero"),
        ("sqrt(-1)", "no such number"),
        ("9**9**9**9", "no such number"),
        ("foo(1)", "is not known"),
        ("max(1)", "takes 2"),
        ("1+", "no formula"),
        ("zz", "is not known"),
        ("(" * 100 + "1" + ")" * 100, "within one another"),
        ("-" * 100 + "1", "within one another"),
        ("1+" * 1500 + "1", "more than 2000 characters"),
        ("+".join(["1"] * 900), "too deep"),
        ("__import__('os')", "no formula"),
    ],
)
def test_a_formula_without_a_value_says_why(text, why):
    with pytest.raises(FormulaError, match=why):
        evaluate(text, known)
