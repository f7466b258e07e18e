"""Panels: axes with curves in them, on a sheet in points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from topo.drawing.lettering import width
from topo.drawing.plots.scales import Scale
from topo.drawing.sheet import Sheet

POINTS = 72 / 25.4
"""Points to a millimetre."""
TYPE = 8.0
"""Points: the size of type at final size."""
INK, GRID = "#000000", "#c8c8c8"
_AXIS, _HAIR, _LINE = 0.6, 0.35, 1.0
_TICK = 2.5

Array = np.ndarray


@dataclass(frozen=True)
class Curve:
    """A curve: x and y in SI units, its name for the key, and its dashes ("" for a full line)."""

    x: Array
    y: Array
    name: str = ""
    dash: str = ""
    weight: float = _LINE


@dataclass(frozen=True)
class Box:
    """The inside of a panel in points: its upper left corner, width and height."""

    x: float
    y: float
    w: float
    h: float


def axes(sheet: Sheet, box: Box, across: Scale, up: Scale, *, words: str, below: str = "", left: bool = True) -> None:
    """The frame, marks and lettering of a panel.

    Args:
        words: what is plotted upwards, with its unit, above the panel.
        below: what is plotted across, with its unit; "" leaves out the numbers across, as of a panel below it.
        left: whether the numbers upwards are lettered.
    """
    for mark, number in zip(across.marks, across.words, strict=True):
        x = box.x + box.w * across.share(mark)
        sheet.line((x, box.y), (x, box.y + box.h), weight=_HAIR, ink=GRID)
        sheet.line((x, box.y + box.h), (x, box.y + box.h - _TICK), weight=_AXIS)
        if below:
            sheet.text(x, box.y + box.h + TYPE + 1.5, number, TYPE)
    for mark, number in zip(up.marks, up.words, strict=True):
        y = box.y + box.h * (1 - up.share(mark))
        sheet.line((box.x, y), (box.x + box.w, y), weight=_AXIS if mark == 0 else _HAIR, ink=INK if mark == 0 else GRID)
        sheet.line((box.x, y), (box.x + _TICK, y), weight=_AXIS)
        if left:
            sheet.text(box.x - 3, y + 0.35 * TYPE, number, TYPE, anchor="end")
    if across.low < 0 < across.high:
        x = box.x + box.w * across.share(0)
        sheet.line((x, box.y), (x, box.y + box.h), weight=_AXIS)
    corners = ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))
    sheet.line(*((box.x + a * box.w, box.y + b * box.h) for a, b in corners), weight=_AXIS)
    if words:
        sheet.text(box.x, box.y - 0.45 * TYPE, words, TYPE, anchor="start")
    if below:
        sheet.text(box.x + box.w / 2, box.y + box.h + 2 * TYPE + 4.5, below, TYPE)


def curves(sheet: Sheet, box: Box, across: Scale, up: Scale, drawn: Sequence[Curve]) -> None:
    """The curves of a panel."""
    for curve in drawn:
        points = [
            (box.x + box.w * across.share(float(x)), box.y + box.h * (1 - up.share(float(y))))
            for x, y in zip(curve.x, curve.y, strict=True)
        ]
        sheet.line(*points, weight=curve.weight, dash=curve.dash)


def key(sheet: Sheet, right: float, base: float, drawn: Sequence[Curve]) -> None:
    """The names of curves in a row that ends at the right, each behind a piece of its line."""
    for curve in reversed(drawn):
        if curve.name:
            right -= width(curve.name, TYPE)
            sheet.text(right, base, curve.name, TYPE, anchor="start")
            sheet.line(
                (right - 18, base - 0.3 * TYPE), (right - 3, base - 0.3 * TYPE), weight=curve.weight, dash=curve.dash
            )
            right -= 26
