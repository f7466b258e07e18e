"""Blocks as tinted regions behind the circuit, each with its name where there is room for all of them.

A region is made of squares of half a module: those under its parts, then what else of the box about them is nobody's
and broad enough to be seen. No square is in two regions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from topo.drawing.lettering import lines, width
from topo.drawing.marks.room import Room
from topo.drawing.marks.sums import Sums
from topo.drawing.palette import EDGES, TINTS
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Text, edge_ends, fixed_boxes
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.writing import number

SIZE = 1.0
_TIE = "\N{NO-BREAK SPACE}"
LEADING = 1.25
_LEAST_ROOM = 10.0
_GRAIN = 2
"""Squares to a module."""
_INSET = 0.15
_ROUND = 0.7
_ABOUT = 0.5
_FAR = 8
"""Squares: parts of one block with more than so much between them are no neighbours."""
_BROAD = 5
"""Squares: what is narrower and holds no ink is left out of a region."""

Cell = tuple[int, int]


@dataclass(frozen=True)
class Area:
    """A block to be tinted: its number, name, sort and the designators drawn."""

    number: int
    name: str
    sort: str
    parts: tuple[str, ...]


@dataclass
class Tinting:
    """SVG elements beneath the circuit, captions, the key beneath the figure, and the box about it all."""

    under: list[str] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    key: list[str] = field(default_factory=list)


def tint(drawing: Drawing, areas: Sequence[Area], room: Room) -> Tinting:
    """Regions and captions of some areas; where not every name finds room, numbers and a key in their place."""
    regions = _regions(drawing, areas)
    for text in drawing.texts:
        if not text.owner:
            _keep_whole(regions, text.box)
    shown = [area for area in areas if regions[area.number]]
    found = Tinting()
    named = _captions(shown, regions, room, named=True)
    if len(named) < len(shown):
        named = _captions(shown, regions, room, named=False)
        found.key = [f"{area.number}{_TIE}{area.name}" for area in shown]
    for area in shown:
        texts = named.get(area.number, [])
        for text in texts:
            room.add(text.box)
            found.texts.append(text)
            _include(regions, area.number, text.box)
        sort = area.sort if area.sort in EDGES else "stage"
        path = "".join(_outline(loop) for loop in _loops(regions[area.number]))
        found.under.append(
            f'<path class="block" d="{path}" fill="{TINTS[sort]}" stroke="{EDGES[sort]}" stroke-width=".06"/>'
        )
    return found


# -- regions ----------------------------------------------------------------------------------------------------------


def _regions(drawing: Drawing, areas: Sequence[Area]) -> dict[int, set[Cell]]:
    """The squares of each area."""
    owner = {ref: area.number for area in areas for ref in area.parts}
    ink: dict[Cell, tuple[float, int]] = {}
    texts: dict[str, list[g.Box]] = {}
    for text in drawing.texts:
        texts.setdefault(text.owner, []).append(text.box)
    for place in drawing.placed:
        number_ = owner.get(place.item.key, 0)
        if place.item.kind == "ground" or not place.item.key:
            number_ = _owner_of_ground(drawing, place, owner)
        elif place.item.kind in ("flag", "supply"):
            number_ = _owner_beside(drawing, place, owner)
        for box in [*fixed_boxes(place), *texts.get(place.item.key or "-", ())]:
            _claim(ink, box, number_)
    inner = _inner_nets(drawing, owner)
    for net, number_ in inner.items():
        for edge in drawing.wires.get(net, ()):
            (ax, ay), (bx, by) = edge_ends(edge)
            _claim(ink, (ax, ay, bx, by), number_, 0.3)
    regions: dict[int, set[Cell]] = {area.number: set() for area in areas}
    for cell, (_, number_) in ink.items():
        if number_:
            regions[number_].add(cell)
    taken = set(ink)
    for number_ in sorted(regions, key=lambda item: (_size(regions[item]), item)):
        cells = regions[number_]
        own = set(cells)
        for group in _clusters(own):
            _fill(group, taken)
            cells |= group
        regions[number_] = _without_slivers(cells, own)
        taken -= cells - regions[number_]
    return regions


def _keep_whole(regions: dict[int, set[Cell]], box: g.Box) -> None:
    """Give a text that lies in several regions, or on the edge of one, to the one that has most of it."""
    squares = set(_squares(_fine(g.grown(box, 0.2))))
    shares = {number_: len(squares & cells) for number_, cells in regions.items()}
    most = max(shares.values(), default=0)
    if most:
        first = next(number_ for number_, share in shares.items() if share == most)
        for number_, cells in regions.items():
            if number_ == first:
                cells |= squares
            else:
                cells -= squares


def _clusters(cells: set[Cell]) -> list[set[Cell]]:
    """Squares in groups that stand far from one another."""
    coarse: dict[Cell, set[Cell]] = {}
    for x, y in cells:
        coarse.setdefault((x // _FAR, y // _FAR), set()).add((x, y))
    found: list[set[Cell]] = []
    left = sorted(coarse)
    while left:
        front = [left.pop(0)]
        for x, y in front:
            near = [other for other in left if abs(other[0] - x) <= 1 and abs(other[1] - y) <= 1]
            front += near
            left = [other for other in left if other not in near]
        found.append({cell for block in front for cell in coarse[block]})
    return found


def _without_slivers(cells: set[Cell], ink: set[Cell]) -> set[Cell]:
    """A region without those of its squares that hold no ink and are in none of its broad places."""
    found = set(ink)
    for x, y in cells:
        block = [(x + a, y + b) for a in range(_BROAD) for b in range(_BROAD)]
        if all(cell in cells for cell in block):
            found.update(block)
    return _about(ink, found)


def _about(ink: set[Cell], cells: set[Cell]) -> set[Cell]:
    """The squares that hang together with ink."""
    front = sorted(ink & cells)
    found = set(front)
    for x, y in front:
        for near in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)):
            if near in cells and near not in found:
                found.add(near)
                front.append(near)
    return found


def _owner_of_ground(drawing: Drawing, ground, owner: Mapping[str, int]) -> int:
    nets = {pin.net for pin in ground.fit.pins}
    keys = {place.item.key for place in drawing.placed for pin in place.fit.pins if pin.net in nets}
    numbers = {owner.get(key, 0) for key in keys if key}
    return numbers.pop() if len(numbers) == 1 else 0


def _owner_beside(drawing: Drawing, flag: Placed, owner: Mapping[str, int]) -> int:
    """The area of the part that is joined to a flag or a supply's symbol and stands nearest to it."""
    (end,) = flag.fit.pins
    near = [
        (abs(place.x + pin.x - flag.x - end.x) + abs(place.y + pin.y - flag.y - end.y), number_)
        for number_, place in enumerate(drawing.placed)
        for pin in place.fit.pins
        if pin.net == end.net and place.item.kind not in ("flag", "supply")
    ]
    return owner.get(drawing.placed[min(near)[1]].item.key, 0) if near else 0


