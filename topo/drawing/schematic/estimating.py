"""What wires from a place would cost, guessed for all places of a window at once, from lengths and bends alone."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from topo.drawing.schematic.board import SPAN, at, xy
from topo.drawing.schematic.fitting import Fit, PinPlace
from topo.drawing.schematic.layout import Layout
from topo.drawing.schematic.ordering import Cluster

BEND = 4.0
NEVER = 1e9
_TOUCHING = 60.0
_REACH = 10

Target = tuple[int, int, int, bool]
Window = tuple[int, int, int, int]


class Estimates:
    """Guessed wire costs to what stands already; a map over the window for each net and direction of a pin."""

    def __init__(self, layout: Layout, cluster: Cluster) -> None:
        self.layout = layout
        self.targets = {net: found for net in cluster.nets if (found := _targets(layout, net))}
        self.window = self._window(cluster)
        x0, y0, x1, y1 = self.window
        axis = layout.axes.get(cluster.line) if cluster.line is not None else None
        images = [(x0, y0, x1, y1)]
        for line in (axis,) if axis is not None else (x0 + 10, x1 + 10) if cluster.sideways else (y0 + 10, y1 + 10):
            images.append(
                (2 * line - x1, y0, 2 * line - x0, y1) if cluster.sideways else (x0, 2 * line - y1, x1, 2 * line - y0)
            )
        if cluster.twin is None:
            images = images[:1]
        self.left = min(image[0] for image in images) - _REACH
        self.top = min(image[1] for image in images) - _REACH
        self.xs = np.arange(self.left, max(image[2] for image in images) + _REACH + 1)
        self.ys = np.arange(self.top, max(image[3] for image in images) + _REACH + 1)
        self.maps: dict[tuple[str, int, int], np.ndarray] = {}
        self.taken = self._taken()
        self.pending = {
            net: layout.counts[net]
            - layout.there.get(net, 0)
            - sum(1 for item in cluster.items for value in item.nets.values() if value == net)
            for net in cluster.nets
        }

    def _window(self, cluster: Cluster) -> Window:
        points = [target for found in self.targets.values() for target in found]
        wide, tall = (18, 14) if len(cluster.item.symbol.pins) > 2 else (14, 11)
        if not points:
            if not self.layout.placed:
                return 0, 0, 0, 0
            box = self.layout.box()
            return int(box[2]) + 4, int(box[1]), int(box[2]) + 12, int(box[3]) + 4
        return (
            min(p[0] for p in points) - wide,
            min(p[1] for p in points) - tall,
            max(p[0] for p in points) + wide + (10 if len(cluster.item.symbol.pins) > 3 else 0),
            max(p[1] for p in points) + tall,
        )

    def _taken(self) -> np.ndarray:
        taken = np.zeros((len(self.ys), len(self.xs)), dtype=bool)
        low, high = at(self.left, self.top), at(int(self.xs[-1]), int(self.ys[-1]))
        first, last = low % SPAN, high % SPAN
        for points in (self.layout.board.covered, self.layout.board.pins):
            for point in points:
                if low <= point <= high and first <= point % SPAN <= last:
                    x, y = xy(point)
                    taken[y - self.top, x - self.left] = True
        return taken

    def map(self, net: str, dx: int, dy: int) -> np.ndarray:
        """The cost of a pin of a net that looks along (dx, dy), for each place."""
        key = (net, dx, dy)
        if key not in self.maps:
            room = 2.0 + 3.0 * ((self.pending[net] + 1) // 2) if self.pending[net] > 0 else 1.0
            best = np.full(self.taken.shape, NEVER)
            for target in self.targets[net]:
                np.minimum(best, _costs(self.xs, self.ys, dx, dy, target, room), out=best)
            best[self.taken] = NEVER
            self.maps[key] = best
        return self.maps[key]

    def over(self, first: Fit, second: Fit | None, axis: int, sideways: bool) -> np.ndarray:
        """The cost of a cluster for each place of its item in the window, its twin about the axis."""
        x0, y0, x1, y1 = self.window
        rows, columns = np.arange(y0, y1 + 1), np.arange(x0, x1 + 1)
        total = np.zeros((len(rows), len(columns)))
        loose: dict[str, list[tuple[PinPlace, bool]]] = {}
        for fit, image in ((first, False), (second, True)):
            if fit is None:
                continue
            at_rows = 2 * axis - rows if image and not sideways else rows
            at_columns = 2 * axis - columns if image and sideways else columns
            for pin in fit.pins:
                if pin.net not in self.targets:
                    loose.setdefault(pin.net, []).append((pin, image))
                    continue
                found = self.map(pin.net, pin.dx, pin.dy)
                total += found[np.ix_(at_rows + pin.y - self.top, at_columns + pin.x - self.left)]
        for pins in loose.values():
            for (one, one_image), (two, two_image) in pairwise(pins):
                total += _between(one, two, one_image != two_image, rows, columns, axis, sideways)
        return total


def _between(
    one: PinPlace, two: PinPlace, mirrored: bool, rows: np.ndarray, columns: np.ndarray, axis: int, sideways: bool
) -> np.ndarray:
    """The length and bends between two pins of a cluster."""
    x = np.full(len(columns), two.x - one.x)
    y = np.full(len(rows), two.y - one.y)
    if mirrored and sideways:
        x = 2 * axis - 2 * columns + two.x - one.x
    elif mirrored:
        y = 2 * axis - 2 * rows + two.y - one.y
    away = np.abs(x)[None, :] + np.abs(y)[:, None]
    corner = (x != 0)[None, :] & (y != 0)[:, None]
    return away + BEND * corner + _TOUCHING * (away == 0)


def _costs(xs: np.ndarray, ys: np.ndarray, dx: int, dy: int, target: Target, room: float) -> np.ndarray:
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
    if tee:
        return cost + 0.5
    return cost + 1.3 * np.maximum(0, room - away)


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
