"""What it costs to reach each point of a board from a net, for all points at once.

The same prices and rules as the router's, by sweeps along rows and columns: after so many of them all ways with so many
bends are known. Arrays have rows and columns of points; costs are the router's integers.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from topo.drawing.schematic.board import BITS, MIDDLE, SIDE, SPAN, STEPS, Board
from topo.drawing.schematic.prices import BEND, BESIDE_BODY, BESIDE_WIRE, CROSSING, IN_ZONE, UNIT, joint

FAR = 1 << 20
_UNKNOWN = 1 << 29
_MOST_ROUNDS = 9
_LOW = MIDDLE - SIDE // 2
_FIRST, _MID, _LAST = slice(0, -2), slice(1, -1), slice(2, None)

Box = tuple[int, int, int, int]


class Field:
    """The least cost of arriving at each point of a box, for each of the four headings.

    `costs[heading][row, column]`; what cannot be reached has FAR or more. Points of the net itself are its sources.
    """

    def __init__(self, board: Board, net: str, sources: Iterable[int], box: Box) -> None:
        """
        Args:
            board: what stands and is wired.
            net: the net that is to be joined.
            sources: the points of it from which wires may start.
            box: left, top, right and bottom in the board's own numbers, inside of its grid.
        """
        self.left, self.top, right, bottom = box
        rows = slice(self.top - _LOW, bottom + 1 - _LOW)
        columns = slice(self.left - _LOW, right + 1 - _LOW)
        self._price(board, list(board.of_net.get(net, ())), rows, columns)
        self.starts = [np.full(self.turnable.shape, _UNKNOWN, dtype=np.int32) for _ in STEPS]
        for point in sources:
            mask = board.mask(net, point)
            count = BITS[mask]
            row, column = point // SPAN - self.top, point % SPAN - self.left
            if count < 3 and 0 <= row < self.turnable.shape[0] and 0 <= column < self.turnable.shape[1]:
                for heading in range(4):
                    if not mask >> heading & 1:
                        self.starts[heading][row, column] = joint(mask, heading, count) if mask else 0
        self.turns = self.starts
        self.costs = self._swept()

    def _price(self, board: Board, own: list[int], rows: slice, columns: slice) -> None:
        """What a step to each point costs, sideways and then up and down, and where a wire may turn.

        Args:
            board: what stands and is wired.
            own: the points with wires of the net itself.
            rows: of the board's arrays.
            columns: likewise.
        """
        wide = slice(rows.start - 1, rows.stop + 1), slice(columns.start - 1, columns.stop + 1)
        covered, masks = board.grid_covered[wide], board.grid_masks[wide].copy()
        numbers = np.array(own, dtype=np.int64)
        ys, xs = numbers // SPAN - _LOW - wide[0].start, numbers % SPAN - _LOW - wide[1].start
        inside = (ys >= 0) & (ys < masks.shape[0]) & (xs >= 0) & (xs < masks.shape[1])
        ys, xs = ys[inside], xs[inside]
        masks[ys, xs] = 0
        mine = np.zeros(masks.shape, dtype=bool)
        mine[ys, xs] = True
        here = slice(1, -1), slice(1, -1)
        wired = masks[here] != 0
        blocked = covered[here] | board.grid_pins[rows, columns] | mine[here]
        length = np.where(board.grid_zones[rows, columns] & ~wired, UNIT + IN_ZONE, UNIT).astype(np.int32)
        bodies = np.where(covered, BESIDE_BODY, 0).astype(np.int32)
        beside = np.where(covered, BESIDE_BODY, np.where(masks != 0, BESIDE_WIRE, 0)).astype(np.int32)
        self.turnable = ~(blocked | wired)
        self.steps = []
        # A wire in the way must lie square to the heading.
        for square, one, two in ((10, (_FIRST, _MID), (_LAST, _MID)), (5, (_MID, _FIRST), (_MID, _LAST))):
            step = length + np.where(wired, CROSSING + bodies[one] + bodies[two], beside[one] + beside[two])
            self.steps.append(np.where(blocked | wired & (masks[here] != square), FAR, step).astype(np.int32))

    def _swept(self) -> list[np.ndarray]:
        views = [_Sweep(self.steps[heading & 1], heading) for heading in range(4)]
        never = np.where(self.turnable, 0, _UNKNOWN).astype(np.int32)
        costs = [view.run(start) for view, start in zip(views, self.starts, strict=True)]
        self.turns = list(self.starts)
        for number in range(_MOST_ROUNDS):
            changed = False
            for axis in (1, 0) if number % 2 else (0, 1):
                turned = np.minimum(costs[axis], costs[axis + 2]) + BEND
                np.maximum(turned, never, out=turned)
                for heading in (1 - axis, 3 - axis):
                    start = np.minimum(self.starts[heading], turned)
                    if (start < costs[heading]).any():
                        changed = True
                        self.turns[heading] = start
                        costs[heading] = views[heading].run(start)
            if not changed:
                break
        return costs

    def has(self, row: int, column: int) -> bool:
        """Whether a point is in the box."""
        return 0 <= row < self.turnable.shape[0] and 0 <= column < self.turnable.shape[1]

    def arriving(self, heading: int) -> np.ndarray:
        """The cost of ending at each point by a last step in a heading, whatever is there."""
        found = np.full(self.turnable.shape, _UNKNOWN, dtype=np.int32)
        from_, to = _shifted(heading)
        found[to] = self.costs[heading][from_] + UNIT
        return found

    def way(self, point: int, heading: int) -> list[int]:
        """The points from a source to a point at which the cheapest way arrives in a heading by a last step."""
        found = [point]
        point -= STEPS[heading]
        while True:
            found.append(point)
            row, column = point // SPAN - self.top, point % SPAN - self.left
            cost = self.costs[heading][row, column]
            if cost == self.starts[heading][row, column]:
                return found[::-1]
            if cost < self.turns[heading][row, column]:
                point -= STEPS[heading]
                continue
            one, two = heading ^ 1, heading ^ 3
            heading = one if self.costs[one][row, column] <= self.costs[two][row, column] else two
            found.pop()


def _shifted(heading: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """The points that have a neighbour in a heading, and those neighbours."""
    every, low, high = slice(None), slice(None, -1), slice(1, None)
    return (
        ((every, low), (every, high)),
        ((low, every), (high, every)),
        ((every, high), (every, low)),
        ((high, every), (low, every)),
    )[heading]


class _Sweep:
    """Going straight on in one heading, for all rows or columns at once."""

    def __init__(self, steps: np.ndarray, heading: int) -> None:
        self.axis = 0 if heading & 1 else 1
        every, flip = slice(None), slice(None, None, -1)
        self.view = ((every, every), (every, every), (every, flip), (flip, every))[heading]
        self.sums = np.cumsum(steps[self.view], axis=self.axis, dtype=np.int32)

    def run(self, start: np.ndarray) -> np.ndarray:
        """The cost of arriving, from the costs of starting at each point."""
        found = np.minimum.accumulate(start[self.view] - self.sums, axis=self.axis)
        found += self.sums
        return found[self.view]
