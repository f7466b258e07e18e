"""Sources of voltage or current: supplies that hold rails, and drives that bring the signal."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from topo.netlist.elements.expanding import Element
from topo.netlist.elements.figures import figure
from topo.netlist.syntax import Word

_SHAPES = frozenset(("sin", "sine", "pulse", "exp", "sffm", "am", "pwl", "trnoise", "trrandom", "external", "wavefile"))


class Drive(NamedTuple):
    """A source: its level or amperes at rest, whether it brings a signal, that signal's hertz, its own ohms.

    `ramp` says that it rises once from nothing to its level: a supply that is switched on.
    """

    level: float
    is_signal: bool
    hertz: float | None = None
    resistance: float = 0.0
    ramp: bool = False


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
            alternating = True
            while position + 1 < len(words) and figure(words[position + 1].text) is not None:
                position += 1
                alternating = alternating and (figure(words[position].text) or (1.0,))[0] != 0
                if position + 1 < len(words) and figure(words[position + 1].text) is not None:
                    position += 1  # its phase
        elif low in _SHAPES:
            shape = (low, _figures(element, words[position + 1 :], value))
            break
        elif level is None:
            level = value(element, words[position], what)
        position += 1
    ohms = settings.get("rser")
    resistance = (value(element, ohms, "the resistance") or 0.0) if ohms is not None else 0.0
    return _drive(level, alternating, shape, max(0.0, resistance))


def _figures(
    element: Element, words: list[Word], value: Callable[[Element, Word | None, str], float | None]
) -> list[float]:
    """The figures of a waveform, up to the first word that is none."""
    found: list[float] = []
    for word in words[:10_000]:
        if word.text[:1] not in "{'\"" and figure(word.text) is None and not element.scope.is_name(word.text):
            break
        number = value(element, word, "the waveform")
        if number is None:
            break
        found.append(number)
    return found


def _drive(level: float | None, alternating: bool, shape: tuple[str, list[float]] | None, ohms: float) -> Drive:
    if shape is None:
        return Drive(level or 0.0, alternating, None, ohms)
    name, figures = shape
    first = figures[0] if figures else 0.0
    if name == "pwl":
        levels = figures[1::2]
        steady = levels and levels[0] == 0 and levels[-1] != 0 and not alternating
        if steady and levels in (sorted(levels), sorted(levels, reverse=True)):
            return Drive(levels[-1], False, None, ohms, True)
        return Drive(level if level is not None else (levels or [0.0])[0], True, None, ohms)
    if name in ("sin", "sine"):
        hertz = figures[2] if len(figures) > 2 and figures[2] > 0 else None
        silent = len(figures) > 1 and figures[1] == 0 and not alternating
        return Drive(level if level is not None else first, not silent, hertz, ohms)
    if name == "pulse" and len(figures) > 6 and figures[6] > 0:
        return Drive(level if level is not None else first, True, 1 / figures[6], ohms)
    return Drive(level if level is not None else first, True, None, ohms)