def _inner_nets(drawing: Drawing, owner: Mapping[str, int]) -> dict[str, int]:
    """The nets that join parts of one area only."""
    found: dict[str, set[int]] = {}
    for place in drawing.placed:
        for pin in place.fit.pins:
            if place.item.key:
                found.setdefault(pin.net, set()).add(owner.get(place.item.key, 0))
    return {net: next(iter(numbers)) for net, numbers in found.items() if len(numbers) == 1 and 0 not in numbers}


def _claim(ink: dict[Cell, tuple[float, int]], box: g.Box, number_: int, about: float = _ABOUT) -> None:
    """Squares under a box go to its owner, unless somebody else's ink fills more of them."""
    about *= _GRAIN
    box = _fine(box)
    for x, y in _squares(g.grown(box, about)):
        across = min(x + 1, box[2]) - max(x, box[0])
        down = min(y + 1, box[3]) - max(y, box[1])
        # Ink outweighs nearness; of two that are near, the nearer has the square.
        share = max(across, 0.0) * max(down, 0.0) or 0.01 / (1.0 + max(-across, -down, 0.0))
        if share > ink.get((x, y), (0.0, 0))[0]:
            ink[x, y] = (share, number_)


def _fine(box: g.Box) -> g.Box:
    """A box counted in squares."""
    return box[0] * _GRAIN, box[1] * _GRAIN, box[2] * _GRAIN, box[3] * _GRAIN


