"""Where there is room on a drawing for a further mark."""

from __future__ import annotations

import math
from collections.abc import Iterator

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, edge_ends, rail_edges

_SQUARE = 6
_INK = 0.1
_DOT = 0.25


class Room:
    """The ink of a drawing, each box with the net that it belongs to ("" for none)."""

    def __init__(self, drawing: Drawing) -> None:
        self._squares: dict[tuple[int, int], list[tuple[g.Box, str]]] = {}
        for place in drawing.placed:
            self.add(g.moved(place.fit.body, place.x, place.y))
            for pin in place.fit.item.symbol.pins:
                x, y = g.grid_turned(place.fit.turn, pin.x, pin.y)
                dx, dy = g.grid_turned(place.fit.turn, pin.dx, pin.dy)
                self.add(_line((place.x + x, place.y + y), (place.x + x - dx, place.y + y - dy)), _net(place, pin.name))
            for box in place.fit.solid[1:]:
                self.add(g.moved(box, place.x, place.y))
            for edge in rail_edges(place):
                self.add(_line(*edge_ends(edge)))
        for net, edges in drawing.wires.items():
            for edge in sorted(edges):
                self.add(_line(*edge_ends(edge)), net)
        for x, y in drawing.dots():
            self.add((x - _DOT, y - _DOT, x + _DOT, y + _DOT))
        for text in drawing.texts:
            self.add(text.box)

    def add(self, box: g.Box, net: str = "") -> None:
        """Note something drawn."""
        for square in _squares(box):
            self._squares.setdefault(square, []).append((box, net))

    def free(self, box: g.Box, net: str = "", near: float = 0.12, far: float = 0.35) -> bool:
        """Whether a box is clear of all ink by `far`, and of the ink of its own net by `near`."""
        wide, close = g.grown(box, far), g.grown(box, near)
        return not any(
            g.meet(close if net and own == net else wide, other)
            for square in _squares(wide)
            for other, own in self._squares.get(square, ())
        )

    def free_line(self, start: tuple[float, float], end: tuple[float, float], net: str) -> bool:
        """Whether a thin straight line meets no ink but that of its own net, and that at its end only."""
        length = math.dist(start, end)
        count = max(2, int(length / 0.15))
        for step in range(count):
            x = start[0] + (end[0] - start[0]) * step / count
            y = start[1] + (end[1] - start[1]) * step / count
            gone = length * step / count
            near = 0.05 if length - gone < 0.7 else 0.15
            if not self.free((x, y, x + 0.01, y + 0.01), net if length - gone < 0.5 else "", 0.0, near):
                return False
        return True


def _net(place, pin: str) -> str:
    return next((item.net for item in place.fit.pins if item.name == pin), "")


def _line(one: tuple[int, int], two: tuple[int, int]) -> g.Box:
    (ax, ay), (bx, by) = one, two
    return min(ax, bx) - _INK, min(ay, by) - _INK, max(ax, bx) + _INK, max(ay, by) + _INK


def _squares(box: g.Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box[0] // _SQUARE), int(box[2] // _SQUARE) + 1):
        for row in range(int(box[1] // _SQUARE), int(box[3] // _SQUARE) + 1):
            yield column, row
