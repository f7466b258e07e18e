"""How many of a set of squares a box lies on, at the same cost whatever its size."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from topo.drawing.schematic import geometry as g


class Sums:
    """The squares of a region, added up from its upper left corner.

    Source: summed-area tables, F. Crow, Computer Graphics 18 (1984), from memory.
    """

    def __init__(self, cells: Iterable[tuple[int, int]]) -> None:
        """`cells` are (column, row) of squares; at least one."""
        places = np.array(list(cells))
        self._first = places.min(axis=0)
        shape = places.max(axis=0) - self._first + 1
        table = np.zeros(shape + 1, dtype=int)
        table[tuple((places - self._first + 1).T)] = 1
        self._table = table.cumsum(axis=0).cumsum(axis=1)

    def share(self, box: g.Box) -> float:
        """The share of a box's squares that are of the region; the box is counted in squares."""
        x0, y0, x1, y1 = int(box[0] // 1), int(box[1] // 1), int(-(-box[2] // 1)), int(-(-box[3] // 1))
        wide, tall = self._table.shape[0] - 1, self._table.shape[1] - 1
        left, right = (min(max(x - int(self._first[0]), 0), wide) for x in (x0, x1))
        top, bottom = (min(max(y - int(self._first[1]), 0), tall) for y in (y0, y1))
        table = self._table
        count = table[right, bottom] - table[left, bottom] - table[right, top] + table[left, top]
        return float(count) / ((x1 - x0) * (y1 - y0))