def _squares(box: g.Box) -> Iterator[Cell]:
    """The squares that a box, counted in squares, lies on."""
    for x in range(int(box[0] // 1), int(-(-box[2] // 1))):
        for y in range(int(box[1] // 1), int(-(-box[3] // 1))):
            yield x, y


def _size(cells: set[Cell]) -> int:
    if not cells:
        return 0
    x0, y0, x1, y1 = _span(cells)
    return (x1 - x0 + 1) * (y1 - y0 + 1)


def _span(cells: set[Cell]) -> tuple[int, int, int, int]:
    xs, ys = [x for x, _ in cells], [y for _, y in cells]
    return min(xs), min(ys), max(xs), max(ys)


def _fill(cells: set[Cell], taken: set[Cell]) -> None:
    """Add what is nobody's in the box about a region, row by row and column by column outwards from what it has."""
    if not cells:
        return
    x0, y0, x1, y1 = _span(cells)
    for _ in range(2):
        for steps in (((1, 0), (-1, 0)), ((0, 1), (0, -1))):
            for cell in sorted(cells):
                for dx, dy in steps:
                    x, y = cell[0] + dx, cell[1] + dy
                    while x0 <= x <= x1 and y0 <= y <= y1 and (x, y) not in taken:
                        cells.add((x, y))
                        taken.add((x, y))
                        x, y = x + dx, y + dy


def _include(regions: dict[int, set[Cell]], number_: int, box: g.Box) -> None:
    """Add the squares under a caption that are nobody's."""
    others = {cell for other, cells in regions.items() if other != number_ for cell in cells}
    regions[number_].update(cell for cell in _squares(_fine(g.grown(box, 0.4))) if cell not in others)


# -- outlines ---------------------------------------------------------------------------------------------------------


def _loops(cells: set[Cell]) -> Iterator[list[Cell]]:
    """The closed lines about a set of squares, the region to the right of each, corners only."""
    onward: dict[Cell, list[Cell]] = {}
    for x, y in sorted(cells):
        sides = (
            ((x, y - 1), (x, y), (x + 1, y)),
            ((x + 1, y), (x + 1, y), (x + 1, y + 1)),
            ((x, y + 1), (x + 1, y + 1), (x, y + 1)),
            ((x - 1, y), (x, y + 1), (x, y)),
        )
        for beyond, start, end in sides:
            if beyond not in cells:
                onward.setdefault(start, []).append(end)
    while onward:
        first = here = min(onward)
        way = (1, 0)
        points: list[Cell] = []
        while True:
            ends = onward[here]
            # Where two squares meet by a corner only, the line turns to the right, about its own square.
            end = min(ends, key=lambda point: _turn(way, (point[0] - here[0], point[1] - here[1])))
            ends.remove(end)
            if not ends:
                del onward[here]
            step = (end[0] - here[0], end[1] - here[1])
            if step != way or not points:
                points.append(here)
            way, here = step, end
            if here == first:
                break
        if len(points) > 3:
            yield points


def _turn(way: Cell, step: Cell) -> int:
    """0 for a turn to the right, 1 straight on, 2 to the left."""
    cross = way[0] * step[1] - way[1] * step[0]
    return 1 - cross


def _outline(points: list[Cell]) -> str:
    """A closed line drawn a little inside of its squares, with rounded corners."""
    inner: list[tuple[float, float]] = []
    for before, here, after in zip(points[-1:] + points[:-1], points, points[1:] + points[:1], strict=True):
        one, two = _unit(before, here), _unit(here, after)
        # The region lies to the right of the way: inwards is that side of both lines.
        x, y = here[0] / _GRAIN, here[1] / _GRAIN
        inner.append((x - _INSET * (one[1] + two[1]), y + _INSET * (one[0] + two[0])))
    parts = []
    for index, corner in enumerate(inner):
        last, next_ = inner[index - 1], inner[(index + 1) % len(inner)]
        one, two = _unit(last, corner), _unit(corner, next_)
        half = min(_ROUND, _far(last, corner) / 2, _far(corner, next_) / 2)
        start = (corner[0] - half * one[0], corner[1] - half * one[1])
        end = (corner[0] + half * two[0], corner[1] + half * two[1])
        sweep = 1 if one[0] * two[1] - one[1] * two[0] > 0 else 0
        lead = "L" if index else "M"
        parts.append(
            f"{lead}{number(start[0])} {number(start[1])}"
            f"A{number(half)} {number(half)} 0 0 {sweep} {number(end[0])} {number(end[1])}"
        )
    return "".join(parts) + "Z"


def _far(one: tuple[float, float], two: tuple[float, float]) -> float:
    return abs(two[0] - one[0]) + abs(two[1] - one[1])


def _unit(one: tuple[float, float], two: tuple[float, float]) -> tuple[float, float]:
    dx, dy = two[0] - one[0], two[1] - one[1]
    size = abs(dx) + abs(dy)
    return dx / size, dy / size


# -- captions ---------------------------------------------------------------------------------------------------------


def _captions(
    areas: Sequence[Area], regions: Mapping[int, set[Cell]], room: Room, *, named: bool
) -> dict[int, list[Text]]:
    """The captions that found a place, by number of the area; none lies on another."""
    found: dict[int, list[Text]] = {}
    boxes: list[g.Box] = []
    everywhere = {cell: number_ for number_, cells in regions.items() for cell in cells}
    # Those with the least room of their own choose first.
    for area in sorted(areas, key=lambda item: (len(regions[item.number]), item.number)):
        words = area.name if named else str(area.number)
        for box, broken in _places(words, regions[area.number]):
            mine = all(everywhere.get(cell, area.number) == area.number for cell in _squares(_fine(box)))
            if mine and room.free(box, far=0.25) and not any(g.meet(g.grown(box, 0.4), other) for other in boxes):
                boxes.append(box)
                found[area.number] = list(_set(broken, box))
                break
    return found


def _set(broken: Sequence[str], box: g.Box) -> Iterator[Text]:
    for index, line in enumerate(broken):
        top = box[1] + LEADING * index
        line_box = (box[0], top, box[0] + width(line, SIZE, bold=True), top + SIZE)
        yield Text(line, box[0], top + 0.8 * SIZE, "start", line_box, "", SIZE, "bold")


def _places(words: str, cells: set[Cell]) -> Iterator[tuple[g.Box, list[str]]]:
    """Where a caption may stand: in the corners and along the edges of its region, then just outside of it."""
    x0, y0, x1, y1 = (item / _GRAIN for item in _span(cells))
    x1, y1 = x1 + 1 / _GRAIN, y1 + 1 / _GRAIN
    sums = Sums(cells)
    broken_already: set[tuple[str, ...]] = set()
    found: list[tuple[float, g.Box, list[str]]] = []
    for order, share in enumerate((1.0, 0.75, 0.5, 0.35)):
        broken = lines(words, SIZE, max(_LEAST_ROOM, share * (x1 - x0)), bold=True)
        if tuple(broken) in broken_already or any(line.endswith("…") for line in broken):
            continue
        broken_already.add(tuple(broken))
        wide = max(width(line, SIZE, bold=True) for line in broken)
        tall = LEADING * (len(broken) - 1) + SIZE
        for x, y in _corners(x0, y0, x1 - wide, y1 - tall, tall):
            box = (x, y, x + wide, y + tall)
            within = sums.share(_fine(box))
            if within or sums.share(_fine(g.grown(box, 0.6))):
                aside = min(abs(x - x0), abs(x1 - wide - x))
                far = min(abs(y - y0), abs(y1 - tall - y) + 1.0) + 0.3 * aside
                found.append((3.0 * order + 10.0 * (1 - within) + far, box, broken))
    found.sort(key=lambda item: item[:2])
    yield from ((box, broken) for _, box, broken in found)


def _corners(x0: float, y0: float, x1: float, y1: float, tall: float) -> Iterator[tuple[float, float]]:
    """Upper left corners of a caption in and about a region; (x1, y1) is the last that lies inside."""
    columns = [x0 + 0.4 + step / 2 for step in range(-4, max(0, int(2 * (x1 - x0))) + 4)]
    rows = [y0 + 0.4 + step / 2 for step in range(max(0, int(2 * (y1 - y0))))]
    for y in [*rows, y1 - 0.4, y0 - tall - 0.2, y1 + tall + 0.2]:
        for x in [*columns, x1 - 0.4]:
            yield x, y
