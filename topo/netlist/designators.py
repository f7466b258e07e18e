"""Designators in the order in which people count: R2 before R10."""

from __future__ import annotations

import re

_PIECES = re.compile(r"(\D*)(\d{0,18})")


def natural(ref: str) -> tuple[tuple[str, int], ...]:
    """A key that sorts the figures of a designator as numbers.

    >>> sorted(["R10", "C3", "R2"], key=natural)
    ['C3', 'R2', 'R10']
    """
    return tuple((letters.casefold(), int(figures or 0)) for letters, figures in _PIECES.findall(ref))
