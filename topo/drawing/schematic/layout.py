"""A layout under construction: where each item stands, and the board that knows what is covered and wired."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.board import Board, at
from topo.drawing.schematic.fitting import Fit, Fitter
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.prices import UNIT
from topo.drawing.schematic.routing import Router, bounds

CLEAR = 0.45
_MOST_HIT = 3
_NO_LIMIT = 1e15


@dataclass(frozen=True)
class Taste:
    """What a place costs beside its wires, in modules: each text in the way, a further level of supply or ground
    symbols, a module more of width or height."""

    crowded: float = 7.0
    level: float = 1.2
    growth: float = 0.35


@dataclass(frozen=True)
class Placed:
    """An item at its place."""

    fit: Fit
    x: int
    y: int

    @property
    def item(self) -> Item:
        """The item."""
        return self.fit.item

    def solids(self) -> list[g.Box]:
        """The boxes that nothing else may stand in."""
        return [g.moved(box, self.x, self.y) for box in self.fit.solid]

    def zones(self) -> list[g.Box]:
        """The boxes where its text is likely to go."""
        return [g.moved(box, self.x, self.y) for box in self.fit.zones]


class Layout:
    """Items placed so far, in the order of placing."""

    def __init__(self, fitter: Fitter, counts: Mapping[str, int], volts: Mapping[str, float], taste: Taste) -> None:
        self.taste = taste
        self.fitter = fitter
        self.counts = counts
        self.volts = volts
        self.board = Board()
        self.placed: list[Placed] = []
        self.ranks: dict[tuple[int, int], tuple[int, float]] = {}
        self.ranked: dict[str, int] = {}
        self.there: dict[str, int] = {}
        self.cost: dict[str, int] = {}
        self.axes: dict[int, int] = {}
        self.solids: list[g.Box] = []
        self.zones: list[g.Box] = []
        self.levels: dict[tuple[str, int], int] = {}

    # -- asking ---------------------------------------------------------------------------------------------------

    def box(self) -> g.Box:
        """The box about everything placed."""
        return g.around(self.solids)

    def free(self, places: Sequence[Placed]) -> bool:
        """Whether items can stand there: clear of all symbols that stand already, and of each other."""
        pins = [(place.x + pin.x, place.y + pin.y) for place in places for pin in place.fit.pins]
        if len(set(pins)) < len(pins):
            return False
        own = [[g.grown(box, CLEAR) for box in place.solids()] for place in places]
        for boxes in own:
            for box in boxes:
                for other in self.solids:
                    if box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]:
                        return False
        for index, boxes in enumerate(own):
            for later in places[index + 1 :]:
                if any(g.meet(box, other) for box in boxes for other in later.solids()):
                    return False
        return True

    def crowding(self, places: Sequence[Placed]) -> float:
        """The cost of texts that would lie on symbols or on other texts."""
        total = 0.0
        for place in places:
            for zone in place.zones():
                total += self.taste.crowded * sum(g.meet(zone, box) for box in self.solids)
                total += self.taste.crowded * sum(g.meet(zone, box) for box in self.zones)
            for solid in place.solids():
                total += self.taste.crowded * sum(g.meet(solid, box) for box in self.zones)
        return total

    # -- placing --------------------------------------------------------------------------------------------------

    def put(self, places: Sequence[Placed]) -> None:
        """Put items down for good, without wires."""
        for place in places:
            self.board.put(place.fit, place.x, place.y)
            self.placed.append(place)
            self.solids += place.solids()
            self.zones += place.zones()
            for pin in place.fit.pins:
                self.there[pin.net] = self.there.get(pin.net, 0) + 1
            for rail in place.fit.rails:
                key = rail.rail.symbol, place.y + rail.y
                self.levels[key] = self.levels.get(key, 0) + 1

    def remove(self, places: Sequence[Placed]) -> None:
        """Take items up again; what else is on their nets is wired anew."""
        nets = dict.fromkeys(pin.net for place in places for pin in place.fit.pins)
        for net in nets:
            self.board.erase(net)
        gone = {id(place) for place in places}
        rest = [place for place in self.placed if id(place) not in gone]
        for place in places:
            self.board.take(place.fit, place.x, place.y)
            for pin in place.fit.pins:
                self.there[pin.net] -= 1
        self.placed = rest
        self.solids = [box for place in rest for box in place.solids()]
        self.zones = [box for place in rest for box in place.zones()]
        self.levels = {}
        for place in rest:
            for rail in place.fit.rails:
                key = rail.rail.symbol, place.y + rail.y
                self.levels[key] = self.levels.get(key, 0) + 1
        router = Router(self.board, self._bounds(()))
        for net in nets:
            self.cost[net], _ = router.connect(net)

    def put_back(self, places: Sequence[Placed], wires: Mapping[str, dict[int, int]], cost: Mapping[str, int]) -> None:
        """Put items down where they stood, with the wires and costs that they had."""
        for net in wires:
            self.board.erase(net)
        self.put(places)
        for net, masks in wires.items():
            self.board.restore(net, masks)
        self.cost.update(cost)

    def saved(self) -> tuple:
        """Everything that placing changes, as `restore` takes it."""
        kept = (self.ranks, self.there, self.cost, self.axes, self.levels)
        lists = (self.placed, self.solids, self.zones)
        return self.board.saved_all(), tuple(one.copy() for one in kept), tuple(one.copy() for one in lists)

    def restore(self, saved: tuple) -> None:
        """Put everything back as it was; what was saved can be used again."""
        board, kept, lists = saved
        self.board.restore_all(board)
        self.ranks, self.there, self.cost, self.axes, self.levels = (one.copy() for one in kept)
        self.placed, self.solids, self.zones = (one.copy() for one in lists)

    def trial(self, places: Sequence[Placed], keep: bool = False, most: float = _NO_LIMIT) -> float | None:
        """What the wires would cost more with these items, in modules; None where they cannot stand there.

        Wires in the way are laid anew. The items stay, wired, if `keep` says so. The search for wires ends where they
        cost more than `most`; what is given is then above it.
        """
        hit: dict[str, None] = {}
        for place in places:
            nets = self.board.hit_by(place.fit, place.x, place.y)
            if nets is None:
                if keep:
                    raise RuntimeError(f"{place.item.key} has no room where it was to stand")
                return None
            hit.update(dict.fromkeys(nets))
        if len(hit) > _MOST_HIT and not keep:
            return None
        touched = dict(hit)
        touched.update(dict.fromkeys(pin.net for place in places for pin in place.fit.pins))
        before = {net: self.board.saved(net) for net in touched}
        for net in hit:
            self.board.erase(net)
        if keep:
            self.put(places)
        else:
            for place in places:
                self.board.put(place.fit, place.x, place.y)
        router = Router(self.board, self._bounds(places))
        change = -sum(self.cost.get(net, 0) for net in hit)
        left = math.ceil(most * UNIT)
        costs = {}
        for net in touched:
            cost, _ = router.connect(net, left - change)
            costs[net] = cost if net in hit else cost + self.cost.get(net, 0)
            change += cost
            if change > left:
                break
        if keep:
            self.cost.update(costs)
            return change / UNIT
        for net in touched:
            self.board.erase(net)
        for place in places:
            self.board.take(place.fit, place.x, place.y)
        for net, wires in before.items():
            self.board.restore(net, wires)
        return change / UNIT

    def _bounds(self, places: Sequence[Placed]) -> tuple[int, int, int, int]:
        if not self.placed:
            return bounds(self.board)
        boxes = [self.box(), *(box for place in places for box in place.solids())]
        x0, y0, x1, y1 = g.around(boxes)
        low, high = at(int(x0) - 8, int(y0) - 8), at(int(x1) + 8, int(y1) + 8)
        return low % 4096, low // 4096, high % 4096, high // 4096
