"""Call-outs: the volts of nets beside their wires, and the currents of devices beside their collectors."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from topo.drawing.lettering import width
from topo.drawing.marks.room import Room
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Text, edge_ends
from topo.drawing.schematic.labels import clashes, place_texts, rail_texts
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.stretching import settle, widened
from topo.drawing.schematic.writing import number

SIZE = 1.0
_MOST_CUTS, _MOST_MODULES = 20, 4
# Quantities so far apart do not help one another by the room that they are given.
_APART = 16
_GAPS = (0.3, 0.7, 1.1)
_RISE = 0.27
"""From the middle of a line of text to its baseline, in its size."""
_LEADERS = (1.5, 2.25, 3.0, 4.0, 5.0, 6.0, 7.0)
_ANGLES = (45, 135, 225, 315, 30, 150, 210, 330, 60, 120, 240, 300)
_STEPS = (0.0, -0.5, 0.5, -1.0, 1.0, -1.5, 1.5, -2.0, 2.0, -3.0, 3.0, -4.0, 4.0)
_ARROW = {(0, 1): 0.75, (0, -1): 0.75, (1, 0): 1.5, (-1, 0): 1.5}

Run = tuple[g.Point, g.Point]


@dataclass(frozen=True)
class Quantity:
    """What is to be written: the words, the net beside whose wires they stand, and of a current the designator and pin
    of its device and whether it flows into it."""

    words: str
    net: str
    ref: str = ""
    pin: str = ""
    inwards: bool = True


@dataclass
class Callouts:
    """Texts and marks that found a place, and the quantities that did not."""

    texts: list[Text] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    left: list[Quantity] = field(default_factory=list)


def make_room(drawing: Drawing, quantities: Sequence[Quantity]) -> tuple[Drawing, list[Quantity]]:
    """The drawing, parted near those quantities that find no place in it, and the quantities that are still to place.

    A current that has no place even so is written beneath its device's designator.
    """
    hopeless: set[Quantity] = set()
    waiting = list(quantities)
    for _ in range(_MOST_CUTS):
        left = [item for item in call_out(drawing, waiting, Room(drawing)).left if item not in hopeless]
        if not left:
            break
        currents = {item.ref: item for item in left if item.ref}
        if currents:
            beside = _beneath_designators(drawing, currents)
            if clashes(beside) > clashes(drawing):
                hopeless.update(currents.values())
                continue
            drawing = beside
            waiting = [item for item in waiting if item not in left or not item.ref]
            continue
        drawing = _parted_for(drawing, left, hopeless)
    return drawing, waiting


def _parted_for(drawing: Drawing, left: Sequence[Quantity], hopeless: set[Quantity]) -> Drawing:
    """The drawing parted for the first of some quantities and for those far from it; notes for which that is no help.

    What is near has perhaps found room by that.
    """
    parted: list[g.Point] = []
    for item in left:
        runs = _runs(drawing, item)
        x, y = _middle(runs[0]) if runs else (0, 0)
        if any(abs(x - a) < _APART and abs(y - b) < _APART for a, b in parted):
            continue
        wider = _wider(drawing, item) if runs else None
        if wider is None:
            hopeless.add(item)
        else:
            drawing = wider
            parted.append((x, y))
    return drawing


def _middle(run: Run) -> g.Point:
    (ax, ay), (bx, by) = run
    return (ax + bx) // 2, (ay + by) // 2


def _beneath_designators(drawing: Drawing, currents: Mapping[str, Quantity]) -> Drawing:
    placed = [
        _with_line(place, currents[place.item.key].words) if place.item.key in currents else place
        for place in drawing.placed
    ]
    return settle(Drawing(placed, drawing.wires))


def _with_line(place: Placed, words: str) -> Placed:
    item = replace(place.item, lines=(*place.item.lines, words))
    return replace(place, fit=replace(place.fit, item=item))


def _wider(drawing: Drawing, item: Quantity) -> Drawing | None:
    """The drawing with room for one quantity more, by the fewest modules and the least length of wire."""
    x, y = _middle(_runs(drawing, item)[0])
    overlaps = clashes(drawing)
    for modules in range(1, _MOST_MODULES + 1):
        trials = widened(drawing, x, y, modules)
        for trial in sorted(trials, key=lambda one: sum(map(len, one.wires.values()))):
            trial.texts += [text for place in trial.placed for text in rail_texts(place)]
            if _beside(Callouts(), item, _runs(trial, item), Room(trial)):
                place_texts(trial)
                if clashes(trial) <= overlaps:
                    return trial
    return None


def call_out(drawing: Drawing, quantities: Iterable[Quantity], room: Room) -> Callouts:
    """Places for quantities: beside a wire of the net, else at the end of a thin leader to it; the room is used up."""
    found = Callouts()
    waiting: list[tuple[Quantity, list[Run]]] = []
    for item in quantities:
        runs = _runs(drawing, item)
        if not _beside(found, item, runs, room):
            waiting.append((item, runs))
    for item, runs in waiting:
        if not _on_leader(found, item, runs, room):
            found.left.append(item)
    return found


def _runs(drawing: Drawing, item: Quantity) -> list[Run]:
    """The straight runs that a quantity may stand beside, the likeliest first; those of a current as it flows."""
    if item.ref:
        for place in drawing.placed:
            for pin in place.fit.item.symbol.pins:
                if place.item.key == item.ref and pin.name == item.pin:
                    return _lead(drawing, place, pin, item)
        return []
    edges = drawing.wires.get(item.net, set())
    runs = sorted(_straight(edges), key=lambda run: (-_length(run), run))
    leads = []
    for place in drawing.placed:
        for own in place.fit.pins:
            if own.net == item.net:
                x, y = place.x + own.x, place.y + own.y
                leads.append(((x, y), (x - own.dx, y - own.dy)))
    return runs + leads


def _lead(drawing: Drawing, place: Placed, pin, item: Quantity) -> list[Run]:
    """The lead of a device and the wire that goes on from it up to the first junction, run by run."""
    x, y = g.grid_turned(place.fit.turn, pin.x, pin.y)
    way = g.grid_turned(place.fit.turn, pin.dx, pin.dy)
    start = (place.x + x - way[0], place.y + y - way[1])
    here = (place.x + x, place.y + y)
    steps = {frozenset(edge_ends(edge)) for edge in drawing.wires.get(item.net, ())}
    ends = set(drawing.dots()) | {
        (other.x + own.x, other.y + own.y) for other in drawing.placed for own in other.fit.pins if own.net == item.net
    }
    runs: list[Run] = []
    while True:
        onward = [way, (way[1], way[0]), (-way[1], -way[0])] if here not in ends or not runs else []
        if here in drawing.dots():
            onward = []
        step = next((s for s in onward if frozenset((here, (here[0] + s[0], here[1] + s[1]))) in steps), None)
        if step != way:
            runs.append((start, here))
            start = here
        if step is None:
            break
        way = step
        here = (here[0] + way[0], here[1] + way[1])
    return [(two, one) for one, two in runs] if item.inwards else runs


def _way(run: Run) -> g.Point:
    (ax, ay), (bx, by) = run
    return (bx > ax) - (bx < ax), (by > ay) - (by < ay)


def _straight(edges: Iterable[tuple[int, int, int]]) -> Iterator[Run]:
    known = set(edges)
    for x, y, d in sorted(known):
        dx, dy = (1, 0) if d == 0 else (0, 1)
        if (x - dx, y - dy, d) in known:
            continue
        end = (x + dx, y + dy)
        while (*end, d) in known:
            end = (end[0] + dx, end[1] + dy)
        yield (x, y), end


def _length(run: Run) -> int:
    return abs(run[1][0] - run[0][0]) + abs(run[1][1] - run[0][1])


def _wide(item: Quantity, run: Run) -> float:
    return width(item.words, SIZE) + (_ARROW[_way(run)] if item.ref else 0.0)


def _beside(found: Callouts, item: Quantity, runs: list[Run], room: Room) -> bool:
    places: list[tuple[float, float, float, int]] = []
    for order, run in enumerate(runs):
        (ax, ay), (bx, by) = run
        wide = _wide(item, run)
        mx, my = (ax + bx) / 2, (ay + by) / 2
        reach = max(abs(bx - ax), abs(by - ay)) / 2
        steps = [step for step in _STEPS if abs(step) <= reach]
        for step, gap in product(steps, _GAPS):
            cost = 0.6 * order + 0.1 * abs(step) + 0.5 * (gap - _GAPS[0])
            if ay == by:
                places.append((cost, mx - wide / 2 + step, ay - gap - SIZE, order))
                places.append((cost + 0.25, mx - wide / 2 + step, ay + gap, order))
            else:
                places.append((cost + 0.1, ax + gap, my - SIZE / 2 + step, order))
                places.append((cost + 0.3, ax - gap - wide, my - SIZE / 2 + step, order))
    places.sort()
    boxes = [(x, y, x + _wide(item, runs[order]), y + SIZE) for _, x, y, order in places]
    first = room.first_free(boxes, item.net)
    if first is None:
        return False
    _write(found, item, boxes[first], runs[places[first][3]], room)
    return True


def _on_leader(found: Callouts, item: Quantity, runs: list[Run], room: Room) -> bool:
    """A place further off, with a thin oblique line to the wire."""
    spots: list[tuple[g.Box, tuple[float, float], tuple[float, float], Run]] = []
    for distance in _LEADERS:
        for run in runs:
            wide = _wide(item, run)
            for x0, y0 in _points(*run):
                for angle in _ANGLES:
                    dx, dy = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
                    x, y = x0 + distance * dx, y0 + distance * dy
                    left = x - wide if dx < 0 else x
                    spots.append(((left, y - SIZE / 2, left + wide, y + SIZE / 2), (x, y), (x0, y0), run))
    boxes = [box for box, _, _, _ in spots]
    at = room.first_free(boxes)
    while at is not None:
        box, (x, y), (x0, y0), run = spots[at]
        if room.free_line((x, y), (x0, y0), item.net):
            _write(found, item, box, run, room)
            found.marks.append(
                f'<path d="M{number(x)} {number(y)}L{number(x0)} {number(y0)}" fill="none" '
                'stroke="#000000" stroke-width=".07"/>'
            )
            room.add((min(x, x0), min(y, y0), max(x, x0), max(y, y0)))
            return True
        at = room.first_free(boxes, after=at)
    return False


def _points(one: g.Point, two: g.Point) -> Iterator[tuple[float, float]]:
    """Points inside of a run, from its middle outwards, clear of its ends."""
    (ax, ay), (bx, by) = one, two
    reach = max(abs(bx - ax), abs(by - ay)) / 2
    for step in _STEPS:
        if abs(step) <= reach - 0.4:
            yield (ax + bx) / 2 + (step if ay == by else 0), (ay + by) / 2 + (step if ay != by else 0)


def _write(found: Callouts, item: Quantity, box: g.Box, run: Run, room: Room) -> None:
    x, y0, end, y1 = box
    base = (y0 + y1) / 2 + SIZE * _RISE + 0.06
    shift = _ARROW[_way(run)] if item.ref else 0.0
    (ax, ay), (_, by) = run
    # The letters that are set may be narrower than their room: what is over lies away from the wire.
    anchor = "start" if item.ref else "middle" if ay == by else "end" if end < ax else "start"
    at = {"start": x + shift, "middle": (x + end) / 2, "end": end}[anchor]
    found.texts.append(Text(item.words, at, base, anchor, box, "", SIZE, "italic"))
    if item.ref:
        found.marks.append(_arrow((x + (shift - 0.15) / 2, (y0 + y1) / 2), _way(run)))
    room.add(box)


def _arrow(middle: tuple[float, float], way: g.Point) -> str:
    """A small arrow about a point."""
    (x, y), (dx, dy) = middle, way
    half = 0.55
    tip = (x + half * dx, y + half * dy)
    back = (x + (half - 0.5) * dx, y + (half - 0.5) * dy)
    left = (back[0] - 0.22 * dy, back[1] + 0.22 * dx)
    right = (back[0] + 0.22 * dy, back[1] - 0.22 * dx)
    points = " ".join(f"{number(a)},{number(b)}" for a, b in (tip, left, right))
    return (
        f'<path d="M{number(x - half * dx)} {number(y - half * dy)}L{number(back[0])} {number(back[1])}" fill="none" '
        f'stroke="#000000" stroke-width=".1"/><polygon points="{points}" fill="#000000"/>'
    )


def dc_quantities(
    drawing: Drawing, volts: Mapping[str, str], currents: Mapping[str, tuple[str, str, str, bool]]
) -> list[Quantity]:
    """The quantities of a drawing: currents first, whose places are few; then nets from the left.

    Args:
        volts: words for each net.
        currents: for each designator the words, the pin, its net, and whether the current flows into it.
    """
    found = [
        Quantity(words, net, ref, pin, inwards)
        for ref, (words, pin, net, inwards) in currents.items()
        if any(place.item.key == ref for place in drawing.placed)
    ]
    first: dict[str, g.Point] = {}
    for place in drawing.placed:
        for own in place.fit.pins:
            first.setdefault(own.net, (place.x + own.x, place.y + own.y))
    nets = [net for net in volts if net in first]
    return found + [Quantity(volts[net], net) for net in sorted(nets, key=lambda net: (first[net], net))]
