"""Pieces of a drawing set beneath and beside each other, as lines of a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.cutting import uncut
from topo.drawing.schematic.drawing import Drawing, whole_box
from topo.drawing.schematic.layout import Placed

_WIDEST = 100
_BETWEEN = 4


def folded(pieces: Sequence[tuple[Drawing, bool]]) -> Drawing:
    """One drawing of all pieces.

    Args:
        pieces: drawings whose texts are placed, in their order; whether each is on the signal path. Pieces of the path
            begin rows of their own where there are several.
    """
    if len(pieces) == 1:
        return pieces[0][0]
    boxes = [whole_box(drawing) for drawing, _ in pieces]
    rows = _rows([box[2] - box[0] + _BETWEEN for box in boxes], [on_path for _, on_path in pieces])
    whole = Drawing([], {})
    top = 0
    for members in rows:
        left, tall = 0, 0
        for number in members:
            x0, y0, x1, y1 = boxes[number]
            _add(whole, pieces[number][0], left - _down(x0), top - _down(y0))
            left += _down(x1) - _down(x0) + 1 + _BETWEEN
            tall = max(tall, _down(y1) - _down(y0) + 1)
        top += tall + _BETWEEN
    return whole


def _rows(wide: Sequence[float], on_path: Sequence[bool]) -> list[list[int]]:
    """The numbers of the pieces of each row.

    The path goes on at the end of its last row, or in a new one. What is off the path stands at the end of its last
    row if all of it can, else in rows beneath.
    """
    limit = max([_WIDEST + _BETWEEN, *wide])
    rows: list[list[int]] = []
    ends: list[float] = []

    def add(number: int, first: int) -> None:
        row = next((row for row in range(first, len(rows)) if ends[row] + wide[number] <= limit), len(rows))
        if row == len(rows):
            rows.append([])
            ends.append(0.0)
        rows[row].append(number)
        ends[row] += wide[number]

    for number in range(len(wide)):
        if on_path[number]:
            add(number, max(0, len(rows) - 1))
    beside = sum(own for own, path in zip(wide, on_path, strict=True) if not path)
    first = len(rows) - 1 if rows and ends[-1] + beside <= limit else len(rows)
    for number in range(len(wide)):
        if not on_path[number]:
            add(number, first)
    return rows


def _down(value: float) -> int:
    return int(value // 1)


def _add(whole: Drawing, drawing: Drawing, dx: int, dy: int) -> None:
    whole.placed += [_named(replace(place, x=place.x + dx, y=place.y + dy)) for place in drawing.placed]
    for net, edges in drawing.wires.items():
        own = whole.wires.setdefault(uncut(net), set())
        own.update((x + dx, y + dy, way) for x, y, way in edges)
    whole.texts += [
        replace(text, x=text.x + dx, y=text.y + dy, box=g.moved(text.box, dx, dy)) for text in drawing.texts
    ]


def _named(place: Placed) -> Placed:
    """An item with its nets under their own names again."""
    fit = place.fit
    if not any(uncut(pin.net) != pin.net for pin in fit.pins):
        return place
    item = replace(fit.item, nets={pin: uncut(net) for pin, net in fit.item.nets.items()})
    pins = tuple(replace(pin, net=uncut(pin.net)) for pin in fit.pins)
    return replace(place, fit=replace(fit, item=item, pins=pins))
