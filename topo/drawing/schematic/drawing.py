"""A finished layout as plain geometry: items at their places and the unit steps of each net's wires."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.board import Board, xy
from topo.drawing.schematic.fitting import TYPE_SIZE
from topo.drawing.schematic.layout import Placed

Edge = tuple[int, int, int]


@dataclass(frozen=True)
class Text:
    """A line of text: its baseline's anchor point in modules, "start", "middle" or "end", the box it covers, the part
    that it belongs to, its size in modules, and "italic", "bold" or "" for its style."""

    words: str
    x: float
    y: float
    anchor: str
    box: g.Box
    owner: str = ""
    size: float = TYPE_SIZE
    style: str = ""


@dataclass
class Drawing:
    """Items, wires and texts. An edge (x, y, d) goes one module to the right (d = 0) or down (d = 1).

    `twins` are keys of items drawn as mirror images of each other, with whether they stand side by side.
    """

    placed: list[Placed]
    wires: dict[str, set[Edge]]
    texts: list[Text] = field(default_factory=list)
    twins: list[tuple[str, str, bool]] = field(default_factory=list)

    def dots(self) -> list[g.Point]:
        """Where three or more wires or leads of one net meet, from the top left."""
        found = []
        for points in junctions(self).values():
            found += [point for point, count in points.items() if count >= 3]
        return sorted(found, key=lambda point: (point[1], point[0]))


def of_board(placed: Iterable[Placed], board: Board) -> Drawing:
    """The drawing of a board."""
    wires: dict[str, set[Edge]] = {}
    for net, points in board.of_net.items():
        edges = wires.setdefault(net, set())
        for point in points:
            mask = board.wires[point][net]
            x, y = xy(point)
            edges.update((x, y, step) for step in (0, 1) if mask >> step & 1)
    return Drawing(list(placed), wires)


def edge_ends(edge: Edge) -> tuple[g.Point, g.Point]:
    """The two points of an edge."""
    x, y, d = edge
    return (x, y), ((x + 1, y) if d == 0 else (x, y + 1))


def rail_edges(place: Placed) -> Iterator[Edge]:
    """The stubs between an item's pins and its rail symbols."""
    for rail in place.fit.rails:
        for (ax, ay), (bx, by) in zip(rail.wire, rail.wire[1:], strict=False):
            yield place.x + min(ax, bx), place.y + min(ay, by), 0 if ay == by else 1


def junctions(drawing: Drawing) -> dict[str, dict[g.Point, int]]:
    """For each net the number of wires and leads at each of its points."""
    found: dict[str, dict[g.Point, int]] = {}
    for net, edges in drawing.wires.items():
        points = found.setdefault(net, {})
        for edge in edges:
            for point in edge_ends(edge):
                points[point] = points.get(point, 0) + 1
    for place in drawing.placed:
        for pin in place.fit.pins:
            point = (place.x + pin.x, place.y + pin.y)
            points = found.setdefault(pin.net, {})
            points[point] = points.get(point, 0) + 1
    return found


def segments(drawing: Drawing, chosen: Callable[[Edge], bool] | None = None) -> list[tuple[g.Point, g.Point]]:
    """The wires as straight runs, divided at dots, from the top left; of chosen steps only where a choice is given."""
    found: list[tuple[g.Point, g.Point]] = []
    counts = junctions(drawing)
    for net, edges in drawing.wires.items():
        own = edges if chosen is None else {edge for edge in edges if chosen(edge)}
        found += _runs(own, {point for point, count in counts[net].items() if count >= 3})
    for place in drawing.placed:
        stubs = set(rail_edges(place))
        found += _runs(stubs if chosen is None else {edge for edge in stubs if chosen(edge)}, set())
    return sorted(found, key=lambda run: (run[0][1], run[0][0], run[1][1], run[1][0]))


def _runs(edges: set[Edge], breaks: set[g.Point]) -> Iterator[tuple[g.Point, g.Point]]:
    for direction in (0, 1):
        step = (1, 0) if direction == 0 else (0, 1)
        own = sorted(edge for edge in edges if edge[2] == direction)
        known = set(own)
        for edge in own:
            start = (edge[0], edge[1])
            before = (start[0] - step[0], start[1] - step[1], direction)
            if before in known and start not in breaks:
                continue
            end = (start[0] + step[0], start[1] + step[1])
            while end not in breaks and (*end, direction) in known:
                end = (end[0] + step[0], end[1] + step[1])
            yield start, end


def crossings(drawing: Drawing) -> list[g.Point]:
    """Where wires of two nets cross."""
    over: dict[g.Point, set[str]] = {}
    for net, edges in drawing.wires.items():
        for edge in edges:
            for point in edge_ends(edge):
                over.setdefault(point, set()).add(net)
    return sorted(point for point, nets in over.items() if len(nets) > 1)


def bends(drawing: Drawing) -> int:
    """The number of corners of all wires, leads of pins counted as wires."""
    total = 0
    ways: dict[tuple[str, g.Point], set[tuple[int, int]]] = {}
    for net, edges in drawing.wires.items():
        for edge in edges:
            one, two = edge_ends(edge)
            dx, dy = two[0] - one[0], two[1] - one[1]
            ways.setdefault((net, one), set()).add((dx, dy))
            ways.setdefault((net, two), set()).add((-dx, -dy))
    for place in drawing.placed:
        for pin in place.fit.pins:
            ways.setdefault((pin.net, (place.x + pin.x, place.y + pin.y)), set()).add((-pin.dx, -pin.dy))
    for directions in ways.values():
        if len(directions) == 2:
            one, two = sorted(directions)
            total += (one[0] + two[0], one[1] + two[1]) != (0, 0)
    return total


def fixed_boxes(place: Placed) -> list[g.Box]:
    """What an item covers with ink: its body, its leads as thin boxes, its rail symbols with their texts."""
    found = [g.moved(place.fit.body, place.x, place.y)]
    for pin in place.fit.item.symbol.pins:
        x, y = g.grid_turned(place.fit.turn, pin.x, pin.y)
        dx, dy = g.grid_turned(place.fit.turn, pin.dx, pin.dy)
        ix, iy = x - dx, y - dy
        lead = (min(x, ix) - 0.1, min(y, iy) - 0.1, max(x, ix) + 0.1, max(y, iy) + 0.1)
        found.append(g.moved(lead, place.x, place.y))
    # The boxes after the first are those of rail symbols.
    found += [g.moved(box, place.x, place.y) for box in place.fit.solid[1:]]
    for edge in rail_edges(place):
        (ax, ay), (bx, by) = edge_ends(edge)
        found.append((ax - 0.1, ay - 0.1, bx + 0.1, by + 0.1))
    return found


def whole_box(drawing: Drawing) -> g.Box:
    """The box about everything drawn."""
    boxes = [box for place in drawing.placed for box in fixed_boxes(place)]
    boxes += [text.box for text in drawing.texts]
    for edges in drawing.wires.values():
        for edge in edges:
            (ax, ay), (bx, by) = edge_ends(edge)
            boxes.append((ax, ay, bx, by))
    return g.around(boxes)


def pin_nets(drawing: Drawing) -> Mapping[tuple[str, str, str], str]:
    """The net that each pin ought to be on: designator, symbol and pin to net."""
    return {
        (place.item.key, place.item.symbol.name, pin): net
        for place in drawing.placed
        for pin, net in place.item.nets.items()
    }
