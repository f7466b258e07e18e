"""Texts beside their parts: for each a list of customary places, from which those are chosen that meet least."""

from __future__ import annotations

from collections.abc import Sequence

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Text, edge_ends, fixed_boxes, rail_edges
from topo.drawing.schematic.fitting import LINE, TYPE_SIZE, text_width
from topo.drawing.schematic.layout import Placed

_CLASH = 10.0
_SWEEPS = 6
_ABOVE_BASE = 0.78
_BELOW_BASE = 0.22
_GAP = 0.45
_DOT = 0.3

Candidate = tuple[float, tuple[Text, ...]]


def place_texts(drawing: Drawing) -> float:
    """Choose the places of all texts; gives the sum of clashes and penalties, and sets the drawing's texts."""
    owners = [place for place in drawing.placed if place.item.lines]
    choices = [_candidates(place) for place in owners]
    still = _Obstacles(drawing)
    base = [
        [penalty + _CLASH * still.clashes(texts, place) for penalty, texts in options]
        for place, options in zip(owners, choices, strict=True)
    ]
    chosen = [row.index(min(row)) for row in base]
    reach = [g.around([text.box for _, texts in options for text in texts]) for options in choices]
    near = [
        [other for other in range(len(owners)) if other != one and g.meet(g.grown(reach[one], 1), reach[other])]
        for one in range(len(owners))
    ]

    def cost(one: int, number: int) -> float:
        total = base[one][number]
        for other in near[one]:
            total += _CLASH * _meeting(choices[one][number][1], choices[other][chosen[other]][1])
        return total

    for _ in range(_SWEEPS):
        changed = False
        for one in range(len(owners)):
            best = min(range(len(choices[one])), key=lambda number: (cost(one, number), number))
            if best != chosen[one] and cost(one, best) < cost(one, chosen[one]) - 1e-9:
                chosen[one] = best
                changed = True
        if not changed:
            break
    total = sum(cost(one, chosen[one]) for one in range(len(owners)))
    drawing.texts = [text for one, options in enumerate(choices) for text in options[chosen[one]][1]]
    drawing.texts += [text for place in drawing.placed for text in rail_texts(place)]
    return total


def local_cost(drawing: Drawing, place: Placed, others: Sequence[Text]) -> float:
    """The least cost of an item's own texts while all other texts stay where they are."""
    options = _candidates(place)
    region = g.grown(g.around([text.box for _, texts in options for text in texts]), 1)
    still = _Obstacles(drawing, region)
    near = [text for text in others if g.meet(text.box, region)]
    return min(penalty + _CLASH * (still.clashes(texts, place) + _meeting(texts, near)) for penalty, texts in options)


def clashing(drawing: Drawing) -> list[str]:
    """Designators whose texts lie on something, in order."""
    still = _Obstacles(drawing)
    by_key = {place.item.key: place for place in drawing.placed}
    found: dict[str, None] = {}
    own = [text for text in drawing.texts if text.owner]
    for index, text in enumerate(own):
        if still.clashes((text,), by_key[text.owner]):
            found[text.owner] = None
        for other in own[index + 1 :]:
            if other.owner != text.owner and g.meet(text.box, other.box):
                found[text.owner] = None
    return list(found)


def _meeting(one: Sequence[Text], two: Sequence[Text]) -> int:
    count = 0
    for a in one:
        for b in two:
            wide = 0.7 if abs(a.y - b.y) < 0.6 else 0.2
            box = (a.box[0] - wide, a.box[1] - 0.1, a.box[2] + wide, a.box[3] + 0.1)
            count += g.meet(box, b.box)
    return count


