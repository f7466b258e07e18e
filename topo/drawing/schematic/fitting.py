"""An item in one of its positions: pins, rail symbols with their stubs, what it covers, and where its text may go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from topo.drawing.lettering import width
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.items import Item, Rail
from topo.drawing.schematic.symbols import Pin, Symbol, symbol

TYPE_SIZE = 1.15
LINE = 1.35
_STUB, _LONGEST_STUB = 2, 8
_APART = 0.45


@dataclass(frozen=True)
class PinPlace:
    """A pin that is to be wired: name, place and direction relative to the item's origin, and net."""

    name: str
    x: int
    y: int
    dx: int
    dy: int
    net: str


@dataclass(frozen=True)
class RailPlace:
    """A rail symbol that goes with the item, and the wire from the pin to it."""

    rail: Rail
    x: int
    y: int
    wire: tuple[g.Point, ...]
    turn: g.Turn = g.PLAIN


@dataclass(frozen=True)
class Fit:
    """An item in one position, relative to its origin."""

    item: Item
    turn: g.Turn
    pins: tuple[PinPlace, ...]
    rails: tuple[RailPlace, ...]
    body: g.Box
    solid: tuple[g.Box, ...]
    covered: tuple[g.Point, ...]
    zones: tuple[g.Box, ...]
    upright: bool


class Fitter:
    """Makes fits, once for each item and position."""

    def __init__(self, rails: Mapping[str, Rail]) -> None:
        self.rails = rails
        self._made: dict[tuple[int, g.Turn], Fit] = {}

    def fit(self, item: Item, turn: g.Turn) -> Fit:
        """An item in a position."""
        key = (id(item), turn)
        if key not in self._made:
            self._made[key] = self._make(item, turn)
        return self._made[key]

    def _make(self, item: Item, turn: g.Turn) -> Fit:
        pins: list[PinPlace] = []
        rails: list[RailPlace] = []
        body = g.box_turned(turn, item.symbol.body)
        solid = [leads(item.symbol, turn)]
        for pin in item.symbol.pins:
            if pin.name not in item.nets:
                continue
            x, y = g.grid_turned(turn, pin.x, pin.y)
            dx, dy = g.grid_turned(turn, pin.dx, pin.dy)
            rail = self.rails.get(item.nets[pin.name])
            if rail is None:
                pins.append(PinPlace(pin.name, x, y, dx, dy, item.nets[pin.name]))
                continue
            if rail.symbol == "flag":
                away = _AWAY[dx, dy]
                rails.append(RailPlace(rail, x, y, ((x, y),), away))
                solid.append(g.moved(flag_box(rail, dx, dy), x, y))
                continue
            wire = self._stub(item, turn, pin, rail)
            rails.append(RailPlace(rail, *wire[-1], wire))
            solid.append(g.moved(rail_box(rail), *wire[-1]))
        covered = _covered(body, item.symbol, turn, rails)
        upright = item.two_ended and bool(turn[1])
        zones = _zones(item, body, upright)
        return Fit(item, turn, tuple(pins), tuple(rails), body, tuple(solid), covered, zones, upright)

    def _stub(self, item: Item, turn: g.Turn, pin: Pin, rail: Rail) -> tuple[g.Point, ...]:
        """The wire from a pin to its rail symbol, so long that its text is clear of those right at other pins."""
        wanted = -1 if rail.symbol == "plus" else 1
        place, out = g.grid_turned(turn, pin.x, pin.y), g.grid_turned(turn, pin.dx, pin.dy)
        others = []
        for other in item.symbol.pins:
            own = self.rails.get(item.nets.get(other.name, ""))
            if other is pin or own is None or own.symbol == "flag":
                continue
            if g.grid_turned(turn, other.dx, other.dy) == (0, -1 if own.symbol == "plus" else 1):
                others.append(g.moved(rail_box(own), *g.grid_turned(turn, other.x, other.y)))
        wire = _to_rail(place, out, wanted, _STUB)
        for length in range(_STUB + 1, _LONGEST_STUB + 1):
            box = g.grown(g.moved(rail_box(rail), *wire[-1]), _APART)
            if not out[0] or not any(g.meet(box, other) for other in others):
                break
            wire = _to_rail(place, out, wanted, length)
        return wire


def leads(art: Symbol, turn: g.Turn) -> g.Box:
    """The box of a symbol with its leads."""
    box = g.around([art.body, *((pin.x, pin.y, pin.x, pin.y) for pin in art.pins)])
    return g.box_turned(turn, box)


def rail_box(rail: Rail) -> g.Box:
    """The box of a rail symbol with its text, about its pin."""
    half = max(0.9, width(rail.text, TYPE_SIZE) / 2) if rail.text else 1
    if rail.symbol == "ground":
        return -1, 0, 1, 1.3
    if rail.symbol == "plus":
        return -half, -0.9 - TYPE_SIZE, half, 0
    return -half, 0, half, 1.1 + TYPE_SIZE


