"""Rows of words and of designators, as people write them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from topo.reading.summary import joined

_NEGATIVE = re.compile(r"(?:(?<=[\s(])|^)-(?=\d)")
_NUMBERED = re.compile(r"(.*?)(\d+)")


def listed(items: Iterable[str]) -> str:
    """A row of words: "a, b and c"."""
    return joined(list(items))


def named(refs: Iterable[str]) -> str:
    """A row of designators, three or more in sequence as a range: "Q1 to Q3 and D1"."""
    runs: list[list[str]] = []
    for ref in refs:
        if runs and _follows(runs[-1][-1], ref):
            runs[-1].append(ref)
        else:
            runs.append([ref])
    return listed(text for run in runs for text in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else run))


def in_order(refs: Iterable[str]) -> list[str]:
    """Designators by letters, then by number.

    >>> in_order(["R10", "Q1", "R9"])
    ['Q1', 'R9', 'R10']
    """

    def place(ref: str) -> tuple[str, int, str]:
        found = _NUMBERED.match(ref)
        return (found[1], int(found[2]), ref) if found is not None else (ref, 0, ref)

    return sorted(refs, key=place)


def _follows(before: str, ref: str) -> bool:
    """Whether a designator is the next after another one."""
    a, b = _NUMBERED.fullmatch(before), _NUMBERED.fullmatch(ref)
    return a is not None and b is not None and a[1] == b[1] and int(b[2]) == int(a[2]) + 1


def sentence(text: str, *, large: bool = True) -> str:
    """A text with a stop at its end and, if wanted, a large first letter."""
    first = text[:1].upper() if large else text[:1]
    return minus(first + text[1:] + ("" if text.endswith((".", "!", "?", ":")) else "."))


def minus(text: str) -> str:
    """A text in which negative numbers have a true minus sign.

    >>> minus("gain -23 from the -12 V rail, 2-stage")
    'gain −23 from the −12 V rail, 2-stage'
    """
    return _NEGATIVE.sub("−", text)


def capital(text: str) -> str:
    """A text with a large first letter."""
    return text[:1].upper() + text[1:]


def plural(noun: str) -> str:
    """The plural of a pattern's name; what cannot be counted stays (coupling, bias, degeneration, feedback).

    >>> plural("bypass capacitor"), plural("supply decoupling")
    ('bypass capacitors', 'supply decoupling')
    """
    return noun if noun.endswith(("ing", "s", "tion", "back", "drive", "in parallel")) else f"{noun}s"
