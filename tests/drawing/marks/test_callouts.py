"""Volts and currents beside wires."""

import re

import pytest

import topo
from topo.drawing import figure
from topo.drawing.schematic import geometry as g

STAGE = """
supply vcc 9V
input in
output out
device q npn IS=10fA hFE=200
C1 10u : in b
R1 100k : vcc b
R2 22k : b gnd
R3 2k2 : vcc out
R4 470 : e gnd
Q1 q : b=b c=out e=e
"""
GUESSED = STAGE.replace("Q1 q", "Q1 npn")


def texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_each_net_has_its_volts_and_each_device_its_current():
    reading = topo.read(topo.loads(STAGE))
    point = reading.views.point

    found = figure(reading, values="dc")

    words = " ".join(texts(found.svg))
    for net in ("b", "e", "out"):
        assert topo.quantities.show(point.voltage(net), "V") in words
    assert topo.quantities.show(point.current("Q1"), "A", 2) in words
    assert found.values()["volts"]["e"] == pytest.approx(point.voltage("e"), rel=1e-3)
    assert found.metrics.text_overlaps == 0


def test_what_rests_on_an_assumed_value_is_marked_and_the_mark_explained():
    given = figure(topo.read(topo.loads(STAGE)), values="dc")
    guessed = figure(topo.read(topo.loads(GUESSED)), values="dc")

    assert not any(words.endswith("*") for words in texts(given.svg))
    assert any(words.endswith("V*") for words in texts(guessed.svg))
    assert any("assumed values of Q1" in note for note in guessed.notes)
    assert "Q1" in guessed.values()["assumed"]


def test_a_circuit_without_an_operating_point_says_what_is_missing():
    reading = topo.read(topo.loads(STAGE.replace("R4 470", "R4")))

    found = figure(reading, values="dc")

    assert any("R4" in note for note in found.notes)


@pytest.mark.parametrize("detail", ("whole", "principle"))
def test_call_outs_lie_on_nothing(detail):
    from topo.drawing.marks.marking import marked
    from topo.drawing.marks.room import Room
    from topo.drawing.schematic.engine import draw

    reading = topo.read(topo.loads(STAGE))
    circuit = topo.reduce(reading, detail).circuit
    drawing = draw(circuit)
    marks = marked(drawing, reading, circuit, {}, blocks=False, values="dc")

    own = [text for text in marks.drawing.texts if text.style == "italic"]
    rest = [text for text in marks.drawing.texts if text.style != "italic"]
    bare = Room(type(drawing)(marks.drawing.placed, marks.drawing.wires, rest))
    assert own
    for text in own:
        assert bare.free(text.box, far=0.05)
        assert not any(g.meet(text.box, other.box) for other in own if other is not text)


def test_volts_left_of_an_upright_wire_end_at_it_and_those_along_a_level_one_are_centred():
    from topo.drawing.marks.callouts import Callouts, Quantity, _write
    from topo.drawing.marks.room import Room
    from topo.drawing.schematic.drawing import Drawing

    found, room = Callouts(), Room(Drawing([], {}))
    for box, run in (
        ((1.0, 2.0, 4.0, 3.0), ((5, 0), (5, 6))),
        ((6.0, 2.0, 9.0, 3.0), ((5, 0), (5, 6))),
        ((1.0, -2.0, 4.0, -1.0), ((0, 0), (5, 0))),
    ):
        _write(found, Quantity("9 V", "net"), box, run, room)

    assert [(text.anchor, text.x) for text in found.texts] == [("end", 4.0), ("start", 6.0), ("middle", 2.5)]
