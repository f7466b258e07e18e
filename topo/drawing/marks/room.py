"""Where there is room on a drawing for a further mark."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, edge_ends, rail_edges

_INK = 0.1
_DOT = 0.25
# So many boxes are looked at in one go.
_BATCH = 256


class Room:
    """The ink of a drawing, each box with the net that it belongs to ("" for none)."""

    def __init__(self, drawing: Drawing) -> None:
        self._numbers: dict[str, int] = {"": 0}
        found: list[tuple[g.Box, str]] = []
        for place in drawing.placed:
            found.append((g.moved(place.fit.body, place.x, place.y), ""))
            for pin in place.fit.item.symbol.pins:
                x, y = g.grid_turned(place.fit.turn, pin.x, pin.y)
                dx, dy = g.grid_turned(place.fit.turn, pin.dx, pin.dy)
                lead = _line((place.x + x, place.y + y), (place.x + x - dx, place.y + y - dy))
                found.append((lead, _net(place, pin.name)))
            found += [(g.moved(box, place.x, place.y), "") for box in place.fit.solid[1:]]
            found += [(_line(*edge_ends(edge)), "") for edge in rail_edges(place)]
        for net, edges in drawing.wires.items():
            found += [(_line(*edge_ends(edge)), net) for edge in sorted(edges)]
        found += [((x - _DOT, y - _DOT, x + _DOT, y + _DOT), "") for x, y in drawing.dots()]
        found += [(text.box, "") for text in drawing.texts]
        self._boxes = np.array([box for box, _ in found]).reshape(-1, 4)
        self._nets = np.array([self._number(net) for _, net in found], dtype=np.int64)

    def _number(self, net: str) -> int:
        return self._numbers.setdefault(net, len(self._numbers))

    def add(self, box: g.Box, net: str = "") -> None:
        """Note something drawn."""
        self._boxes = np.concatenate([self._boxes, [box]])
        self._nets = np.append(self._nets, self._number(net))

    def free(self, box: g.Box, net: str = "", near: float = 0.12, far: float = 0.35) -> bool:
        """Whether a box is clear of all ink by `far`, and of the ink of its own net by `near`."""
        return bool(self._clear(np.array([box]), net, near, far)[0])

    def first_free(self, boxes: Sequence[g.Box], net: str = "", after: int = -1) -> int | None:
        """The number of the first of some boxes that is free, of those after a number; None where there is none."""
        for start in range(after + 1, len(boxes), _BATCH):
            clear = self._clear(np.array(boxes[start : start + _BATCH]), net, 0.12, 0.35)
            if clear.any():
                return start + int(clear.argmax())
        return None

    def _clear(self, boxes: np.ndarray, net: str, near: float | np.ndarray, far: float | np.ndarray) -> np.ndarray:
        """Which boxes are clear of all ink; `near` and `far` for all of them or for each."""
        reach = float(np.max(far)) + float(np.max(near))
        low, high = boxes[:, :2].min(axis=0) - reach, boxes[:, 2:].max(axis=0) + reach
        some = (self._boxes[:, :2] < high).all(axis=1) & (low < self._boxes[:, 2:]).all(axis=1)
        others = self._boxes[some]
        own = self._nets[some] == (self._number(net) if net else -1)
        margin = np.where(own[None, :], np.reshape(near, (-1, 1)), np.reshape(far, (-1, 1)))
        met = (
            (boxes[:, None, 0] - margin < others[None, :, 2])
            & (others[None, :, 0] < boxes[:, None, 2] + margin)
            & (boxes[:, None, 1] - margin < others[None, :, 3])
            & (others[None, :, 1] < boxes[:, None, 3] + margin)
        )
        return ~met.any(axis=1)

    def free_line(self, start: tuple[float, float], end: tuple[float, float], net: str) -> bool:
        """Whether a thin straight line meets no ink but that of its own net, and that at its end only."""
        length = math.dist(start, end)
        count = max(2, int(length / 0.15))
        gone = length * np.arange(count) / count
        x = start[0] + (end[0] - start[0]) * np.arange(count) / count
        y = start[1] + (end[1] - start[1]) * np.arange(count) / count
        boxes = np.stack([x, y, x + 0.01, y + 0.01], axis=1)
        far = np.where(length - gone < 0.7, 0.05, 0.15)
        near = np.where(length - gone < 0.5, 0.0, far)
        return bool(self._clear(boxes, net, near, far).all())


def _net(place, pin: str) -> str:
    return next((item.net for item in place.fit.pins if item.name == pin), "")


def _line(one: tuple[int, int], two: tuple[int, int]) -> g.Box:
    (ax, ay), (bx, by) = one, two
    return min(ax, bx) - _INK, min(ay, by) - _INK, max(ax, bx) + _INK, max(ay, by) + _INK
