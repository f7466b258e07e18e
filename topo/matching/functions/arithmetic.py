"""Plain arithmetic of expressions: sums over many, roots, logarithms, comparison within a tolerance."""

from __future__ import annotations

import math
from typing import Any

from topo.matching.functions.registry import function

Number = float | None


def _flat(values: tuple[Any, ...]) -> list[Number]:
    """All numbers of the arguments, lists spread out."""
    found: list[Number] = []
    for value in values:
        found.extend(value if isinstance(value, list) else [value])
    return found


def _all(values: tuple[Any, ...], combine) -> Number:
    """A combination of numbers, None if one is not known or there are none."""
    known = _flat(values)
    if not known or any(value is None for value in known):
        return None
    return combine(known)


@function("sum(number...)", unit="as argument", whole=True)
def total(scope, *values) -> Number:
    return _all(values, math.fsum)


@function("max(number...)", unit="as argument", whole=True)
def largest(scope, *values) -> Number:
    return _all(values, max)


@function("min(number...)", unit="as argument", whole=True)
def smallest(scope, *values) -> Number:
    return _all(values, min)


@function("mean(number...)", unit="as argument", whole=True)
def mean(scope, *values) -> Number:
    return _all(values, lambda known: math.fsum(known) / len(known))


@function("count(role)", unit="", whole=True)
def count(scope, things) -> Number:
    return float(len(things))


@function("sqrt(number)", unit="")
def square_root(scope, value: float) -> Number:
    return math.sqrt(value) if value >= 0 else None


@function("abs(number)", unit="as argument")
def absolute(scope, value: float) -> Number:
    return abs(value)


@function("log10(number)", unit="")
def decadic_logarithm(scope, value: float) -> Number:
    return math.log10(value) if value > 0 else None


@function("ln(number)", unit="")
def natural_logarithm(scope, value: float) -> Number:
    return math.log(value) if value > 0 else None


@function("exp(number)", unit="")
def exponential(scope, value: float) -> Number:
    return math.exp(value) if value < 700 else None


@function("parallel(number...)", unit="as argument", whole=True)
def parallel(scope, *values) -> Number:
    """What resistances make side by side."""

    def combine(known):
        if any(value == 0 for value in known):
            return 0.0
        inverse = math.fsum(1 / value for value in known)
        return 1 / inverse if inverse else None

    return _all(values, combine)


@function("above(number, number)", unit="as argument")
def above(scope, value: float, limit: float) -> Number:
    """The first number where it is at least the second; else not known, so that what would speak of it is left out."""
    return value if value >= limit else None


@function("below(number, number)", unit="as argument")
def below(scope, value: float, limit: float) -> Number:
    """The first number where it is under the second; else not known, so that what would speak of it is left out."""
    return value if value < limit else None


@function("equal(number, number, number?)")
def equal(scope, one: float, other: float, tolerance: float = 0.01) -> bool:
    """Whether two numbers differ by at most a share of the larger."""
    return abs(one - other) <= tolerance * max(abs(one), abs(other))
