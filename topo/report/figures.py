"""Figures with their ranges, and the words for what a figure stands on."""

from __future__ import annotations

from topo.analysis.spread import Range
from topo.quantities import show, show_spread

CALCULATED = "calculated"
ASSUMED = "assumed"
UNKNOWN = "not known"

LEAST = {"V": 1e-3, "A": 1e-8}
"""What no meter of the bench tells from nothing."""


def with_range(found: Range, unit: str, digits: int) -> str:
    """A figure with its range in the same unit: `12 mA (5 to 25)`."""
    figure, within = figure_and_range(found, unit, digits)
    return f"{figure} ({within})" if within else figure


def figure_and_range(found: Range, unit: str, digits: int) -> tuple[str, str]:
    """A figure and its range, the range in the figure's own unit: ("12 mA", "5 to 25")."""
    if not found.known:
        return UNKNOWN, ""
    typical, low, high = (0.0 if abs(value) < LEAST.get(unit, 0.0) else value for value in _ends(found))
    return show_spread(typical, low, high, unit, digits) if found.ranged else (show(typical, unit, digits), "")


def _ends(found: Range) -> tuple[float, float, float]:
    return found.typical, found.low, found.high


def status(known: bool, rests: bool) -> str:
    """What a figure stands on, in a word."""
    if not known:
        return UNKNOWN
    return ASSUMED if rests else CALCULATED
