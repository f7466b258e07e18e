"""What every place of a window would cost, before anything is wired.

For all places at once: whether a cluster can stand there, what its wires would need by length and bends alone, and
what speaks against the place otherwise. Maps over the window are arrays, rows by columns, in modules.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic import prices
from topo.drawing.schematic.board import MIDDLE, SPAN, at, direction, xy
from topo.drawing.schematic.fields import Field
from topo.drawing.schematic.fitting import Fit, PinPlace
from topo.drawing.schematic.layout import CLEAR, Layout
from topo.drawing.schematic.ordering import Cluster

BEND = 4.0
NEVER = 1e9
_TOUCHING = 60.0
_REACH = 3
_OVER_WIRE = 1.5
_NARROW = 1.3
# What no wire can reach costs so much.
_UNREACHED = 400.0

Target = tuple[int, int, int, bool]
Window = tuple[int, int, int, int]
# The items of a cluster in one position: fit and place relative to the origin.
Seats = tuple[tuple[Fit, int, int], ...]


class Survey:
    """The surroundings of a cluster that is to be placed."""

    def __init__(self, layout: Layout, cluster: Cluster) -> None:
        self.layout = layout
        self.targets = {net: found for net in cluster.nets if (found := _targets(layout, net))}
        self.window = self._window(cluster)
        self.foreign: dict[str, np.ndarray] = {}
        self.maps: dict[tuple[str, int, int], np.ndarray] = {}
        self.fields: dict[str, Field | None] = {}
        self.pending = {
            net: layout.counts[net]
            - layout.there.get(net, 0)
            - sum(1 for item in cluster.items for value in item.nets.values() if value == net)
            for net in cluster.nets
        }

    def look(self, positions: Iterable[tuple[Seats, range, range]]) -> None:
        """Map the surroundings, as far as items reach in some positions at all places of some rows and columns."""
        layout = self.layout
        x0, y0, x1, y1 = self.window
        for seats, rows, columns in positions:
            xs = [dx + x for fit, dx, _ in seats for x in _reach(fit, 0)] or [0]
            ys = [dy + y for fit, _, dy in seats for y in _reach(fit, 1)] or [0]
            x0, x1 = min(x0, columns.start + min(xs)), max(x1, columns.stop - 1 + max(xs))
            y0, y1 = min(y0, rows.start + min(ys)), max(y1, rows.stop - 1 + max(ys))
        self.left, self.top = x0 - _REACH, y0 - _REACH
        self.xs = np.arange(self.left, x1 + _REACH + 1)
        self.ys = np.arange(self.top, y1 + _REACH + 1)
        board = layout.board
        self.ink = self._grid(board.pins, board.fronts)
        self.taken = self._grid(board.pins, board.covered)
        self.covered = self._grid(board.covered)
        self.wires = self._grid(board.wires)
        self.solids = np.array(layout.solids, dtype=float).reshape(-1, 4)
        self.zones = np.array(layout.zones, dtype=float).reshape(-1, 4)

    def _window(self, cluster: Cluster) -> Window:
        points = [target for found in self.targets.values() for target in found]
        wide, tall = (18, 14) if len(cluster.item.symbol.pins) > 2 or cluster.seats else (14, 11)
        if not points:
            if not self.layout.placed:
                return 0, 0, 0, 0
            box = self.layout.box()
            return int(box[2]) + 4, int(box[1]), int(box[2]) + 12, int(box[3]) + 4
        more = 10 if len(cluster.item.symbol.pins) > 3 or cluster.seats else 0
        return (
            min(p[0] for p in points) - wide,
            min(p[1] for p in points) - tall,
            max(p[0] for p in points) + wide + more,
            max(p[1] for p in points) + tall,
        )

    def _grid(self, *sets: Iterable[int]) -> np.ndarray:
        found = np.zeros((len(self.ys), len(self.xs)), dtype=bool)
        low, high = at(self.left, self.top), at(int(self.xs[-1]), int(self.ys[-1]))
        first, last = low % SPAN, high % SPAN
        for points in sets:
            inside = [point for point in points if low <= point <= high and first <= point % SPAN <= last]
            if inside:
                numbers = np.array(inside)
                found[numbers // SPAN - low // SPAN, numbers % SPAN - first] = True
        return found

    def _pins_of_others(self, net: str) -> np.ndarray:
        if net not in self.foreign:
            self.foreign[net] = self._grid(point for point, own in self.layout.board.pins.items() if own != net)
        return self.foreign[net]

    def _map(self, net: str, dx: int, dy: int) -> np.ndarray:
        """The cost of a pin of a net that looks along (dx, dy), for each point."""
        key = (net, dx, dy)
        if key not in self.maps:
            room = 2.0 + 3.0 * ((self.pending[net] + 1) // 2) if self.pending[net] > 0 else 1.0
            field = self._field(net)
            if field is None:
                best = np.full(self.taken.shape, NEVER)
                for target in self.targets[net]:
                    np.minimum(best, _costs(self.xs, self.ys, dx, dy, target), out=best)
            else:
                straight = direction(-dx, -dy)
                best = field.arriving(straight)
                for aside in (straight ^ 1, straight ^ 3):
                    np.minimum(best, field.arriving(aside) + prices.BEND, out=best)
                best = np.minimum(best / prices.UNIT, _UNREACHED)
            self.maps[key] = best + self._narrow(net, room)
        return self.maps[key]

    def _field(self, net: str) -> Field | None:
        """The exact cost of wires to each point; None where the board is too large for it."""
        if net not in self.fields:
            left, top = self.left + MIDDLE, self.top + MIDDLE
            box = (left, top, left + len(self.xs) - 1, top + len(self.ys) - 1)
            board = self.layout.board
            points = dict.fromkeys([*board.terminals.get(net, ()), *board.of_net.get(net, {})])
            self.fields[net] = Field(board, net, points, box) if board.holds(box) else None
        return self.fields[net]

    def _narrow(self, net: str, room: float) -> np.ndarray:
        """What it costs to stand closer to a pin than the parts that are still to come on its net allow."""
        found = np.zeros(self.taken.shape)
        reach = int(room)
        for x, y, _, tee in self.targets[net]:
            if not tee:
                row, column = y - self.top, x - self.left
                rows = slice(max(0, row - reach), max(0, row + reach + 1))
                columns = slice(max(0, column - reach), max(0, column + reach + 1))
                away = np.abs(self.ys[rows] - y)[:, None] + np.abs(self.xs[columns] - x)[None, :]
                np.maximum(found[rows, columns], _NARROW * (room - away), out=found[rows, columns])
        return found

    def judge(self, seats: Seats, rows: range, columns: range) -> np.ndarray:
        """The cost of standing at each place of some rows and columns; NEVER where there is no room.

        Args:
            seats: the items, relative to the place.
            rows: y of the places, one after another.
            columns: x of the places.
        """
        r0, c0 = rows.start - self.top, columns.start - self.left
        tall, wide = len(rows), len(columns)

        def seen(grid: np.ndarray, x: int, y: int) -> np.ndarray:
            return grid[r0 + y : r0 + y + tall, c0 + x : c0 + x + wide]

        barred = np.zeros((tall, wide), dtype=bool)
        over = np.zeros((tall, wide), dtype=np.int32)
        total = np.zeros((tall, wide))
        best: dict[str, np.ndarray] = {}
        loose: dict[str, list[PinPlace]] = {}
        for fit, dx, dy in seats:
            for x, y in fit.covered:
                barred |= seen(self.ink, dx + x, dy + y)
                over += seen(self.wires, dx + x, dy + y)
            for pin in fit.pins:
                x, y = dx + pin.x, dy + pin.y
                barred |= seen(self.taken, x, y)
                barred |= seen(self.covered, x + pin.dx, y + pin.dy)
                barred |= seen(self._pins_of_others(pin.net), x + pin.dx, y + pin.dy)
                loose.setdefault(pin.net, []).append(PinPlace(pin.name, x, y, pin.dx, pin.dy, pin.net))
                if pin.net in self.targets:
                    cost = seen(self._map(pin.net, pin.dx, pin.dy), x, y)
                    best[pin.net] = np.minimum(best[pin.net], cost) if pin.net in best else cost
        for cost in best.values():
            total += cost
        total += sum(_between(one, two) for pins in loose.values() for one, two in pairwise(pins))
        total += _OVER_WIRE * over
        own = np.array([g.moved(box, dx, dy) for fit, dx, dy in seats for box in fit.solid], dtype=float)
        texts = np.array([g.moved(box, dx, dy) for fit, dx, dy in seats for box in fit.zones], dtype=float)
        wider = own + np.array([-CLEAR, -CLEAR, CLEAR, CLEAR])
        barred |= _meetings(wider, self.solids, rows, columns) > 0
        crowd = _meetings(texts, np.concatenate([self.solids, self.zones]), rows, columns)
        crowd += _meetings(own, self.zones, rows, columns)
        total += self.layout.taste.crowded * crowd
        total += self._growth(own, rows, columns) + self._levels(seats, rows)[:, None]
        return np.where(barred, NEVER, total)

    def _growth(self, own: np.ndarray, rows: range, columns: range) -> np.ndarray:
        if not self.layout.placed:
            return np.zeros((len(rows), len(columns)))
        x0, y0, x1, y1 = self.layout.box()
        xs, ys = np.array(columns), np.array(rows)
        wide = np.maximum(0, x0 - (xs + own[:, 0].min())) + np.maximum(0, xs + own[:, 2].max() - x1)
        tall = np.maximum(0, y0 - (ys + own[:, 1].min())) + np.maximum(0, ys + own[:, 3].max() - y1)
        return self.layout.taste.growth * (wide[None, :] + tall[:, None])

    def _levels(self, seats: Seats, rows: range) -> np.ndarray:
        """What new levels of supply and ground symbols cost."""
        found = np.zeros(len(rows))
        for fit, _, dy in seats:
            for rail in fit.rails:
                known = {y for symbol, y in self.layout.levels if symbol == rail.rail.symbol}
                found += [0.0 if y + dy + rail.y in known else self.layout.taste.level for y in rows]
        return found


def _reach(fit: Fit, axis: int) -> Iterable[int]:
    """The coordinates along one axis of the points that an item covers or looks at."""
    yield from (point[axis] for point in fit.covered)
    yield from ((pin.x + pin.dx, pin.y + pin.dy)[axis] for pin in fit.pins)
    yield from ((pin.x, pin.y)[axis] for pin in fit.pins)


def _meetings(own: np.ndarray, others: np.ndarray, rows: range, columns: range) -> np.ndarray:
    """For each place the number of pairs of boxes that meet when the own ones are moved there."""
    tall, wide = len(rows), len(columns)
    if not len(own) or not len(others):
        return np.zeros((tall, wide), dtype=np.int64)
    first_x = np.floor(others[None, :, 0] - own[:, None, 2]).astype(np.int64) + 1 - columns.start
    last_x = np.ceil(others[None, :, 2] - own[:, None, 0]).astype(np.int64) - columns.start
    first_y = np.floor(others[None, :, 1] - own[:, None, 3]).astype(np.int64) + 1 - rows.start
    last_y = np.ceil(others[None, :, 3] - own[:, None, 1]).astype(np.int64) - rows.start
    x0, x1 = np.minimum(np.maximum(first_x, 0), wide).ravel(), np.minimum(np.maximum(last_x, 0), wide).ravel()
    y0, y1 = np.minimum(np.maximum(first_y, 0), tall).ravel(), np.minimum(np.maximum(last_y, 0), tall).ravel()
    some = (x0 < x1) & (y0 < y1)
    x0, x1, y0, y1 = x0[some], x1[some], y0[some], y1[some]
    step, size = wide + 1, (wide + 1) * (tall + 1)
    marks = np.bincount(np.concatenate([y0 * step + x0, y1 * step + x1]), minlength=size)
    marks = marks - np.bincount(np.concatenate([y0 * step + x1, y1 * step + x0]), minlength=size)
    return marks.reshape(tall + 1, step).cumsum(axis=0).cumsum(axis=1)[:tall, :wide]


def _between(one: PinPlace, two: PinPlace) -> float:
    """The length and bends between two pins of a cluster."""
    x, y = two.x - one.x, two.y - one.y
    away = abs(x) + abs(y)
    return away + BEND * (x != 0 and y != 0) + _TOUCHING * (away == 0)


def _costs(xs: np.ndarray, ys: np.ndarray, dx: int, dy: int, target: Target) -> np.ndarray:
    """Length and least bends from each place to a target that is free in the directions of its mask."""
    tx, ty, mask, tee = target
    vx, vy = tx - xs, ty - ys
    away = np.abs(vx)[None, :] + np.abs(vy)[:, None]
    # The direction from the target back towards the pin, along the pin's own line.
    back = (2 if dx > 0 else 0) if dx else (3 if dy > 0 else 1)
    straight = 0 if mask >> back & 1 else 2
    across, along = (vy, vx * dx) if dx else (vx, vy * dy)
    before, behind = (1, 3) if dx else (0, 2)
    otherwise = 2 if mask >> back & 1 else 3
    one = 1 if mask >> before & 1 else otherwise
    two = 1 if mask >> behind & 1 else otherwise
    ahead = np.where(across == 0, straight, np.where(across < 0, one, two))
    beyond = np.where(across == 0, 4, 2)
    if dx:
        turns = np.where((along > 0)[None, :], ahead[:, None], beyond[:, None])
    else:
        turns = np.where((along > 0)[:, None], ahead[None, :], beyond[None, :])
    cost = away + BEND * turns
    return cost + 0.5 * tee


def _targets(layout: Layout, net: str) -> Sequence[Target]:
    """Points of a net that a wire may end on, with the directions that are free there."""
    board = layout.board
    found: list[Target] = []
    for point in dict.fromkeys([*board.terminals.get(net, ()), *board.of_net.get(net, {})]):
        mask = board.mask(net, point)
        if mask.bit_count() < 3:
            x, y = xy(point)
            found.append((x, y, 15 & ~mask, point not in board.pins))
    return found
