"""Texts beside their parts: for each a list of customary places, from which those are chosen that meet least."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Text
from topo.drawing.schematic.fitting import LINE, TYPE_SIZE, text_width
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.obstacles import Obstacles, meeting

_CLASH = 10.0
_SWEEPS = 6
_ABOVE_BASE = 0.78
_BELOW_BASE = 0.22
_GAP = 0.45
_ALONE = np.zeros(1, dtype=np.int64)

Candidate = tuple[float, tuple[Text, ...]]


def place_texts(drawing: Drawing) -> float:
    """Choose the places of all texts; gives the sum of clashes and penalties, and sets the drawing's texts."""
    owners = [place for place in drawing.placed if place.item.lines]
    choices = [_Choices(place) for place in owners]
    still = Obstacles(drawing)
    base = [own.penalties + _CLASH * still.met_by(own.boxes, own.starts, own.place) for own in choices]
    chosen = [int(row.argmin()) for row in base]
    meetings = _meetings(choices)

    def costs(one: int) -> np.ndarray:
        return base[one] + _CLASH * sum(counts[:, chosen[other]] for other, counts in meetings[one])

    for _ in range(_SWEEPS):
        changed = False
        for one in range(len(owners)):
            found = costs(one)
            best = int(found.argmin())
            if best != chosen[one] and found[best] < found[chosen[one]] - 1e-9:
                chosen[one] = best
                changed = True
        if not changed:
            break
    total = float(sum(costs(one)[chosen[one]] for one in range(len(owners))))
    drawing.texts = [text for one, own in enumerate(choices) for text in own.options[chosen[one]][1]]
    drawing.texts += [text for place in drawing.placed for text in rail_texts(place)]
    return total


def local_cost(drawing: Drawing, place: Placed, others: Sequence[Text]) -> float:
    """The least cost of an item's own texts while all other texts stay where they are."""
    own = _Choices(place)
    region = g.grown(own.reach, 1)
    still = Obstacles(drawing, region)
    near = [text for text in others if g.meet(text.box, region)]
    met = still.met_by(own.boxes, own.starts, place)
    if near:
        theirs = np.array([text.box for text in near])
        rows = np.array([text.y for text in near])
        met = met + np.add.reduceat(_side_by_side(own.boxes, own.rows, theirs, rows).sum(axis=1), own.starts)
    return float((own.penalties + _CLASH * met).min())


def clashing(drawing: Drawing) -> list[str]:
    """Designators whose texts lie on something, in order."""
    return list(dict.fromkeys(text.owner for text in _clashing(drawing) if text.owner))


def clashes(drawing: Drawing) -> int:
    """The number of texts that lie on something: of parts, counted once for each part, and all others."""
    found = _clashing(drawing)
    return len({text.owner for text in found if text.owner}) + sum(not text.owner for text in found)


def _clashing(drawing: Drawing) -> list[Text]:
    """The texts that lie on something; of two that meet the one that no part owns, or whose part comes first."""
    texts = drawing.texts
    if not texts:
        return []
    still = Obstacles(drawing)
    by_key = {place.item.key: place for place in drawing.placed}
    boxes = np.array([text.box for text in texts])
    met = meeting(boxes, boxes)
    np.fill_diagonal(met, False)
    found = []
    for index, text in enumerate(texts):
        others = [texts[other].owner for other in np.flatnonzero(met[index])]
        if text.owner:
            lies = still.met_by(boxes[index : index + 1], _ALONE, by_key[text.owner])[0] > 0
            lies = lies or any(text.owner < other for other in others)
        else:
            lies = bool(others) or still.meets_loose(boxes[index])
        if lies:
            found.append(text)
    return found


class _Choices:
    """The places that the texts of an item may have: penalties, and the boxes of all of them one after another."""

    def __init__(self, place: Placed) -> None:
        self.place = place
        self.options = _candidates(place)
        self.penalties = np.array([penalty for penalty, _ in self.options])
        texts = [text for _, option in self.options for text in option]
        self.boxes = np.array([text.box for text in texts])
        self.rows = np.array([text.y for text in texts])
        counts = [len(option) for _, option in self.options]
        self.starts = np.cumsum([0, *counts[:-1]])
        low, high = self.boxes.min(axis=0), self.boxes.max(axis=0)
        self.reach: g.Box = (float(low[0]), float(low[1]), float(high[2]), float(high[3]))


def _meetings(choices: Sequence[_Choices]) -> list[list[tuple[int, np.ndarray]]]:
    """For each item those near it, and how often each of its choices meets each of theirs."""
    found: list[list[tuple[int, np.ndarray]]] = [[] for _ in choices]
    for index, one in enumerate(choices):
        reach = g.grown(one.reach, 1)
        for number in range(index + 1, len(choices)):
            two = choices[number]
            if g.meet(reach, two.reach):
                met = _side_by_side(one.boxes, one.rows, two.boxes, two.rows).astype(np.int64)
                counts = np.add.reduceat(np.add.reduceat(met, one.starts, axis=0), two.starts, axis=1)
                found[index].append((number, counts))
                found[number].append((index, counts.T))
    return found


def _side_by_side(one: np.ndarray, own_rows: np.ndarray, two: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Which boxes of texts meet or stand so close that they would read as one, pair by pair."""
    wide = np.where(np.abs(own_rows[:, None] - rows[None, :]) < 0.6, 0.7, 0.2)
    return (
        (one[:, None, 0] - wide < two[None, :, 2])
        & (two[None, :, 0] < one[:, None, 2] + wide)
        & (one[:, None, 1] - 0.1 < two[None, :, 3])
        & (two[None, :, 1] < one[:, None, 3] + 0.1)
    )


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
    if place.item.kind == "supply":
        return [(0.0, _stack(lines, place.x, place.y + (-1.7 if y1 <= place.y else 1.75), "middle", key))]
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
    broad = place.item.kind == "transformer" or place.item.symbol.name.startswith("box")
    upward = 0.0 if level or broad or len(place.item.symbol.pins) > 3 else 3.0
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
                found.append(_line(text, x + 2.8 * ax, y, "start" if ax > 0 else "end", ""))
            else:
                found.append(_line(text, x, y + 3.4 * ay, "middle", ""))
    return found
