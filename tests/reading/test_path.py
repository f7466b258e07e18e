"""The signal path by real power, with both sides of a pair."""

from __future__ import annotations

from circuits import BOOTSTRAPPED, COMPLEMENTARY, PREAMPLIFIER, TWO_TRANSFORMERS


def refs(reading):
    """Designators of each step: a text for one, a set of sides for several."""
    found = []
    for step in reading.path:
        sides = [side[0] if len(side) == 1 else side for side in step.sides]
        found.append(sides[0] if len(sides) == 1 else set(sides))
    return found


def test_stages_follow_one_another_with_their_coupling(reading):
    assert refs(reading(PREAMPLIFIER)) == ["C1", "Q1", "C4", "Q2", "Q3", "C7"]


def test_an_inverting_stage_turns_the_sign_and_a_follower_keeps_it(reading):
    signs = {step.refs[0]: step.sign for step in reading(PREAMPLIFIER).path}

    assert (signs["Q1"], signs["Q2"], signs["Q3"]) == ("-", "+", "+")


def test_a_pair_between_transformers_has_two_sides(reading):
    assert refs(reading(TWO_TRANSFORMERS)) == ["C1", "Q1", "T1", {"Q2", "Q3"}, "T2", "LS1"]


def test_the_two_sides_of_a_driven_pair_have_opposite_signs(reading):
    step = next(step for step in reading(TWO_TRANSFORMERS).path if step.refs == ("T1",))

    assert sorted(step.sign.split("|")) == ["+", "-"]


def test_a_complementary_pair_has_two_sides_and_the_spreader_is_no_step(reading):
    assert refs(reading(COMPLEMENTARY)) == ["C1", "Q1", {"Q2", "Q3"}, {"R4", "R5"}, "C2", "LS1"]


def test_a_bootstrapped_load_resistor_is_no_way_round_the_pair(reading):
    assert refs(reading(BOOTSTRAPPED)) == ["C1", "Q1", {"Q2", "Q3"}, {"R4", "R5"}, "C2", "LS1"]


def test_a_path_that_breaks_off_is_reported_and_not_invented(reading):
    found = reading(PREAMPLIFIER.replace("C4 2u2 electrolytic : c1 b2", "C4 2u2 electrolytic : c1 elsewhere"))

    assert refs(found) == ["C1", "Q1", "C4"]
    assert "path-broken-off" in [problem.code for problem in found.warnings]


def test_without_values_the_path_is_found_by_position(reading):
    bare = PREAMPLIFIER.replace("R1 220k", "R1 ?").replace("R7 150k", "R7 ?").replace("R4 2k2", "R4 ?")
    found = reading(bare)

    assert [ref for ref in refs(found) if ref in ("Q1", "Q2", "Q3")] == ["Q1", "Q2", "Q3"]
    assert any("position" in text for text in found.assumptions)


def test_devices_in_parallel_are_one_side_together(reading):
    text = (
        TWO_TRANSFORMERS
        + "    Q4 npn : b=s1 c=p1 e=e4\n    R8 2R2 : e4 gnd\n    Q5 npn : b=s2 c=p2 e=e5\n    R9 2R2 : e5 gnd\n"
    )
    sides = next(step.sides for step in reading(text).path if "Q2" in step.refs)

    assert set(sides) == {("Q2", "Q4"), ("Q3", "Q5")}


def test_a_stopper_before_one_side_is_a_step_of_that_side_alone(reading):
    text = COMPLEMENTARY.replace("Q2 npn : b=high", "R9 10 : high hb\n    Q2 npn : b=hb")

    assert refs(reading(text)) == ["C1", "Q1", "R9", {"Q2", "Q3"}, {"R4", "R5"}, "C2", "LS1"]


CERAMIC_FILTER = """
supply vcc 9V
input in
output out
signal 450kHz to 460kHz
C1 10n : in b
R1 33k : vcc b
R2 6k8 : b gnd
Q1 npn : b=b c=c e=e
R3 1k : e gnd
C2 47n : e gnd
R4 1k5 : vcc c
FL1 other : in=c out=f case=gnd
R5 1k5 : f gnd
C3 10n : f b2
R6 33k : vcc b2
R7 6k8 : b2 gnd
Q2 npn : b=b2 c=c2 e=e2
R8 1k : e2 gnd
C4 47n : e2 gnd
R9 2k2 : vcc c2
C5 10n : c2 out
R10 1k : out gnd
"""


def test_a_filter_of_which_nothing_is_computed_is_a_step_of_the_way(reading):
    assert refs(reading(CERAMIC_FILTER)) == ["C1", "Q1", "FL1", "C3", "Q2", "C5"]


def test_the_crystals_of_a_ladder_are_steps_one_after_the_other(reading):
    ladder = "Y1 crystal 455kHz : c x\nC9 470p : x gnd\nY2 crystal 455kHz : x f\n"
    text = CERAMIC_FILTER.replace("FL1 other : in=c out=f case=gnd\n", ladder)

    assert refs(reading(text)) == ["C1", "Q1", "Y1", "Y2", "C3", "Q2", "C5"]


def test_a_way_through_a_filter_alone_makes_no_receiver(reading):
    assert reading(CERAMIC_FILTER).sections == ()


INTEGRATED = """
supply vcc 9V
input in
output spk
VR1 pot 10k at 50% : in w gnd
C1 100n : w p3
R1 47k : p3 gnd
U1 ic : 1=g1 2=gnd 3=p3 4=gnd 5=out 6=vcc 7=byp 8=g8
C2 10u : g1 g8
C3 10u : byp gnd
C4 220u : out spk
LS1 speaker 8 : spk gnd
"""
STEREO = """
supply vcc 12V
input inl
input inr
output outl
output outr
signal 30Hz to 15kHz
C1 1u : inl bl
R1 100k : vcc bl
R2 100k : bl gnd
Q1 npn : b=bl c=vcc e=el
R3 470 : el gnd
C2 220u : el outl
HP1 headphones 32 : outl gnd
C11 1u : inr br
R11 100k : vcc br
R12 100k : br gnd
Q11 npn : b=br c=vcc e=er
R13 470 : er gnd
C12 220u : er outr
HP2 headphones 32 : outr gnd
"""


def test_an_integrated_circuit_is_a_step_where_nothing_else_leads_on(reading):
    assert refs(reading(INTEGRATED)) == ["VR1", "C1", "U1", "C4", "LS1"]


def test_what_is_inside_an_integrated_circuit_is_said_not_to_be_known(reading):
    assert reading(INTEGRATED).summary.endswith("What goes on inside U1 is not known.")


def test_each_part_at_a_pin_has_a_name(reading):
    assert reading(INTEGRATED).not_recognised == ("U1",)


def test_a_way_ends_at_the_load_of_its_own_channel(reading):
    assert refs(reading(STEREO)) == ["C1", "Q1", "C2", "HP1"]


def test_a_second_channel_is_said_to_be_one(reading):
    assert reading(STEREO).summary.endswith("Apart from it, a second channel: Q11.")
