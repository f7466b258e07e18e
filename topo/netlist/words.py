"""What single words and figures of the language can be: parameters, turns of windings, free words."""

from __future__ import annotations

import re
from collections.abc import Iterable

from topo.netlist.kinds import KIND_OF_WORD
from topo.quantities import QuantityError, split

# The greatest ratio of two windings' turns that is taken for one; the most that parts have is some thousands.
MOST_TURNS = 1e6
RATIO = re.compile(r"\d*\.?\d+(?:[:+]\d*\.?\d+)+")

# Parameters by what their laws allow: above nothing, and not below it.
_ABOVE_NOTHING = frozenset(("IS", "N", "hFE", "hFER", "IDSS", "K", "MU", "EX", "KG1", "KG2", "KP", "IZ", "GAIN"))
_NOT_BELOW_NOTHING = frozenset(("rb", "re", "rc", "RS", "rdc", "VA", "KVB"))
_LARGEST_PARAMETER = 1e30


def may_be(name: str, value: float) -> bool:
    """Whether a parameter can have a value."""
    if not abs(value) <= _LARGEST_PARAMETER:
        return False
    if name == "count":
        return value >= 1 and value.is_integer()
    if name in _ABOVE_NOTHING:
        return value > 0
    return value >= 0 if name in _NOT_BELOW_NOTHING else name != "VP" or value != 0


def are_turns(windings: Iterable[Iterable[float]]) -> bool:
    """Whether figures, all above zero, can be turns of windings: none is a million times another, or that by itself."""
    figures = [figure for winding in windings for figure in winding]
    most, least = max(figures, default=1.0), min(figures, default=1.0)
    return least >= 1 / MOST_TURNS and most <= MOST_TURNS * min(1.0, least)


# What no word of the language may hold.
_FREE_WORD = re.compile(r'[^\s:|=#,()"\\]{1,200}')
_TAKEN_WORDS = frozenset(("?", "at", "impedance", "germanium", "silicon"))


def is_free_word(text: str) -> bool:
    """Whether a word says what an opaque part is called: it is no kind, figure or other word of the language."""
    low = text.casefold()
    if not _FREE_WORD.fullmatch(text) or not text.isprintable() or low in KIND_OF_WORD or low in _TAKEN_WORDS:
        return False
    return not is_figure(text) and not RATIO.fullmatch(text)


def is_figure(text: str) -> bool:
    """Whether a word can be read as a value."""
    try:
        split(text)
    except QuantityError:
        return False
    return True
