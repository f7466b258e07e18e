"""Room made where a text has none: the drawing is cut from side to side and one half moves away by a module.

A cut runs from the top to the bottom (or, transposed, from left to right). It may pass over wires that lie square to
it, which become longer, and may step aside between two rows where nothing stands in its way; it never divides an item.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Edge, Text
from topo.drawing.schematic.labels import clashing, local_cost, place_texts
from topo.drawing.schematic.layout import Placed

_MOST_CUTS = 40
_AROUND = 5
# So many modules are put in at once for one text.
_MOST_MODULES = 5
_WIDEST_STEP = 30
# What it costs in modules to leave a pair uneven.
_UNEVEN = 4.0

Span = tuple[int, int, int, int]


def settle(drawing: Drawing) -> Drawing:
    """The drawing with cuts made until each text has its place, or no cut helps."""
    cost = place_texts(drawing)
    hopeless: set[str] = set()
    for _ in range(_MOST_CUTS):
        waiting = [key for key in clashing(drawing) if key not in hopeless]
        if not waiting:
            break
        trial = _best_cut(drawing, waiting[0])
        new_cost = place_texts(trial) if trial is not None else cost
        if trial is None or new_cost > cost - 2.0:
            hopeless.add(waiting[0])
            continue
        cost, drawing = new_cost, trial
    return drawing


def widened(drawing: Drawing, x: int, y: int, modules: int) -> list[Drawing]:
    """The drawings with so many modules more room at a point: one for each place and direction of a cut.

    Texts of items are moved with them; all others are left out.
    """
    trials = [_parted_often(drawing, cut, transposed, modules) for cut, transposed in _cuts(drawing, x, y)]
    own = [text for text in drawing.texts if text.owner]
    for trial in trials:
        trial.texts = _moved_texts(own, drawing, trial)
    return trials


def _parted_often(drawing: Drawing, cut: dict[int, int], transposed: bool, modules: int) -> Drawing:
    for _ in range(modules):
        drawing = _parted(drawing, cut, transposed)
    return drawing


def _cuts(drawing: Drawing, x: int, y: int) -> list[tuple[dict[int, int], bool]]:
    """The cuts near a point, and whether each lies across the figure."""
    cuts: list[tuple[dict[int, int], bool]] = []
    for transposed in (False, True):
        across, along = (y, x) if transposed else (x, y)
        lines = _Lines(drawing, transposed)
        for column in range(across - _AROUND, across + _AROUND):
            cut = lines.cut(column, along)
            if cut is not None and (cut, transposed) not in cuts:
                cuts.append((cut, transposed))
    return cuts


def _best_cut(drawing: Drawing, key: str) -> Drawing | None:
    """The drawing with a few modules more room beside an item, where that helps most."""
    place = next(item for item in drawing.placed if item.item.key == key)
    others = [text for text in drawing.texts if text.owner != key]
    cuts = _cuts(drawing, place.x, place.y)
    index = next(number for number, item in enumerate(drawing.placed) if item is place)
    trials = [(drawing, cut, transposed) for cut, transposed in cuts]
    best: tuple[float, Drawing] | None = None
    for modules in range(_MOST_MODULES):
        trials = [(_parted_evenly(old, cut, transposed), cut, transposed) for old, cut, transposed in trials]
        for trial, _, _ in trials:
            moved = _moved_texts(others, drawing, trial)
            found = local_cost(trial, trial.placed[index], moved) + modules
            found += _UNEVEN * (sum(lopsided(trial)) - sum(lopsided(drawing)))
            if best is None or found < best[0] - 1e-9:
                best = (found, trial)
        if best is not None and best[0] < 9:
            break
    return best[1] if best is not None else None


def _parted_evenly(drawing: Drawing, cut: dict[int, int], transposed: bool) -> Drawing:
    """The drawing with a module more at a cut, and another at its image where the cut goes through a mirrored pair."""
    parted = _parted(drawing, cut, transposed)
    before, after = lopsided(drawing), lopsided(parted)
    if sum(after) <= sum(before) or not cut:
        return parted
    for double in _doubles(drawing, sideways=not transposed):
        above = [2 * place < double for place in cut.values()]
        if any(above) != all(above):
            continue
        image = {across: double - place - 1 + all(above) for across, place in cut.items()}
        if _Lines(parted, transposed).allows(image):
            even = _parted(parted, image, transposed)
            if sum(lopsided(even)) < sum(after):
                return even
    return parted


def _doubles(drawing: Drawing, sideways: bool) -> list[int]:
    """Twice the places of the mirror lines of one direction."""
    places = {place.item.key: place for place in drawing.placed}
    found: dict[int, None] = {}
    for one, two, aside in drawing.twins:
        if aside == sideways and one in places and two in places:
            a, b = places[one], places[two]
            found[a.x + b.x if sideways else a.y + b.y] = None
    return list(found)


def lopsided(drawing: Drawing) -> list[int]:
    """The number of mirror lines that the twins of each direction are drawn about."""
    return [len(_doubles(drawing, sideways)) for sideways in (False, True)]


def _moved_texts(texts: list[Text], before: Drawing, after: Drawing) -> list[Text]:
    """Texts moved as their items have moved."""
    shift = {old.item.key: (new.x - old.x, new.y - old.y) for old, new in zip(before.placed, after.placed, strict=True)}
    found = []
    for text in texts:
        x, y = shift.get(text.owner, (0, 0))
        found.append(replace(text, x=text.x + x, y=text.y + y, box=g.moved(text.box, x, y)) if x or y else text)
    return found


def _spans(drawing: Drawing, transposed: bool) -> list[Span]:
    """For each item the grid points from first to last that must stay together: x0, y0, x1, y1."""
    found = []
    for place in drawing.placed:
        body = g.moved(place.fit.body, place.x, place.y)
        points = [(place.x, place.y)]
        points += [(place.x + pin.x, place.y + pin.y) for pin in place.fit.pins]
        for rail in place.fit.rails:
            points += [(place.x + x, place.y + y) for x, y in rail.wire]
            points += [(place.x + rail.x + dx, place.y + rail.y + dy) for dx in (-1, 1) for dy in (-1, 1)]
        xs = [x for x, _ in points] + [round(body[0] + 0.2), round(body[2] - 0.2)]
        ys = [y for _, y in points] + [round(body[1] + 0.2), round(body[3] - 0.2)]
        span = (min(xs), min(ys), max(xs), max(ys))
        found.append((span[1], span[0], span[3], span[2]) if transposed else span)
    return found


class _Lines:
    """Where cuts of one direction may go."""

    def __init__(self, drawing: Drawing, transposed: bool) -> None:
        spans = _spans(drawing, transposed)
        upright: set[tuple[int, int]] = set()
        for edges in drawing.wires.values():
            for x, y, d in edges:
                if d == (0 if transposed else 1):
                    upright.add((y, x) if transposed else (x, y))
        rows = [y for _, y0, _, y1 in spans for y in (y0, y1)] + [y for _, y in upright]
        self.top, self.bottom = min(rows) - 1, max(rows) + 2
        self.barred = {(x, y) for x0, y0, x1, y1 in spans for y in range(y0, y1 + 1) for x in range(x0, x1)}
        # Where a step aside between a row and the next would tear something apart.
        self.torn = upright | {(x, y) for x0, y0, x1, y1 in spans for y in range(y0, y1) for x in range(x0, x1 + 1)}

    def cut(self, column: int, row: int) -> dict[int, int] | None:
        """A cut right of a column at a row: for each row the last column that stays; None where there is none."""
        if (column, row) in self.barred:
            return None
        found = {row: column}
        for direction in (-1, 1):
            here, y = column, row
            while self.top < y < self.bottom:
                after = y + direction
                step = _step(here, after, min(y, after), self.barred, self.torn)
                if step is None:
                    return None
                here, y = step, after
                found[y] = here
        return found

    def allows(self, cut: dict[int, int]) -> bool:
        """Whether a cut given as a whole tears nothing apart."""
        rows = sorted(cut)
        if any((cut[row], row) in self.barred for row in rows):
            return False
        for row, after in pairwise(rows):
            here, there = sorted((cut[row], cut[after]))
            if any((column, row) in self.torn for column in range(here + 1, there + 1)):
                return False
        return True


def _step(here: int, after: int, gap: int, barred: set, torn: set) -> int | None:
    """The nearest column that the cut may have in the row after, given its column in this one."""
    left = right = here
    left_open = right_open = True
    for _ in range(_WIDEST_STEP):
        if (right, after) not in barred and right_open:
            return right
        if (left, after) not in barred and left_open:
            return left
        # To go one to the right the column right of the cut changes sides, and the like to the left.
        right_open = right_open and (right + 1, gap) not in torn
        right += 1
        left_open = left_open and (left, gap) not in torn
        left -= 1
        if not left_open and not right_open:
            return None
    return None


def _parted(drawing: Drawing, cut: dict[int, int], transposed: bool) -> Drawing:
    """The drawing with all that lies beyond the cut moved by a module."""

    def beyond(x: int, y: int) -> bool:
        return y > cut.get(x, 1 << 30) if transposed else x > cut.get(y, 1 << 30)

    placed: list[Placed] = []
    for place in drawing.placed:
        if beyond(place.x, place.y):
            place = replace(place, y=place.y + 1) if transposed else replace(place, x=place.x + 1)
        placed.append(place)
    wires: dict[str, set[Edge]] = {}
    for net, edges in drawing.wires.items():
        moved: set[Edge] = set()
        for x, y, d in edges:
            ex, ey = (x + 1, y) if d == 0 else (x, y + 1)
            one, two = beyond(x, y), beyond(ex, ey)
            shift = (0, 1) if transposed else (1, 0)
            moved.add((x + shift[0], y + shift[1], d) if one else (x, y, d))
            if two and not one:
                moved.add((x + shift[0], y + shift[1], d))
        wires[net] = moved
    return Drawing(placed, wires, twins=drawing.twins)
