"""The grid with all that stands on it: what symbols cover, where pins are, and the wires of each net.

Points are integers (`at(x, y)`), directions are 0 to 3 (east, south, west, north); a net's wire at a point is a mask
of directions, the lead of a pin among them, so that junctions are counted by bits.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.fitting import Fit

SPAN = 4096
MIDDLE = 2048
STEPS = (1, SPAN, -1, -SPAN)
BITS = tuple(bin(mask).count("1") for mask in range(16))
_DIRECTION = {(1, 0): 0, (0, 1): 1, (-1, 0): 2, (0, -1): 3}
# What may be at a point, as bits of `Board.ink`.
COVERED, PIN, WIRE, ZONE = 1, 2, 4, 8
# The points about the middle, so many a side, are held as arrays too.
SIDE = 384
_LOW, _HIGH = MIDDLE - SIDE // 2, MIDDLE + SIDE // 2
_SEVERAL = 255


def at(x: int, y: int) -> int:
    """A grid point as an integer."""
    return (y + MIDDLE) * SPAN + x + MIDDLE


def xy(point: int) -> g.Point:
    """The coordinates of a point."""
    return point % SPAN - MIDDLE, point // SPAN - MIDDLE


def direction(dx: int, dy: int) -> int:
    """The number of a unit step."""
    return _DIRECTION[dx, dy]


class Board:
    """Everything placed and wired, with steps that can be taken back."""

    def __init__(self) -> None:
        self.ink: dict[int, int] = {}
        self.grid_covered, self.grid_pins, self.grid_zones = (np.zeros((SIDE, SIDE), dtype=bool) for _ in range(3))
        self.grid_masks = np.zeros((SIDE, SIDE), dtype=np.uint8)
        self._grids = {COVERED: self.grid_covered, PIN: self.grid_pins, ZONE: self.grid_zones}
        self.covered: dict[int, int] = {}
        self.zones: dict[int, int] = {}
        self.pins: dict[int, str] = {}
        self.leads: dict[int, int] = {}
        self.fronts: dict[int, int] = {}
        self.wires: dict[int, dict[str, int]] = {}
        self.of_net: dict[str, dict[int, None]] = {}
        self.terminals: dict[str, list[int]] = {}
        self.box = [at(0, 0) % SPAN, at(0, 0) // SPAN, at(0, 0) % SPAN, at(0, 0) // SPAN]

    def holds(self, box: tuple[int, int, int, int]) -> bool:
        """Whether the arrays have all points of a box and those about it; left, top, right, bottom in own numbers."""
        return min(box) > _LOW and max(box) < _HIGH - 1

    def saved_all(self) -> tuple[Any, ...]:
        """Everything on the board, as `restore_all` takes it."""
        flat = (self.ink, self.covered, self.zones, self.pins, self.leads, self.fronts)
        nested = (self.wires, self.of_net, self.terminals)
        grids = tuple(one.copy() for one in (self.grid_covered, self.grid_pins, self.grid_zones, self.grid_masks))
        dicts = [{key: value.copy() for key, value in one.items()} for one in nested]
        return (*(one.copy() for one in flat), *dicts, grids)

    def restore_all(self, saved: tuple[Any, ...]) -> None:
        """Put everything back as it was; what was saved can be used again."""
        self.ink, self.covered, self.zones, self.pins, self.leads, self.fronts = (one.copy() for one in saved[:6])
        self.wires, self.of_net, self.terminals = (
            {key: value.copy() for key, value in one.items()} for one in saved[6:9]
        )
        for grid, kept in zip(
            (self.grid_covered, self.grid_pins, self.grid_zones, self.grid_masks), saved[9], strict=True
        ):
            grid[:] = kept

    # -- items ----------------------------------------------------------------------------------------------------

    def put(self, fit: Fit, x: int, y: int) -> None:
        """Put an item on the board; the caller has seen to it that there is room."""
        self._count(self.covered, (at(x + a, y + b) for a, b in fit.covered), 1, COVERED)
        self._count(self.zones, self._zone_points(fit, x, y), 1, ZONE)
        self._count(self.fronts, self._front_points(fit, x, y), 1)
        for pin in fit.pins:
            point = at(x + pin.x, y + pin.y)
            self.pins[point] = pin.net
            self._note(point, PIN)
            self.leads[point] = 1 << direction(-pin.dx, -pin.dy)
            self.terminals.setdefault(pin.net, []).append(point)

    def take(self, fit: Fit, x: int, y: int) -> None:
        """Take an item off the board; wires to it must be gone."""
        self._count(self.covered, (at(x + a, y + b) for a, b in fit.covered), -1, COVERED)
        self._count(self.zones, self._zone_points(fit, x, y), -1, ZONE)
        self._count(self.fronts, self._front_points(fit, x, y), -1)
        for pin in fit.pins:
            point = at(x + pin.x, y + pin.y)
            del self.pins[point]
            self._unmark(point, PIN)
            del self.leads[point]
            self.terminals[pin.net].remove(point)

    def _count(self, where: dict[int, int], points: Iterable[int], by: int, bit: int = 0) -> None:
        for point in points:
            count = where.get(point, 0) + by
            if count:
                where[point] = count
                if bit:
                    self._note(point, bit)
            else:
                where.pop(point, None)
                if bit:
                    self._unmark(point, bit)

    def _note(self, point: int, bit: int) -> None:
        self.ink[point] = self.ink.get(point, 0) | bit
        row, column = point // SPAN - _LOW, point % SPAN - _LOW
        if 0 <= row < SIDE and 0 <= column < SIDE:
            self._grids[bit][row, column] = True

    def _unmark(self, point: int, bit: int) -> None:
        row, column = point // SPAN - _LOW, point % SPAN - _LOW
        if bit != WIRE and 0 <= row < SIDE and 0 <= column < SIDE:
            self._grids[bit][row, column] = False
        rest = self.ink.get(point, 0) & ~bit
        if rest:
            self.ink[point] = rest
        else:
            self.ink.pop(point, None)

    @staticmethod
    def _front_points(fit: Fit, x: int, y: int) -> Iterable[int]:
        return (at(x + pin.x + pin.dx, y + pin.y + pin.dy) for pin in fit.pins)

    @staticmethod
    def _zone_points(fit: Fit, x: int, y: int) -> Iterable[int]:
        for x0, y0, x1, y1 in (*fit.zones, *fit.solid[1:]):
            for a in range(-int(-x0 // 1), int(x1 // 1) + 1):
                for b in range(-int(-y0 // 1), int(y1 // 1) + 1):
                    yield at(x + a, y + b)

    # -- wires ----------------------------------------------------------------------------------------------------

    def mask(self, net: str, point: int) -> int:
        """Directions in which a net goes on from a point, leads of pins among them."""
        mask = self.wires.get(point, {}).get(net, 0)
        return mask | self.leads[point] if self.pins.get(point) == net else mask

    def draw(self, net: str, path: list[int]) -> None:
        """Add a path of unit steps to a net."""
        for one, two in pairwise(path):
            step = STEPS.index(two - one)
            self._mark(net, one, 1 << step)
            self._mark(net, two, 1 << (step + 2) % 4)

    def _mark(self, net: str, point: int, bit: int) -> None:
        here = self.wires.setdefault(point, {})
        here[net] = here.get(net, 0) | bit
        self.ink[point] = self.ink.get(point, 0) | WIRE
        self.of_net.setdefault(net, {})[point] = None
        self._note_wires(point, here)

    def _note_wires(self, point: int, here: dict[str, int]) -> None:
        row, column = point // SPAN - _LOW, point % SPAN - _LOW
        if 0 <= row < SIDE and 0 <= column < SIDE:
            self.grid_masks[row, column] = next(iter(here.values()), 0) if len(here) < 2 else _SEVERAL

    def erase(self, net: str) -> dict[int, int]:
        """Take all wires of a net away, and return them."""
        found: dict[int, int] = {}
        for point in self.of_net.pop(net, {}):
            here = self.wires[point]
            found[point] = here.pop(net)
            self._note_wires(point, here)
            if not here:
                del self.wires[point]
                self._unmark(point, WIRE)
        return found

    def restore(self, net: str, masks: dict[int, int]) -> None:
        """Put back what `erase` returned, in place of what the net has now."""
        self.erase(net)
        for point, mask in masks.items():
            self._mark(net, point, mask)

    def saved(self, net: str) -> dict[int, int]:
        """The wires of a net, as `restore` takes them."""
        return {point: self.wires[point][net] for point in self.of_net.get(net, {})}

    def groups(self, net: str) -> list[list[int]]:
        """The points of a net, those that are joined already together; the first pin's group first."""
        points = dict.fromkeys([*self.terminals.get(net, ()), *self.of_net.get(net, {})])
        found: list[list[int]] = []
        seen: set[int] = set()
        for first in points:
            if first in seen:
                continue
            group = [first]
            seen.add(first)
            for point in group:
                mask = self.wires.get(point, {}).get(net, 0)
                for step in range(4):
                    if mask >> step & 1 and (other := point + STEPS[step]) not in seen:
                        seen.add(other)
                        group.append(other)
            found.append(group)
        return found

    def hit_by(self, fit: Fit, x: int, y: int) -> list[str] | None:
        """The nets whose wires lie where an item would; None where it would cover a pin, or its pin a foreign one."""
        nets: dict[str, None] = {}
        for a, b in fit.covered:
            point = at(x + a, y + b)
            if point in self.pins or point in self.fronts:
                return None
            if point in self.wires:
                nets.update(dict.fromkeys(self.wires[point]))
        for pin in fit.pins:
            point = at(x + pin.x, y + pin.y)
            if point in self.pins or point in self.covered:
                return None
            ahead = at(x + pin.x + pin.dx, y + pin.y + pin.dy)
            if ahead in self.covered or self.pins.get(ahead, pin.net) != pin.net:
                return None
            for net in self.wires.get(point, {}):
                nets[net] = None
        return list(nets)
