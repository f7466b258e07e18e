"""Wires of mirrored nets as images of each other: the cheaper of two is copied where the other side has room for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.drawing.schematic.board import BITS, Board, at, xy
from topo.drawing.schematic.mirroring import Symmetry
from topo.drawing.schematic.prices import BEND, CROSSING, TEE, UNIT

_STRAIGHT = (5, 10)
# A little more wire is worth it that both sides look alike.
_WORTH = 2 * BEND

Wires = dict[int, int]


def reflect_wires(board: Board, lines: Sequence[Symmetry], axes: Mapping[int, int]) -> None:
    """Give each pair of mirrored nets wires that are images of each other, where that costs next to nothing."""
    for number, line in enumerate(lines):
        if number not in axes:
            continue
        for net, image in line.nets.items():
            if net < image and board.terminals.get(net) and board.terminals.get(image):
                _reflect(board, net, image, axes[number], line.sideways)


def _reflect(board: Board, one: str, two: str, axis: int, sideways: bool) -> None:
    pins = {_image(point, axis, sideways) for point in board.terminals[one]}
    if pins != set(board.terminals[two]):
        return
    first, second = board.saved(one), board.saved(two)
    copies = (_mirrored(first, axis, sideways), _mirrored(second, axis, sideways))
    if copies[0] == second:
        return
    now = _cost(board, one, first) + _cost(board, two, second)
    best: tuple[int, Wires, Wires] | None = None
    for wires, other in ((first, copies[0]), (copies[1], second)):
        board.erase(one)
        board.erase(two)
        if _fits(board, one, wires):
            board.restore(one, wires)
            if _fits(board, two, other):
                board.restore(two, other)
                cost = _cost(board, one, wires) + _cost(board, two, other)
                if best is None or cost < best[0]:
                    best = (cost, wires, other)
    if best is None or best[0] > now + _WORTH:
        best = (now, first, second)
    board.restore(one, best[1])
    board.restore(two, best[2])


def _image(point: int, axis: int, sideways: bool) -> int:
    x, y = xy(point)
    return at(2 * axis - x, y) if sideways else at(x, 2 * axis - y)


def _mirrored(wires: Wires, axis: int, sideways: bool) -> Wires:
    kept, one, other = (10, 0, 2) if sideways else (5, 1, 3)
    return {
        _image(point, axis, sideways): mask & kept | (mask >> one & 1) << other | (mask >> other & 1) << one
        for point, mask in wires.items()
    }


def _fits(board: Board, net: str, wires: Wires) -> bool:
    """Whether wires can lie there: over nothing but straight wires square to them."""
    for point, mask in wires.items():
        if point in board.covered or board.pins.get(point, net) != net:
            return False
        here = {other: found for other, found in board.wires.get(point, {}).items() if other != net}
        if here and (len(here) > 1 or mask not in _STRAIGHT or next(iter(here.values())) != 15 - mask):
            return False
    return True


def _cost(board: Board, net: str, wires: Wires) -> int:
    total = 0
    for point, own in wires.items():
        mask = own | board.leads[point] if board.pins.get(point) == net else own
        total += UNIT * (own & 1) + UNIT * (own >> 1 & 1)
        total += BEND if BITS[mask] == 2 and mask not in _STRAIGHT else 0
        total += TEE if BITS[mask] > 2 else 0
        total += CROSSING * (len(board.wires.get(point, {net: 0})) - (net in board.wires.get(point, {net: 0})))
    return total
