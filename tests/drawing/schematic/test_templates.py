"""Patterns' drawings: what the reader of pattern files refuses, and that figures follow them."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

import topo
from topo.cli import main
from topo.drawing import figure
from topo.matching import library
from topo.matching.schema import read_pattern

PATTERNS = Path(__file__).parents[3] / "patterns"
PAIR = PATTERNS / "compound-devices" / "long-tailed-pair.yaml"
STAGES = """
supply vcc 12V
input in
output out
C1 10u : in b1
R1 100k : vcc b1
R2 22k : b1 gnd
Q1 npn : b=b1 c=c1 e=e1
R3 4k7 : vcc c1
R4 1k : e1 gnd
C2 10u : c1 b2
R5 100k : vcc b2
R6 22k : b2 gnd
Q2 npn : b=b2 c=c2 e=e2
R7 4k7 : vcc c2
R8 1k : e2 gnd
C3 10u : c2 out
R9 10k : out gnd
"""
GERMANIUM = """
supply vee -9V
input in
C1 10u : in b1
R1 47k : vee b1
R2 10k : b1 gnd
Q1 pnp germanium : b=b1 c=c1 e=e1
R3 2k2 : vee c1
R4 470 : e1 gnd
"""


def places(text, library=None):
    """Designator to matrix of each symbol of a figure."""
    svg = figure(topo.read(topo.loads(text), library), library=library).svg
    found = re.findall(r'data-ref="(\w+)"[^>]*matrix\(([-\d ]+)\)', svg)
    return {ref: tuple(int(number) for number in matrix.split()) for ref, matrix in found}


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("right: {at: [12, 1], o: mirror}", "no mirror images"),
        ("right: {at: [12, 0], o: up}", "no such position"),
        ("right: {at: [12, 0], o: h}", "no such position"),
        ("right: {o: mirror}", "needs a place"),
        ("right: {at: [12.5, 0], o: mirror}", "needs a place"),
        ("right: {at: [400, 0], o: mirror}", "needs a place"),
        ("right: {at: [12, 0], turn: mirror}", "There is no key of the drawing"),
        ("right: {at: [12, 0], short: [8, 0]}", "needs both a place and the role"),
        ("right: {at: [12, 0], short: [8, 0], over: left leak}", "There is no drawn role `left leak`"),
        ("right: {at: [12, 0], o: mirror}\n  left leak: {at: [11, 1]}", "`left leak` lies on `right`"),
        ("right: {at: [12, 0], o: mirror}\n  reight: {at: [30, 1]}", "There is no role `reight`"),
        ("right: {at: [0, 0], o: mirror}", "`right` lies on `left`"),
    ],
)
def test_a_drawing_that_cannot_be_drawn_is_refused_with_its_line(wrong, told):
    text = PAIR.read_text(encoding="utf-8")
    right = "right: {at: [12, 0], o: mirror}"
    assert right in text
    _, problems = read_pattern(text.replace(right, wrong), "pair.yaml")
    found = next(problem for problem in problems if told in problem.message)
    assert found.place.line >= text[: text.index("drawing:")].count("\n") + 1
    assert found.source == text.replace(right, wrong).splitlines()[found.place.line - 1]


def test_roles_of_which_only_one_is_drawn_may_have_one_place():
    text = PAIR.read_text(encoding="utf-8")
    both = "\n  left leak: {at: [-6, 10]}\n  right leak: {at: [-6, 10]}\n"
    _, problems = read_pattern(text.replace("\n  left: {at: [0, 0]}\n", both + "  left: {at: [0, 0]}\n"), "pair.yaml")
    assert not problems


def test_roles_that_stand_instead_of_each_other_may_lie_on_each_other():
    text = PAIR.read_text(encoding="utf-8")
    alone = text.replace("over: left resistor, instead of: tail}", "over: left resistor}")
    assert alone != text
    assert any("lies on" in problem.message for problem in read_pattern(alone, "pair.yaml")[1])
    assert not read_pattern(text, "pair.yaml")[1]


TAILS = {
    "R1 4k7 : t vee": "R1",
    "Q3 npn : b=k c=t e=x\nR3 1k : x vee\nD1 zener 3V3 : vee k\nR4 10k : gnd k": "Q3",
}


@pytest.mark.parametrize("tail", TAILS)
def test_what_feeds_a_tail_stands_between_its_two_devices(tail):
    at = places(
        "supply vcc 12V\nsupply vee -12V\ninput in\noutput out\nC1 1u : in b1\nR5 47k : b1 gnd\nR6 47k : b2 gnd\n"
        f"C2 10u : b2 gnd\nQ1 npn : b=b1 c=vcc e=t\nQ2 npn : b=b2 c=out e=t\nR2 4k7 : vcc out\n{tail}\n"
    )
    collector = at[TAILS[tail]][4] + (1 if TAILS[tail] == "Q3" else 0)
    assert at["Q1"][5] == at["Q2"][5]
    assert at["Q1"][4] < collector < at["Q2"][4]
    assert 2 * collector == at["Q1"][4] + at["Q2"][4]


@pytest.mark.parametrize("kind", ["npn", "pnp"])
def test_a_pair_between_two_transformers_is_drawn_about_their_taps(kind):
    rail = 9 if kind == "npn" else -9
    way = "t gnd" if kind == "npn" else "gnd t"
    text = (
        f"supply vcc {rail}V\ninput a\nT1 1:1+1 : a gnd | b1 t b2\nR1 1k : vcc t\nD1 diode : {way}\n"
        f"Q1 {kind} : b=b1 c=c1 e=e1\nQ2 {kind} : b=b2 c=c2 e=e2\nR2 1 : e1 gnd\nR3 1 : e2 gnd\n"
        "T2 5+5:1 : c1 vcc c2 | s gnd\nLS1 8 : s gnd\n"
    )
    at = places(text)
    assert at["T1"][5] == at["T2"][5]
    assert at["Q1"][5] + at["Q2"][5] == at["R2"][5] + at["R3"][5] == 2 * at["T1"][5]
    assert at["Q1"][5] < at["T1"][5] < at["Q2"][5]
    assert at["T1"][4] < at["R1"][4] == at["D1"][4] < at["Q1"][4] == at["Q2"][4] < at["T2"][4]


def test_parts_without_a_device_are_drawn_by_their_pattern_too():
    at = places(
        "supply vcc 9V\ninput in\noutput out\nC1 10u : in b\nQ1 npn : b=b c=c e=gnd\nR1 5k6 : vcc d\n"
        "D1 diode : d gnd\nL1 1m : d b\nR3 470 : vcc c\nC2 10u : c out\nR4 10k : out gnd\nC3 10u : d gnd\n"
    )
    assert at["R1"][4] == at["D1"][4]
    assert at["R1"][5] < at["D1"][5] == at["C3"][5]


def test_two_stages_of_one_kind_are_drawn_alike():
    at = places(STAGES)
    assert at["Q1"][5] == at["Q2"][5]
    for one, two in (("R1", "R5"), ("R2", "R6"), ("R3", "R7"), ("R4", "R8")):
        assert [at[one][axis] - at["Q1"][axis] for axis in (4, 5)] == [
            at[two][axis] - at["Q2"][axis] for axis in (4, 5)
        ]


def test_a_single_negative_supply_is_drawn_above_and_the_emitters_below():
    at = places(GERMANIUM)
    assert at["R3"][5] < at["Q1"][5] < at["R4"][5]
    assert at["Q1"][3] == -1


def test_images_on_ground_and_on_a_supply_share_no_symbol():
    at = places(
        "supply vcc 24V\ninput in\noutput out\nC1 10u : in b\nR1 1k : vcc b\nR2 1k : b gnd\nQ1 npn : b=b c=x1 e=o\n"
        "Q2 pnp : b=b c=x2 e=o\nR3 220 : x1 vcc\nR4 220 : x2 gnd\nC2 100u : o out\nR5 8 : out gnd\n"
    )
    assert at["R3"][5] < at["Q1"][5] < at["Q2"][5] < at["R4"][5]


def test_a_drawing_in_a_folder_of_ones_own_is_used(tmp_path):
    text = (PATTERNS / "single-device-stages" / "common-emitter.yaml").read_text(encoding="utf-8")
    assert text.count("  load: {at: [1, -5]}\n") == 1
    (tmp_path / "single-device-stages").mkdir()
    own = tmp_path / "single-device-stages" / "common-emitter.yaml"
    own.write_text(text.replace("  load: {at: [1, -5]}\n", "  load: {at: [1, -11]}\n"), encoding="utf-8")

    at = places(STAGES, library([tmp_path]))

    assert at["Q1"][5] - at["R3"][5] == 11
    assert places(STAGES)["Q1"][5] - places(STAGES)["R3"][5] < 11


def test_topo_figure_draws_with_the_folder_that_it_is_given(tmp_path):
    text = (PATTERNS / "single-device-stages" / "common-emitter.yaml").read_text(encoding="utf-8")
    own = tmp_path / "common-emitter.yaml"
    own.write_text(text.replace("  load: {at: [1, -5]}\n", "  load: {at: [1, -11]}\n"), encoding="utf-8")
    arguments = ["figure", "-", "--detail", "whole"]

    shipped = CliRunner().invoke(main, arguments, input=STAGES)
    mine = CliRunner().invoke(main, [*arguments, "--patterns", str(tmp_path)], input=STAGES)

    assert (shipped.exit_code, mine.exit_code) == (0, 0)
    assert shipped.output != mine.output


def test_a_tapped_coil_is_drawn_as_a_coil_with_its_turns():
    svg = figure(
        topo.read(
            topo.loads(
                "supply vcc 9V\nsignal 6MHz to 8MHz\noutput out\nL1 4u2 2+8 : gnd s top\nC3 100p : top gnd\n"
                "C2 100p : top g\nR2 100k : g gnd\nQ1 njfet : g=g d=vcc s=s\nC4 22p : s out\nR3 100k : out gnd\n"
            )
        )
    ).svg
    assert 'data-symbol="coil:2"' in svg
    assert ">2+8<" in svg


def test_emitters_of_a_pair_on_ground_share_one_symbol_on_the_mirror_line():
    text = (
        "supply vcc 9V\ninput a\nT1 1:1+1 : a gnd | b1 t b2\nR1 1k : vcc t\nD1 diode : t gnd\n"
        "Q1 npn : b=b1 c=c1 e=gnd\nQ2 npn : b=b2 c=c2 e=gnd\nT2 5+5:1 : c1 vcc c2 | s gnd\nLS1 8 : s gnd\n"
    )
    at = places(text)
    svg = figure(topo.read(topo.loads(text))).svg
    grounds = [tuple(map(int, m.split()[4:])) for m in re.findall(r'data-symbol="ground"[^>]*matrix\(([-\d ]+)\)', svg)]
    middle = (at["Q1"][5] + at["Q2"][5]) // 2
    assert at["Q1"][4] == at["Q2"][4]
    assert any(y == middle for _, y in grounds)
    assert not any(y < at["Q2"][5] and abs(x - at["Q2"][4]) < 4 and y > middle for x, y in grounds)


SUPPLY = (
    "supply vcc 12V\nJ1 plug : live neutral\nT1 19:1+1 : live neutral | a gnd b\nD1 rectifier : a vcc\n"
    "D2 rectifier : b vcc\nC1 1000u : vcc gnd\nR1 100 : vcc gnd\n"
)


def test_a_rectifier_and_what_it_charges_are_wired_to_one_symbol_of_the_supply():
    svg = figure(topo.read(topo.loads(SUPPLY))).svg
    at = places(SUPPLY)
    assert svg.count('data-symbol="plus"') == 1
    assert at["D1"][5] == at["D2"][5]
    assert at["D1"][4] < at["D2"][4] < at["C1"][4] < at["R1"][4]
    assert 'data-ref="vcc supply" data-symbol="plus" data-name="vcc"' in svg


def test_a_supply_behind_a_smoothing_resistor_is_wired_too():
    text = SUPPLY.replace("a vcc", "a raw").replace("b vcc", "b raw") + "R2 10 : raw vcc\nC2 1000u : raw gnd\n"
    assert figure(topo.read(topo.loads(text))).svg.count('data-symbol="plus"') == 1


def test_a_supply_without_a_rectifier_is_a_symbol_at_each_pin():
    text = SUPPLY.replace("rectifier : a vcc", "rectifier : a x").replace("rectifier : b vcc", "rectifier : b x")
    assert figure(topo.read(topo.loads(text + "C2 10u : x gnd\n"))).svg.count('data-symbol="plus"') == 2


def test_a_supply_of_nothing_has_no_sign():
    svg = figure(topo.read(topo.loads("supply vcc 12V\nsupply low 0V\nR1 1k : vcc a\nQ1 npn : b=low c=a e=gnd\n"))).svg
    assert ">0 V<" in svg
    assert "+0 V" not in svg


def test_a_bias_that_reaches_the_base_by_a_winding_stays_at_the_tap():
    at = places(
        "supply vcc 12V\ninput in\noutput out\nsignal 6MHz to 16MHz\nC1 100p : in p1\nT1 1:1+1 : p1 gnd | b1 ct b2\n"
        "Q1 npn : b=b1 c=cc e=e\nQ2 npn : b=b2 c=cc e=e\nR1 47 : e gnd\nC2 10n : e gnd\nR2 10k : vcc ct\n"
        "R3 1k : ct gnd\nC3 10n : ct gnd\nT2 10:2 primary=2u k=0.98 : cc vcc | out gnd\nC4 60p : cc vcc\n"
    )
    assert at["Q1"][4] == at["Q2"][4]
    assert at["Q1"][5] < at["T1"][5] < at["Q2"][5]
    assert at["R1"][5] == at["C2"][5]


def test_a_fuse_between_two_supplies_lies_level():
    at = places(
        "supply bat 12V\nF1 1A : bat vcc\nQ1 npn : b=b c=c e=gnd\nR1 1k : vcc c\nR2 100k : vcc b\nC1 10u : vcc gnd\n"
    )
    assert at["F1"][1] == 0


def test_two_capacitors_across_a_supply_with_a_middle_share_their_ground():
    at = places(
        "supply vcc 24V\nsupply vee -24V\ninput line\noutput out\nC1 1u : line b\nR1 47k : b gnd\n"
        "Q1 npn : b=b c=vcc e=out\nR2 4k7 : out vee\nC8 470u : vcc gnd\nC9 470u : vee gnd\n"
    )
    assert at["C8"][4] == at["C9"][4]
    assert at["C8"][5] < at["C9"][5]


def test_a_divider_stands_at_the_device_of_a_compound_that_it_biases():
    at = places(
        "supply vcc 12V\ninput in\noutput out\nC1 470n : in b\nR1 220k : vcc b\nR2 330k : b gnd\n"
        "Q1 npn : b=b c=vcc e=m\nQ2 npn : b=m c=vcc e=o\nR3 470 : o gnd\nC2 100u : o out\nR4 100 : out gnd\n"
    )
    assert at["R1"][4] == at["R2"][4] < at["Q1"][4] < at["Q2"][4]
    assert at["R1"][5] < at["Q1"][5] < at["R2"][5]
    assert at["R3"][4] == at["Q2"][4] + 1


def test_two_halves_that_a_pattern_draws_one_under_the_other_stand_upright_with_a_ground_each():
    shelf = library()
    example = next(item for item in shelf.examples("paraphase-splitter") if item.matches)
    text = example.netlist
    at = places(text)
    first, second = example.roles["first"][0], example.roles["second"][0]
    assert at[first][:4] == at[second][:4] == (1, 0, 0, 1)
    assert at[first][4] == at[second][4]
    assert at[first][5] < at[second][5]


def test_images_that_hang_on_one_supply_both_hang_down_from_it():
    at = places(
        "supply vcc 18V\ninput a\nT2 1:1+1 : a gnd | s1 gnd s2\nC2 10u : s1 b1\nC3 10u : s2 b2\nR5 10k : vcc b1\n"
        "R7 10k : vcc b2\nR6 470 : b1 gnd\nR8 470 : b2 gnd\nQ2 npn : b=b1 c=c1 e=e\nQ3 npn : b=b2 c=c2 e=e\n"
        "R9 3R3 : e gnd\nT1 5+5:1 : c1 vcc c2 | s gnd\nLS1 8 : s gnd\n"
    )
    assert at["Q2"][5] + at["Q3"][5] == 2 * at["T1"][5]
    assert at["R7"][5] < at["Q3"][5]
    assert at["R5"][:4] == at["R7"][:4]


def test_turns_are_said_in_three_figures():
    svg = figure(
        topo.read(topo.loads("supply vcc 9V\ninput a\noutput b\nT1 1200+1200:5.65685 : a gnd c | b gnd\n"))
    ).svg
    assert ">1200+1200 : 5.66<" in svg
