"""Parts one behind the other stand in one line."""

import topo
from topo.drawing.schematic.engine import Plan, draw
from topo.drawing.schematic.items import items_of, rails_of
from topo.drawing.schematic.ordering import clusters_of
from topo.drawing.schematic.stringing import strung

HEAD = "circuit Strings\nsupply vcc 12V\ninput in\noutput out\n"
FEEDBACK = HEAD + "R1 10k : vcc out\nQ1 npn : b=in c=out e=gnd\nC2 1n : in x\nR2 47k : x out\n"


def strings(text, ranks=()):
    circuit = topo.loads(text)
    rails = rails_of(circuit)
    items = items_of(circuit, rails, {})
    found = strung(clusters_of(items, rails, [], dict(ranks)), rails)
    return [[item.key for item in cluster.items] for cluster in found if cluster.members]


def places(drawing):
    return {place.item.key: place for place in drawing.placed}


def test_two_parts_that_share_a_net_with_nothing_else_are_a_string():
    assert strings(FEEDBACK) == [["C2", "R2"]]


def test_a_part_on_the_net_between_them_makes_two_parts_no_string():
    assert strings(FEEDBACK + "C3 1n : x gnd\n") == []


def test_a_coupling_capacitor_and_its_load_are_no_string():
    text = HEAD + "R1 1k : in out\nC1 1u : out y\nR2 8 : y gnd\nR3 1k : out vcc\nR4 1k : out gnd\n"
    assert strings(text) == [["C1", "R2"]]
    assert strings(text, {"R1": 1, "C1": 2, "R2": 3}.items()) == []


def test_a_loudspeaker_stands_by_itself():
    assert strings(HEAD + "R1 1k : in out\nC1 1u : out y\nLS1 speaker 8 : y gnd\nR3 1k : out vcc\n") == []


def test_a_long_chain_falls_into_strings_of_three():
    text = HEAD + "R0 1 : in a\n" + "".join(f"R{n} 1k : n{n} n{n + 1}\n" for n in range(1, 6))
    assert strings(text) == [["R1", "R2", "R3"], ["R4", "R5"]]


def test_parts_in_a_ring_are_no_string():
    assert strings(HEAD + "R1 1k : a b\nC1 1n : a b\nR2 1k : in out\n") == []


def test_a_string_of_feedback_is_drawn_in_one_line():
    found = places(draw(topo.loads(FEEDBACK)))
    one, two = found["C2"], found["R2"]
    assert one.y == two.y if not one.fit.upright else one.x == two.x


def test_strings_on_both_sides_of_a_mirror_line_are_images_of_each_other():
    text = (
        HEAD
        + "T1 transformer 1:1+1 : in gnd | a m b\nT2 transformer 1+1:1 : c vcc d | out gnd\nR9 1k : m vcc\n"
        + "Q1 npn : b=a c=c e=e\nQ2 npn : b=b c=d e=f\nR5 1 : e gnd\nR6 1 : f gnd\n"
        + "C1 10n : a x\nR1 220 : x c\nC2 10n : b y\nR2 220 : y d\n"
    )
    found = places(draw(topo.loads(text), Plan(steps=[["T1"], ["Q1", "Q2"], ["T2"]], pairs=[("Q1", "Q2")])))
    axis = found["Q1"].y + found["Q2"].y
    for one, two in (("C1", "C2"), ("R1", "R2")):
        assert found[one].x == found[two].x
        assert found[one].y + found[two].y == axis
    assert found["C1"].y == found["R1"].y
