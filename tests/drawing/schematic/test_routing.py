"""The router on small boards."""

import pytest

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.board import Board, at, xy
from topo.drawing.schematic.fitting import Fitter
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.prices import BEND, CROSSING, UNIT
from topo.drawing.schematic.routing import Router, bounds
from topo.drawing.schematic.symbols import symbol


def board_with(*resistors):
    """A board with resistors: nets of the two ends, place, position."""
    board = Board()
    for one, two, x, y, turn in resistors:
        item = Item(f"R{len(board.pins)}", symbol("resistor"), {"1": one, "2": two})
        board.put(Fitter({}).fit(item, turn), x, y)
    return board, Router(board, bounds(board))


def test_a_straight_wire_costs_its_length():
    board, router = board_with(("a", "n", 0, 0, g.PLAIN), ("n", "b", 9, 0, g.PLAIN))
    assert router.connect("n") == (5 * UNIT, 0)
    assert sorted(xy(point) for point in board.of_net["n"]) == [(x, 0) for x in range(2, 8)]


def test_a_step_aside_takes_two_bends():
    _, router = board_with(("a", "n", 0, 0, g.PLAIN), ("n", "b", 9, 3, g.PLAIN))
    assert router.connect("n") == (8 * UNIT + 2 * BEND, 0)


def test_a_pin_that_looks_away_takes_four_bends():
    board, router = board_with(("n", "a", 0, 0, g.PLAIN), ("b", "n", 9, 0, g.PLAIN))
    cost, failed = router.connect("n")
    assert failed == 0
    length = sum(mask & 1 for mask in board.saved("n").values()) + sum(
        mask >> 1 & 1 for mask in board.saved("n").values()
    )
    assert cost >= length * UNIT + 4 * BEND


def test_a_wire_that_would_cost_more_than_is_allowed_is_not_laid():
    board, router = board_with(("a", "n", 0, 0, g.PLAIN), ("n", "b", 9, 3, g.PLAIN))
    cost, _ = router.connect("n", 8 * UNIT)
    assert cost > 8 * UNIT
    assert "n" not in board.of_net


def test_a_wire_that_costs_just_what_is_allowed_is_laid():
    board, router = board_with(("a", "n", 0, 0, g.PLAIN), ("n", "b", 9, 3, g.PLAIN))
    assert router.connect("n", 8 * UNIT + 2 * BEND) == (8 * UNIT + 2 * BEND, 0)
    assert "n" in board.of_net


def test_a_wire_crosses_another_only_square_to_it():
    board, router = board_with(
        ("a", "n", 0, 0, g.PLAIN),
        ("n", "b", 12, 0, g.PLAIN),
        ("c", "m", 6, -22, g.RIGHT),
        ("m", "d", 6, 22, g.RIGHT),
    )
    router.connect("m")
    cost, failed = router.connect("n")
    assert (cost, failed) == (8 * UNIT + CROSSING, 0)
    assert board.wires[at(6, 0)] == {"m": 10, "n": 5}


@pytest.mark.parametrize("turn", [g.PLAIN, g.RIGHT])
def test_what_an_item_covers_is_free_again_when_it_is_taken_up(turn):
    board, _ = board_with(("a", "n", 0, 0, g.PLAIN))
    before = dict(board.ink)
    fit = Fitter({}).fit(Item("R9", symbol("resistor"), {"1": "n", "2": "b"}), turn)
    board.put(fit, 8, 1)
    board.draw("n", [at(2, 0), at(3, 0), at(4, 0)])
    assert board.ink != before
    board.erase("n")
    board.take(fit, 8, 1)
    assert board.ink == before
