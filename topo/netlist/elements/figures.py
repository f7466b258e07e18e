"""Figures as the form has them: `MEG` is a million, `M` a thousandth, letters behind the scale factor mean nothing."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

_FIGURE = re.compile(
    r"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(?P<letters>[^\W\d_%]*[%]?)(?P<rest>.*)", re.S
)
_FACTORS: tuple[tuple[str, float], ...] = (
    ("meg", 1e6),
    ("mil", 25.4e-6),
    ("t", 1e12),
    ("g", 1e9),
    ("x", 1e6),
    ("k", 1e3),
    ("m", 1e-3),
    ("u", 1e-6),
    ("\u00b5", 1e-6),
    ("\u03bc", 1e-6),
    ("n", 1e-9),
    ("p", 1e-12),
    ("f", 1e-15),
)
# Letters that stand for a decimal point between figures, as IEC 60062 has them, and their factors.
_POINTS = {
    "r": 1.0,
    "k": 1e3,
    "meg": 1e6,
    "m": 1e-3,
    "u": 1e-6,
    "\u00b5": 1e-6,
    "n": 1e-9,
    "p": 1e-12,
    "g": 1e9,
    "v": 1.0,
}
# Unit words that start with the letter of a scale factor.
_UNITS = ("amp", "amps", "ampere", "amperes")
LONGEST = 64


class Figure(NamedTuple):
    """A value in SI units, and whether a letter was read as its decimal point (`4k7`)."""

    value: float
    letter_for_point: bool = False


def figure(text: str) -> Figure | None:
    """The value of a word; None if the word is no figure.

    >>> figure("10MEG"), figure("4.7kOhm").value, figure("2mil").value
    (Figure(value=10000000.0, letter_for_point=False), 4700.0, 5.08e-05)
    """
    if len(text) > LONGEST:
        return None
    found = _FIGURE.fullmatch(text)
    if found is None:
        return None
    letters, rest = found["letters"].lower(), found["rest"]
    if rest.isascii() and rest.isdigit() and letters in _POINTS and found["number"].lstrip("+-").isdigit():
        return _checked(float(f"{found['number']}.{rest}") * _POINTS[letters], True)
    if rest and not rest.startswith(("$", "/", "\u03a9", "\u2126", "-", "_")):
        return None
    return _checked(_scaled(found["number"], factor(letters)), False)


def factor(letters: str) -> float:
    """What the letters behind a number multiply it by; 1 where they are but a unit."""
    if letters in _UNITS:
        return 1.0
    return next((scale for start, scale in _FACTORS if letters.startswith(start)), 1.0)


def _scaled(number: str, scale: float) -> float:
    """The number times the factor, rounded once: 4.7k is 4700, and 100n is 1e-07."""
    if scale == 25.4e-6 or "e" in number.lower():
        return float(number) * scale
    return float(f"{number}e{round(math.log10(scale))}")


def _checked(value: float, point: bool) -> Figure | None:
    return Figure(value, point) if math.isfinite(value) else None