class _Obstacles:
    """What no text may lie on: ink of items, wires, dots; sorted into squares so that few are looked at."""

    _SQUARE = 6

    def __init__(self, drawing: Drawing, region: g.Box | None = None) -> None:
        self.region = region
        self.squares: dict[tuple[int, int], list[tuple[g.Box, Placed | None, int]]] = {}
        number = 0
        for place in drawing.placed:
            if region is not None and not (
                region[0] - 9 < place.x < region[2] + 9 and region[1] - 9 < place.y < region[3] + 9
            ):
                continue
            for box in fixed_boxes(place):
                self._add(g.grown(box, 0.15), place, number)
                number += 1
            for edge in rail_edges(place):
                self._add(_edge_box(edge), None, number)
                number += 1
        for edges in drawing.wires.values():
            for edge in sorted(edges):
                self._add(_edge_box(edge), None, number)
                number += 1
        for x, y in drawing.dots():
            self._add((x - _DOT, y - _DOT, x + _DOT, y + _DOT), None, number)
            number += 1

    def _add(self, box: g.Box, owner: Placed | None, number: int) -> None:
        if self.region is not None and not g.meet(box, self.region):
            return
        for column in range(int(box[0] // self._SQUARE), int(box[2] // self._SQUARE) + 1):
            for row in range(int(box[1] // self._SQUARE), int(box[3] // self._SQUARE) + 1):
                self.squares.setdefault((column, row), []).append((box, owner, number))

    def clashes(self, texts: Sequence[Text], owner: Placed) -> int:
        """The number of things that some texts lie on; their own part only with its ink."""
        met: set[int] = set()
        for text in texts:
            box = text.box
            for column in range(int(box[0] // self._SQUARE), int(box[2] // self._SQUARE) + 1):
                for row in range(int(box[1] // self._SQUARE), int(box[3] // self._SQUARE) + 1):
                    for other, whose, number in self.squares.get((column, row), ()):
                        margin = g.grown(other, -0.15) if whose is owner else other
                        if g.meet(box, margin):
                            met.add(number)
        return len(met)


def _edge_box(edge: tuple[int, int, int]) -> g.Box:
    (ax, ay), (bx, by) = edge_ends(edge)
    return ax - 0.2, ay - 0.2, bx + 0.2, by + 0.2


def _line(words: str, x: float, y: float, anchor: str, owner: str) -> Text:
    """A line of text whose box is centred on y."""
    wide = text_width(words)
    left = x if anchor == "start" else x - wide if anchor == "end" else x - wide / 2
    box = (left, y - TYPE_SIZE / 2, left + wide, y + TYPE_SIZE / 2)
    return Text(words, x, y + TYPE_SIZE * (_ABOVE_BASE - 0.5) + 0.06, anchor, box, owner)


def _stack(lines: Sequence[str], x: float, middle: float, anchor: str, owner: str) -> tuple[Text, ...]:
    top = middle - LINE * (len(lines) - 1) / 2
    return tuple(_line(words, x, top + LINE * index, anchor, owner) for index, words in enumerate(lines))


def _candidates(place: Placed) -> list[Candidate]:
    """Where the texts of an item may stand, with the penalty of each place."""
    x0, y0, x1, y1 = g.moved(place.fit.body, place.x, place.y)
    lines, key = place.item.lines, place.item.key
    middle, centre = (x0 + x1) / 2, (y0 + y1) / 2
    if place.item.symbol.name in ("port", "flag"):
        if place.item.kind == "input" or (place.item.kind == "flag" and place.fit.turn[0] > 0):
            return [
                (0.0, _stack(lines, x0 - 0.4, place.y, "end", key)),
                (1.0, _stack(lines, middle, y0 - 0.9, "middle", key)),
            ]
        return [
            (0.0, _stack(lines, x1 + 0.4, place.y, "start", key)),
            (1.0, _stack(lines, middle, y0 - 0.9, "middle", key)),
        ]
    found: list[Candidate] = []
    level = place.item.two_ended and not place.fit.upright
    tall = LINE * len(lines)
    sideways = 2.0 if level else 0.0
    for shift, penalty in (
        (0, 0),
        (-0.5, 0.4),
        (0.5, 0.4),
        (-1, 0.8),
        (1, 0.8),
        (-1.5, 1.3),
        (1.5, 1.3),
        (-2, 1.8),
        (2, 1.8),
    ):
        found.append((sideways + penalty, _stack(lines, x1 + _GAP, centre + shift, "start", key)))
        found.append((sideways + 1 + penalty, _stack(lines, x0 - _GAP, centre + shift, "end", key)))
    upward = 0.0 if level or place.item.kind == "transformer" or len(place.item.symbol.pins) > 3 else 3.0
    for shift, penalty in ((0, 0), (-0.6, 0.4), (0.6, 0.4), (-1.2, 0.9), (1.2, 0.9), (-2, 1.5), (2, 1.5)):
        x = middle + shift
        if level and len(lines) == 2:
            two = (_line(lines[0], x, y0 - 0.85, "middle", key), _line(lines[1], x, y1 + 0.9, "middle", key))
            found.append((penalty, two))
        found.append((upward + penalty + 0.3, _stack(lines, x, y0 - 0.25 - tall / 2, "middle", key)))
        found.append((upward + penalty + 0.6, _stack(lines, x, y1 + 0.3 + tall / 2, "middle", key)))
        one = " ".join(lines)
        found.append((upward + penalty + 0.9, (_line(one, x, y0 - 0.85, "middle", key),)))
        found.append((upward + penalty + 1.0, (_line(one, x, y1 + 0.9, "middle", key),)))
    for corner, anchor in ((x1, "start"), (x0, "end")):
        found.append((2.6, _stack(lines, corner + (0.2 if anchor == "start" else -0.2), y0 - tall / 2, anchor, key)))
        found.append((2.8, _stack(lines, corner + (0.2 if anchor == "start" else -0.2), y1 + tall / 2, anchor, key)))
    return found


def rail_texts(place: Placed) -> list[Text]:
    """The texts of an item's rail symbols."""
    found = []
    for rail in place.fit.rails:
        x, y, text = place.x + rail.x, place.y + rail.y, rail.rail.text
        if not text:
            continue
        if rail.rail.symbol == "plus":
            found.append(_line(text, x, y - 1.55, "middle", ""))
        elif rail.rail.symbol == "minus":
            found.append(_line(text, x, y + 1.6, "middle", ""))
        else:
            ax, ay = g.grid_turned(rail.turn, -1, 0)
            if ax:
                found.append(_line(text, x + 1.8 * ax, y, "start" if ax > 0 else "end", ""))
            else:
                found.append(_line(text, x, y + 2.4 * ay, "middle", ""))
    return found
