"""Values that are written as formulas: `{2*RL}`, `'gain/(1+gain)'`; by `grammar/formulas.lark`, without any `eval`."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from topo.netlist.elements.figures import figure
from topo.resources import lark_parser

LONGEST_FORMULA = 2_000
DEEPEST_FORMULA = 60


class Function(NamedTuple):
    """A function of the list's own: the names of what it is given, and the formula of its value."""

    given: tuple[str, ...]
    formula: str


Functions = Callable[[str], "Function | None"]
"""Gives the function of the list's own of a case-folded name, None where there is none."""
# Formulas of functions that one value may call for, and functions within functions.
MOST_CALLS, DEEPEST_CALL = 2_000, 20


class FormulaError(ValueError):
    """A formula that has no value, and why."""


def _logarithm(base: Callable[[float], float]) -> Callable[[float], float]:
    return lambda value: base(abs(value))


def _clipped(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


_FUNCTIONS: Mapping[str, tuple[int, Callable[..., float]]] = {
    "abs": (1, abs),
    "sqrt": (1, math.sqrt),
    "exp": (1, math.exp),
    "ln": (1, _logarithm(math.log)),
    "log": (1, _logarithm(math.log)),
    "log10": (1, _logarithm(math.log10)),
    "sin": (1, math.sin),
    "cos": (1, math.cos),
    "tan": (1, math.tan),
    "atan": (1, math.atan),
    "arctan": (1, math.atan),
    "atan2": (2, math.atan2),
    "sinh": (1, math.sinh),
    "cosh": (1, math.cosh),
    "tanh": (1, math.tanh),
    "int": (1, math.trunc),
    "floor": (1, math.floor),
    "ceil": (1, math.ceil),
    "sgn": (1, lambda value: math.copysign(1.0, value) if value else 0.0),
    "min": (2, min),
    "max": (2, max),
    "pow": (2, lambda base, power: _raised(base, power)),
    "pwr": (2, lambda base, power: _raised(abs(base), power)),
    "pwrs": (2, lambda base, power: math.copysign(_raised(abs(base), power), base)),
    "limit": (3, _clipped),
    "if": (3, lambda truth, one, other: one if truth else other),
}
CONSTANTS: Mapping[str, float] = {
    "pi": math.pi,
    "e": math.e,
    "true": 1.0,
    "false": 0.0,
    "yes": 1.0,
    "no": 0.0,
}
_COMPARED: Mapping[str, Callable[[float, float], bool]] = {
    "==": lambda one, other: one == other,
    "!=": lambda one, other: one != other,
    "<=": lambda one, other: one <= other,
    ">=": lambda one, other: one >= other,
    "<": lambda one, other: one < other,
    ">": lambda one, other: one > other,
}


def _raised(base: float, power: float) -> float:
    result = base**power
    if isinstance(result, complex):
        raise FormulaError("a root of a number below zero")
    return result


@cache
def _parser():
    return lark_parser("formulas", "start")


def bare(text: str) -> str:
    """A formula without its braces or quotes."""
    while len(text) >= 2 and (text[0], text[-1]) in (("{", "}"), ("'", "'"), ('"', '"')):
        text = text[1:-1].strip()
    return text


def evaluate(text: str, look_up: Callable[[str], float], own: Functions | None = None) -> float:
    """The value of a formula; `look_up` gives the value of a name, `own` the list's own functions.

    Raises:
        FormulaError: it is no formula, too long or too deep, or has no finite value.
    """
    return _Evaluation(own).of(text, look_up, 0)


@dataclass
class _Evaluation:
    """One value being worked out, and how many functions it has called for."""

    own: Functions | None
    calls: int = 0

    def of(self, text: str, look_up: Callable[[str], float], level: int) -> float:
        """The value of a formula at a level of functions within functions."""
        return self._value_of(_parsed(text), look_up, level)

    def _value_of(self, tree, look_up: Callable[[str], float], level: int) -> float:
        """The value of a parsed formula, as a finite number."""
        try:
            value = float(self._value(tree, look_up, 0, level))
        except RecursionError:
            raise FormulaError("a formula that is too deep") from None
        except (OverflowError, ZeroDivisionError, ValueError) as error:
            if isinstance(error, FormulaError):
                raise
            what = "a division by zero" if isinstance(error, ZeroDivisionError) else "no such number"
            raise FormulaError(what) from None
        if not math.isfinite(value):
            raise FormulaError("a number that is too large")
        return value

    def _value(self, node, look_up: Callable[[str], float], depth: int, level: int) -> float:
        """The value of a node of the tree."""
        if depth > 2 * DEEPEST_FORMULA:
            raise FormulaError("a formula that is too deep")
        kind = node.data
        if kind == "number":
            found = figure(str(node.children[0]))
            if found is None:
                raise FormulaError(f"`{node.children[0]}` is no number")
            return found.value
        if kind == "name":
            return look_up(str(node.children[0]))
        if kind == "call":
            return self._call(node, look_up, depth, level)
        if kind == "compared":
            one, sign, other = node.children
            first, second = (self._value(item, look_up, depth + 1, level) for item in (one, other))
            return float(_COMPARED[str(sign)](first, second))
        return _arithmetic(str(kind), [self._value(child, look_up, depth + 1, level) for child in node.children])

    def _call(self, node, look_up: Callable[[str], float], depth: int, level: int) -> float:
        name, *given = node.children
        values = [self._value(item, look_up, depth + 1, level) for item in given if item is not None]
        function = None if self.own is None else self.own(str(name).casefold())
        if function is not None:
            return self._own_call(str(name), function, values, look_up, level)
        wanted, known = _FUNCTIONS.get(str(name).lower(), (0, None))
        if known is None:
            raise FormulaError(f"the function `{name}` is not known here")
        _check_count(str(name), wanted, len(values))
        return known(*values)

    def _own_call(
        self, name: str, function: Function, values: list[float], look_up: Callable[[str], float], level: int
    ) -> float:
        """The value of a function of the list's own, what it is given by name and all else as known to the list."""
        _check_count(name, len(function.given), len(values))
        self.calls += 1
        if level >= DEEPEST_CALL or self.calls > MOST_CALLS:
            raise FormulaError(f"`{name}` asks for too many functions within one another")
        mine = dict(zip(function.given, values, strict=True))

        def of_name(wanted: str) -> float:
            return mine[wanted.casefold()] if wanted.casefold() in mine else look_up(wanted)

        return self.of(function.formula, of_name, level + 1)


def _check_count(name: str, wanted: int, given: int) -> None:
    if given != wanted:
        raise FormulaError(f"`{name}` takes {wanted} value{'' if wanted == 1 else 's'}")


def _parsed(text: str):
    """The tree of a formula; raises FormulaError where it is none, too long or too deep."""
    text = bare(text.strip())
    if len(text) > LONGEST_FORMULA:
        raise FormulaError(f"a formula of more than {LONGEST_FORMULA} characters")
    if _depth(text) > DEEPEST_FORMULA:
        raise FormulaError(f"more than {DEEPEST_FORMULA} brackets or signs within one another")
    from lark import LarkError

    try:
        return _parser().parse(text)
    except LarkError:
        raise FormulaError(f"`{text[:40]}` is no formula") from None


def _depth(text: str) -> int:
    """The most brackets that are open at once, or signs in a row."""
    deepest = depth = signs = most_signs = 0
    for character in text:
        if character in "([{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in ")]}":
            depth -= 1
        if character in "+-!~*^?:":
            signs += 1
            most_signs = max(most_signs, signs)
        elif not character.isspace():
            signs = 0
    return max(deepest, most_signs)


def _arithmetic(kind: str, values: list[float]) -> float:
    match kind, values:
        case "add", [one, other]:
            return one + other
        case "subtract", [one, other]:
            return one - other
        case "multiply", [one, other]:
            return one * other
        case "divide", [one, other]:
            return one / other
        case "raised", [one, other]:
            return _raised(one, other)
        case "negative", [one]:
            return -one
        case "invert", [one]:
            return float(not one)
        case "pick", [truth, one, other]:
            return one if truth else other
        case "either", [one, other]:
            return float(bool(one) or bool(other))
        case "both", [one, other]:
            return float(bool(one) and bool(other))
    raise FormulaError(f"`{kind}` is not understood")
