"""Scales of axes: where the marks stand, and how they are lettered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from topo.quantities import show

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True)
class Scale:
    """An axis: its ends and marks in SI units, the unit with its prefix, and the words at each mark."""

    low: float
    high: float
    marks: tuple[float, ...]
    unit: str
    words: tuple[str, ...]

    def share(self, value: float) -> float:
        """How far a value is along the axis, from 0 to 1."""
        return (value - self.low) / (self.high - self.low)


def scale(values: Sequence[float], unit: str, *, most: int = 5, room: float = 0.04) -> Scale:
    """A scale that holds some values, with zero, and no more than so many marks at round numbers.

    Args:
        values: finite, in SI units.
        unit: of the values, without prefix.
        most: the most marks.
        room: share of the span left free beyond the values.
    """
    low, high = min(0.0, *values), max(0.0, *values)
    if high - low <= 0:
        high = 1.0
    spare = room * (high - low)
    low, high = (low - spare if low < 0 else 0.0), (high + spare if high > 0 else 0.0)
    step = _step((high - low) / most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    marks = tuple(number * step for number in range(first, last + 1))
    factor, prefixed = _prefix(max(abs(low), abs(high)), unit)
    words = tuple(show(mark / factor, "", 6).replace("-", MINUS) for mark in marks)
    return Scale(low, high, marks, prefixed, words)


def _step(least: float) -> float:
    """The next round number."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * step for step in _STEPS if power * step >= least * (1 - 1e-9))


def _prefix(largest: float, unit: str) -> tuple[float, str]:
    """The factor and the unit in which the largest value is from 1 up to 1000."""
    power = 3 * math.floor(math.log10(largest) / 3 + 1e-9)
    factor = 10.0**power
    return factor, show(factor, unit).partition(" ")[2]