_AWAY = {(-1, 0): g.PLAIN, (1, 0): g.HALF, (0, -1): g.RIGHT, (0, 1): g.LEFT}


def flag_box(rail: Rail, dx: int, dy: int) -> g.Box:
    """The box of a flag with its text, about its pin, for a pin that looks along (dx, dy)."""
    wide = text_width(rail.text) + 0.3
    if dx:
        return (0, -0.8, 2.6 + wide, 0.8) if dx > 0 else (-2.6 - wide, -0.8, 0, 0.8)
    return (-wide / 2, -2.7 - LINE, wide / 2, 0) if dy < 0 else (-wide / 2, 0, wide / 2, 2.7 + LINE)


def _to_rail(pin: g.Point, out: tuple[int, int], wanted: int, length: int) -> tuple[g.Point, ...]:
    """The grid points from a pin to its rail symbol, which stands upright whatever way the pin looks."""
    x, y = pin
    if out == (0, wanted):
        return (pin,)
    if out[0]:
        return tuple((x + step * out[0], y) for step in range(length + 1))
    return (pin, (x, y - wanted), (x + 1, y - wanted), (x + 2, y - wanted))


def _covered(body: g.Box, art: Symbol, turn: g.Turn, rails: list[RailPlace]) -> tuple[g.Point, ...]:
    """The grid points that no wire may use: body, leads inside of the pins, rail symbols with stubs and texts."""
    points = set(_points_within(g.grown(body, 0.3)))
    words: set[g.Point] = set()
    kept: set[g.Point] = set()
    for pin in art.pins:
        x, y = g.grid_turned(turn, pin.x, pin.y)
        dx, dy = g.grid_turned(turn, pin.dx, pin.dy)
        points.discard((x, y))
        kept.update({(x, y), (x + dx, y + dy)})
        for step in range(1, 4):
            at = (x - step * dx, y - step * dy)
            if at in points:
                break
            points.add(at)
    for place in rails:
        points.update(place.wire)
        if place.rail.symbol == "flag":
            ax, ay = g.grid_turned(place.turn, -1, 0)
            points.update({(place.x + ax, place.y + ay), (place.x + 2 * ax, place.y + 2 * ay)})
            words.update(_points_within(g.moved(flag_box(place.rail, ax, ay), place.x, place.y)))
            continue
        down = -1 if place.rail.symbol == "plus" else 1
        points.update({(place.x, place.y), (place.x - 1, place.y + down), (place.x, place.y + down)})
        points.add((place.x + 1, place.y + down))
        if place.rail.text:
            x0, y0, x1, y1 = g.moved(rail_box(place.rail), place.x, place.y)
            words.update(_points_within((x0, y0, x1, y1 - 0.5) if down < 0 else (x0, y0 + 0.5, x1, y1)))
    return tuple(sorted(points | words - kept))


def _points_within(box: g.Box) -> Iterator[g.Point]:
    """The grid points in a box and on its edge."""
    x0, y0, x1, y1 = box
    for x in range(_ceil(x0), int(x1 // 1) + 1):
        for y in range(_ceil(y0), int(y1 // 1) + 1):
            yield x, y


def _ceil(value: float) -> int:
    return -int(-value // 1)


@lru_cache(maxsize=4096)
def text_width(text: str) -> float:
    """Width of a text in modules, at the drawing's type size."""
    return width(text, TYPE_SIZE)


def _zones(item: Item, body: g.Box, upright: bool) -> tuple[g.Box, ...]:
    """Where the text of an item is likely to go."""
    if not item.lines:
        return ()
    wide = max(text_width(line) for line in item.lines)
    tall = LINE * len(item.lines)
    x0, y0, x1, y1 = body
    middle = (x0 + x1) / 2
    if item.symbol.name in ("port", "flag"):
        return ((x0 - 0.3 - wide, -0.7, x0, 0.7),) if x1 <= 0 else ((x1, -0.7, x1 + 0.3 + wide, 0.7),)
    if upright or (item.kind not in ("transformer",) and len(item.symbol.pins) == 3 and item.symbol.name[0] != "o"):
        return ((x1 + 0.4, -tall / 2, x1 + 0.4 + wide, tall / 2),)
    if item.two_ended and len(item.lines) == 2:
        return (
            (middle - wide / 2, y0 - 0.3 - LINE, middle + wide / 2, y0 - 0.2),
            (middle - wide / 2, y1 + 0.2, middle + wide / 2, y1 + 0.3 + LINE),
        )
    return ((middle - wide / 2, y0 - 0.3 - tall, middle + wide / 2, y0 - 0.2),)


def rail_symbol(rail: Rail) -> Symbol:
    """The symbol of a rail."""
    return symbol(rail.symbol)
