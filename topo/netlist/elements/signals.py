"""Sources of voltage or current: supplies that hold rails, and drives that bring the signal."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from topo.netlist.elements.expanding import Element
from topo.netlist.elements.figures import figure
from topo.netlist.syntax import Word

_SHAPES = frozenset(("sin", "sine", "pulse", "exp", "sffm", "am", "pwl", "trnoise", "trrandom", "external", "wavefile"))


# Frequencies of mains on land and aboard, and the least peak volts of a winding that a rectifier is fed from (common
# practice).
_MAINS_HERTZ, _MAINS_VOLT = (50.0, 60.0, 400.0), 5.0


class Drive(NamedTuple):
    """A source: its volts or amperes at rest, its signal's hertz, its own ohms.

    `signal` says what brings a signal: "ac" (for a sweep), "sine" or another "wave", "" if it brings none. `ramp` says
    that it rises once from nothing to its level: a supply that is switched on; `mains` that it alternates as the mains
    do, its level being the root mean square.
    """

    level: float
    signal: str = ""
    hertz: float | None = None
    resistance: float = 0.0
    ramp: bool = False
    mains: bool = False


def drive_of(element: Element, value: Callable[[Element, Word | None, str], float | None], what: str) -> Drive:
    """What a source's line says; `value` gives a word's value or notes why it has none, `what` being its name."""
    words, settings = list(element.row.words[2:]), element.row.settings
    level: float | None = None
    alternating = False
    if "dc" in settings:
        level = value(element, settings["dc"], what)
    if "ac" in settings:
        alternating = (value(element, settings["ac"], "the signal") or 0.0) != 0
    shape: tuple[str, list[float]] | None = None
    position = 0
    while position < len(words):
        low = words[position].text.casefold()
        if low == "dc" and position + 1 < len(words):
            position += 1
            level = value(element, words[position], what)
        elif low == "ac":
            size = (
                value(element, words[position + 1], "the signal") if _is_figure(element, words, position + 1) else 1.0
            )
            alternating = size != 0
            position += _is_figure(element, words, position + 1)
            position += _is_figure(element, words, position + 1)  # its phase
        elif low in _SHAPES:
            shape = (low, _figures(element, words[position + 1 :], value))
            position += len(shape[1])
        elif level is None:
            level = value(element, words[position], what)
        position += 1
    ohms = settings.get("rser")
    resistance = (value(element, ohms, "the resistance") or 0.0) if ohms is not None else 0.0
    return _drive(level, alternating, shape, max(0.0, resistance))


def _is_figure(element: Element, words: list[Word], position: int) -> bool:
    """Whether a word of that place is a figure, a formula or a parameter's name."""
    if position >= len(words):
        return False
    text = words[position].text
    return text[:1] in "{'\"" or figure(text) is not None or element.scope.is_name(text)


def _figures(
    element: Element, words: list[Word], value: Callable[[Element, Word | None, str], float | None]
) -> list[float]:
    """The figures of a waveform, up to the first word that is none."""
    found: list[float] = []
    for place, word in enumerate(words[:10_000]):
        if not _is_figure(element, words, place):
            break
        number = value(element, word, "the waveform")
        if number is None:
            break
        found.append(number)
    return found


def _drive(level: float | None, alternating: bool, shape: tuple[str, list[float]] | None, ohms: float) -> Drive:
    swept = "ac" if alternating else ""
    if shape is None:
        return Drive(level or 0.0, swept, None, ohms)
    name, figures = shape
    at_rest = level if level is not None else figures[0] if figures else 0.0
    if name == "pwl":
        levels = figures[1::2]
        steady = levels and levels[0] == 0 and levels[-1] != 0 and not alternating
        if steady and levels in (sorted(levels), sorted(levels, reverse=True)):
            return Drive(levels[-1], "", None, ohms, True)
        return Drive(level if level is not None else (levels or [0.0])[0], swept or "wave", None, ohms)
    if name in ("sin", "sine"):
        hertz = figures[2] if len(figures) > 2 and figures[2] > 0 else None
        silent = len(figures) > 1 and figures[1] == 0
        if hertz in _MAINS_HERTZ and not swept and abs(figures[1]) >= _MAINS_VOLT:
            return Drive(float(f"{abs(figures[1]) / math.sqrt(2):.6g}"), "", hertz, ohms, mains=True)
        return Drive(at_rest, swept or ("" if silent else "sine"), hertz, ohms)
    period = figures[6] if name == "pulse" and len(figures) > 6 else 0.0
    return Drive(
        at_rest, swept or ("sine" if name in ("sffm", "am") else "wave"), 1 / period if period > 0 else None, ohms
    )
