"""The cost of reaching all points at once agrees with a search for one."""

import random

import pytest

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic import routing
from topo.drawing.schematic.board import MIDDLE, Board, at
from topo.drawing.schematic.fields import FAR, Field
from topo.drawing.schematic.fitting import Fitter
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.prices import BEND, UNIT
from topo.drawing.schematic.symbols import symbol


def crowded_board(seed):
    """A board with resistors whose ends are pairs of nets of two pins."""
    rng = random.Random(seed)
    board, fitter = Board(), Fitter({})
    ends = [f"n{number // 2}" for number in range(20)]
    rng.shuffle(ends)
    for number in range(10):
        nets = {"1": ends[2 * number], "2": ends[2 * number + 1]}
        item = Item(f"R{number}", symbol("resistor"), nets, ("R1",), "resistor")
        for _ in range(200):
            fit, x, y = fitter.fit(item, rng.choice([g.PLAIN, g.RIGHT])), rng.randint(-12, 12), rng.randint(-8, 8)
            if board.hit_by(fit, x, y) == []:
                board.put(fit, x, y)
                break
    return board, sorted(set(ends))


@pytest.mark.parametrize("seed", range(12))
def test_a_wire_found_by_fields_costs_what_a_search_finds(seed, monkeypatch):
    found = []
    for states in (10**9, 0):
        monkeypatch.setattr(routing, "_FEW_STATES", states)
        board, nets = crowded_board(seed)
        # All wires but the last are laid by the same search, so that the last meets the same board.
        monkeypatch.setattr(routing, "_FEW_STATES", 10**9)
        router = routing.Router(board, routing.bounds(board))
        for net in nets[:-1]:
            router.connect(net)
        monkeypatch.setattr(routing, "_FEW_STATES", states)
        found.append(router.connect(nets[-1]))
    assert found[0] == found[1]


def one_resistor():
    board = Board()
    board.put(Fitter({}).fit(Item("R1", symbol("resistor"), {"1": "a", "2": "n"}), g.PLAIN), 0, 0)
    box = (MIDDLE - 10, MIDDLE - 10, MIDDLE + 10, MIDDLE + 10)
    return Field(board, "n", board.terminals["n"], box)


def test_a_point_straight_ahead_costs_its_distance():
    assert one_resistor().arriving(0)[10, 10 + 7] == 5 * UNIT


def test_a_point_aside_costs_a_bend():
    assert one_resistor().arriving(1)[10 + 3, 10 + 7] == 8 * UNIT + BEND


def test_a_body_cannot_be_reached():
    assert one_resistor().costs[0][10, 10] >= FAR


def test_a_way_leads_from_the_source_to_the_point():
    way = one_resistor().way(at(7, 3), 1)
    assert (way[0], way[-1], len(way)) == (at(2, 0), at(7, 3), 9)


def test_what_a_board_holds_in_arrays_is_what_it_holds_in_tables():
    board, nets = crowded_board(3)
    router = routing.Router(board, routing.bounds(board))
    for net in nets:
        router.connect(net)
    saved = board.saved_all()
    for net in nets:
        board.erase(net)
    assert not board.grid_masks.any()
    board.restore_all(saved)
    several = {point for point, here in board.wires.items() if len(here) > 1}
    assert (board.grid_masks == 255).sum() == len(several)
    assert board.grid_masks.astype(bool).sum() == len(board.wires)
    assert board.grid_covered.sum() == len(board.covered)
