"""Points, directions and the eight isometries of the grid. x runs to the right, y down; all numbers are integers."""

from __future__ import annotations

from collections.abc import Iterable

Point = tuple[int, int]
Turn = tuple[int, int, int, int]
Box = tuple[float, float, float, float]

PLAIN: Turn = (1, 0, 0, 1)
RIGHT: Turn = (0, 1, -1, 0)
HALF: Turn = (-1, 0, 0, -1)
LEFT: Turn = (0, -1, 1, 0)
MIRRORED: Turn = (-1, 0, 0, 1)
FLIPPED: Turn = (1, 0, 0, -1)
# A quarter turn of the mirrored symbol, to either side.
RIGHT_MIRRORED: Turn = (0, -1, -1, 0)
LEFT_MIRRORED: Turn = (0, 1, 1, 0)


def turned(turn: Turn, x: float, y: float) -> tuple[float, float]:
    """A point under an isometry (a, b, c, d): x' = a x + c y, y' = b x + d y, as in an SVG matrix."""
    a, b, c, d = turn
    return a * x + c * y, b * x + d * y


def grid_turned(turn: Turn, x: int, y: int) -> Point:
    """A grid point under an isometry."""
    a, b, c, d = turn
    return a * x + c * y, b * x + d * y


def after(outer: Turn, inner: Turn) -> Turn:
    """The isometry that does `inner` first, then `outer`."""
    a, b = grid_turned(outer, inner[0], inner[1])
    c, d = grid_turned(outer, inner[2], inner[3])
    return a, b, c, d


def box_turned(turn: Turn, box: Box) -> Box:
    """A box under an isometry."""
    x0, y0 = turned(turn, box[0], box[1])
    x1, y1 = turned(turn, box[2], box[3])
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def moved(box: Box, x: float, y: float) -> Box:
    """A box shifted."""
    return box[0] + x, box[1] + y, box[2] + x, box[3] + y


def grown(box: Box, by: float) -> Box:
    """A box with a margin about it."""
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def meet(one: Box, other: Box) -> bool:
    """Whether two boxes have an area in common."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def around(boxes: Iterable[Box]) -> Box:
    """The least box about some boxes; a point at the origin about none."""
    found = list(boxes)
    if not found:
        return 0, 0, 0, 0
    return (
        min(box[0] for box in found),
        min(box[1] for box in found),
        max(box[2] for box in found),
        max(box[3] for box in found),
    )
