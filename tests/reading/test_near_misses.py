"""Near misses: what would be there but for one slip."""

from __future__ import annotations

import pytest
from circuits import COMPLEMENTARY, PREAMPLIFIER, TWO_TRANSFORMERS


@pytest.mark.parametrize("text", [COMPLEMENTARY, PREAMPLIFIER, TWO_TRANSFORMERS])
def test_a_circuit_without_a_slip_has_none(reading, text):
    assert reading(text).near_misses == ()


def test_a_net_typed_under_two_names_is_found(reading):
    found = reading(TWO_TRANSFORMERS.replace("c=p2 e=e3", "c=p22 e=e3")).near_misses

    assert len(found) == 1
    assert set(found[0].parts) >= {"Q2", "Q3", "T2"}
    assert found[0].ref == "Q3" and "p22" in found[0].message
    assert found[0].suggestion == "did you mean p2?"


def test_the_line_and_the_place_in_it_are_told(reading):
    text = TWO_TRANSFORMERS.replace("c=p2 e=e3", "c=p22 e=e3")
    miss = reading(text).near_misses[0]

    assert text.splitlines()[miss.line - 1] == miss.source
    column, length = miss.mark
    assert miss.source[column - 1 : column - 1 + length] in ("p22", "c=p22")


def test_exchanged_terminals_are_found(reading):
    found = reading(TWO_TRANSFORMERS.replace("b=s1 c=p1 e=e2", "b=s1 c=e2 e=p1")).near_misses

    assert [miss.suggestion for miss in found] == ["are emitter and collector exchanged?"]


def test_a_polarity_slip_is_found(reading):
    found = reading(COMPLEMENTARY.replace("Q3 pnp", "Q3 npn")).near_misses

    assert [miss.suggestion for miss in found] == ["did you mean pnp?"]


def test_a_tap_exchanged_with_an_end_is_found(reading):
    found = reading(TWO_TRANSFORMERS.replace("p1 vcc p2 | spk", "vcc p1 p2 | spk")).near_misses

    assert [miss.ref for miss in found] == ["T2"]


def test_a_coupling_that_ends_in_the_air_is_found_by_the_broken_path(reading):
    found = reading(PREAMPLIFIER.replace("C4 2u2 electrolytic : c1 b2", "C4 2u2 electrolytic : c1 b22")).near_misses

    assert [(miss.ref, miss.suggestion) for miss in found] == [("C4", "did you mean b2?")]
    assert found[0].message.startswith("The signal path breaks off.")


def test_where_a_part_may_be_missing_that_is_asked(reading):
    found = reading(PREAMPLIFIER.replace("C4 2u2 electrolytic : c1 b2\n", "C4 2u2 electrolytic : q7x b2\n")).near_misses

    assert [miss.suggestion for miss in found] == ["are q7x and c1 one net, or is a part missing between them?"]


@pytest.mark.parametrize("line", ["R2 12k : b1 gnd", "C2 100u electrolytic : e1 gnd"])
def test_a_part_left_out_that_a_stage_can_do_without_is_not_taken_for_a_slip(reading, line):
    assert reading(TWO_TRANSFORMERS.replace(line, "")).near_misses == ()


@pytest.mark.parametrize(
    ("line", "ref", "ends"), [("R3 470 : e1 gnd", "Q1", "gnd to e1"), ("R6 2R2 : e2 gnd", "Q2", "gnd to e2")]
)
def test_an_emitter_that_nothing_leads_to_ground_is_told(reading, line, ref, ends):
    (miss,) = reading(TWO_TRANSFORMERS.replace(line, "")).near_misses

    assert (miss.ref, miss.suggestion) == (ref, f"is a line missing, such as a resistor from {ends}?")


def test_a_reversed_device_among_single_stages_is_found(reading):
    found = reading(PREAMPLIFIER.replace("b=b2 c=c2 e=e2", "b=b2 c=e2 e=c2")).near_misses

    assert [miss.suggestion for miss in found] == ["are emitter and collector exchanged?"]


def test_a_lead_in_the_air_is_asked_to_be_joined_where_it_makes_the_pair(reading):
    found = reading(COMPLEMENTARY.replace("Q2 npn : b=high", "Q2 npn : b=q7x")).near_misses

    assert [(miss.ref, miss.suggestion) for miss in found] == [
        ("Q2", "are q7x and high one net, or is a part missing between them?")
    ]
    assert "Q2's base is on net q7x, which nothing else is on" in found[0].message


def test_a_bias_diode_turned_round_is_found(reading):
    turned = reading(TWO_TRANSFORMERS.replace("D1 diode : tap gnd", "D1 diode : gnd tap"))

    assert [(miss.ref, miss.suggestion) for miss in turned.near_misses] == [("D1", "is D1 the wrong way round?")]


def test_a_pair_that_idles_far_too_high_is_warned_of(reading):
    turned = reading(TWO_TRANSFORMERS.replace("D1 diode : tap gnd", "D1 diode : gnd tap"))

    assert [problem.code for problem in turned.warnings if problem.code == "idle-high"] == ["idle-high"]
    assert all(problem.code != "idle-high" for problem in reading(TWO_TRANSFORMERS).warnings)
