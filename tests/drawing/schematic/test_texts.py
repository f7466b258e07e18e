"""Texts: what they may not lie on, and that all of them are counted."""

from dataclasses import replace

import topo
from topo.drawing import figure
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Text
from topo.drawing.schematic.engine import draw
from topo.drawing.schematic.fitting import Fitter
from topo.drawing.schematic.items import Item, Rail
from topo.drawing.schematic.labels import place_texts
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.metrics import measure
from topo.drawing.schematic.symbols import symbol

DIVIDER = """
circuit Divider
supply vcc 12V
input in
output out
R1 1k : vcc out
R2 1k : out gnd
C1 1u : in out
"""


def text(words, x, y, owner=""):
    return Text(words, x, y + 0.3, "middle", (x - 1, y - 0.5, x + 1, y + 0.5), owner)


def drawn():
    return draw(topo.loads(DIVIDER))


def test_a_drawing_without_fault_counts_no_text():
    assert measure(drawn()).text_overlaps == 0


def test_a_text_of_no_part_that_lies_on_a_wire_is_counted():
    drawing = drawn()
    x, y, _ = min(drawing.wires["out"])
    drawing.texts.append(text("title", x, y))
    assert measure(drawing).text_overlaps == 1


def test_a_text_of_no_part_that_lies_on_another_text_is_counted():
    drawing = drawn()
    other = next(one for one in drawing.texts if one.owner == "R1")
    drawing.texts.append(replace(other, words="title", owner=""))
    assert measure(drawing).text_overlaps == 1


def test_two_texts_of_no_part_are_both_counted_where_they_meet():
    drawing = drawn()
    drawing.texts += [text("one", 500, 0), text("two", 501, 0)]
    assert measure(drawing).text_overlaps == 2


def test_the_text_of_a_supply_is_no_fault_where_it_stands_over_its_bar():
    drawing = drawn()
    assert "+12 V" in [one.words for one in drawing.texts]
    assert measure(drawing).text_overlaps == 0


def test_no_wire_may_run_through_the_name_of_a_supply_however_long_it_is():
    rail = Rail("v", "plus", "heater supply +12.6 V")
    fit = Fitter({"v": rail}).fit(Item("R1", symbol("resistor"), {"1": "v", "2": "n"}), g.RIGHT)
    assert {(x, -4) for x in range(-6, 7)} <= set(fit.covered)


def test_the_name_of_a_supply_leaves_the_pins_of_its_part_free():
    rail = Rail("v", "plus", "heater supply +12.6 V")
    nets = {"0.0": "a", "0.1": "v", "0.2": "b", "1.0": "c", "1.1": "d"}
    fit = Fitter({"v": rail}).fit(Item("T1", symbol("transformer:2|1"), nets), g.PLAIN)
    free = {point for pin in fit.pins for point in ((pin.x, pin.y), (pin.x + pin.dx, pin.y + pin.dy))}
    assert not free & set(fit.covered)


def test_texts_on_one_row_keep_so_far_apart_that_they_do_not_read_as_one():
    fitter = Fitter({})
    items = [Item(f"R{number}", symbol("resistor"), {}, (f"R{number}", "100 k\u03a9"), "resistor") for number in (1, 2)]
    drawing = Drawing([Placed(fitter.fit(item, g.PLAIN), 5 * number, 0) for number, item in enumerate(items)], {})
    place_texts(drawing)
    assert measure(drawing).text_overlaps == 0
    for one in drawing.texts:
        for two in drawing.texts:
            if one.owner < two.owner and abs(one.y - two.y) < 0.6:
                assert two.box[0] - one.box[2] >= 0.7


def test_a_flag_stands_a_module_off_the_wire_that_it_names_and_its_text_beyond_it():
    flag = symbol("flag")
    assert flag.body[2] == -1
    fit = Fitter({"n": Rail("n", "flag", "bias")}).fit(Item("R1", symbol("resistor"), {"1": "n", "2": "m"}), g.PLAIN)
    drawing = Drawing([Placed(fit, 0, 0)], {})
    place_texts(drawing)
    (words,) = [one for one in drawing.texts if one.words == "bias"]
    assert words.box[2] < -2 - 2.6
    assert measure(drawing).text_overlaps == 0


SERIES_PAIR = """
supply vcc -12V
input a
output spk
T1 transformer 2:1:1 : a gnd | b1 n1 | n2 b2
R1 1k : vcc n1
R2 130 : n1 m
C1 100u : n1 m
R3 1k : m n2
R4 130 : n2 gnd
C2 100u : n2 gnd
Q1 pnp : b=b1 c=vcc e=m
Q2 pnp : b=b2 c=m e=gnd
C3 470u : m spk
LS1 speaker 16 : spk gnd
"""


def test_a_drawing_is_parted_by_as_many_modules_as_a_text_between_two_columns_needs():
    assert figure(topo.read(topo.loads(SERIES_PAIR))).metrics.text_overlaps == 0


def test_the_names_of_two_supplies_of_one_device_stand_clear_of_each_other():
    rails = {"a": Rail("a", "plus", "a +12 V"), "vcc": Rail("vcc", "plus", "vcc +12 V")}
    item = Item("Q1", symbol("pmos"), {"g": "a", "s": "vcc", "d": "out"}, (), "pmos")
    for turn in (g.PLAIN, g.MIRRORED):
        drawing = Drawing([Placed(Fitter(rails).fit(item, turn), 0, 0)], {})
        place_texts(drawing)
        assert measure(drawing).text_overlaps == 0


def test_a_supply_beside_a_pin_stands_two_modules_off_where_nothing_is_in_its_way():
    fit = Fitter({"a": Rail("a", "plus", "+12 V")}).fit(
        Item("Q1", symbol("npn"), {"b": "a", "c": "x", "e": "y"}), g.PLAIN
    )
    assert [(rail.x, rail.y) for rail in fit.rails] == [(-4, 0)]
