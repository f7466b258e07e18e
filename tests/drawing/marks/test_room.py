"""Room for marks beside the ink of a drawing."""

import topo
from topo.drawing.marks.room import Room
from topo.drawing.schematic.engine import draw


def drawing():
    return draw(topo.loads("circuit Pair\nsupply vcc 9V\ninput in\noutput out\nR1 1k : in out\nR2 1k : out gnd\n"))


def test_what_lies_on_a_symbol_is_not_free():
    found = drawing()
    place = next(one for one in found.placed if one.item.key == "R1")
    assert not Room(found).free((place.x - 0.5, place.y - 0.2, place.x + 0.5, place.y + 0.2))


def test_what_is_far_away_is_free_until_something_is_drawn_there():
    room = Room(drawing())
    assert room.free((500, 500, 502, 501))
    room.add((501, 500, 503, 501))
    assert not room.free((500, 500, 502, 501))


def test_ink_of_the_own_net_may_be_nearer_than_other_ink():
    room = Room(drawing())
    room.add((500, 500, 510, 500.1), "own")
    box = (502, 500.3, 505, 501)
    assert room.free(box, "own")
    assert not room.free(box)


def test_the_first_free_box_is_found_after_those_that_are_not():
    room = Room(drawing())
    room.add((500, 500, 510, 501))
    boxes = [(501, 500, 502, 501)] * 300 + [(600, 0, 601, 1), (700, 0, 701, 1)]
    assert room.first_free(boxes) == 300
    assert room.first_free(boxes, after=300) == 301
    assert room.first_free(boxes, after=301) is None


def test_a_line_may_meet_the_wire_that_it_ends_on_and_no_other():
    room = Room(drawing())
    room.add((500, 500, 510, 500.2), "own")
    assert room.free_line((505, 503), (505, 500.1), "own")
    assert not room.free_line((505, 503), (505, 499.9), "other")
    assert not room.free_line((505, 503), (505, 497), "own")
