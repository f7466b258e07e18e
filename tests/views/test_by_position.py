"""Without an operating point everything is judged by position, and says so."""

import pytest
from viewing import seen, seen_by_position

STAGES = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output out
C1 electrolytic ? : b in
R1 ? : vcc b
R2 ? : b gnd
Q1 npn : b=b c=c e=e
R3 ? : vcc c
R4 ? : e gnd
C2 ? : e gnd
C3 ? : c b
C4 ? : c b2
Q2 npn : b=b2 c=vcc e=out
R5 ? : out gnd
R6 ? : vcc b2
L1 choke ? : vcc x
R7 ? : x gnd
FB1 bead : x y
R8 ? : y gnd
"""


@pytest.mark.parametrize(
    ("ref", "fate"),
    [
        ("C1", "short"),  # polarised, between stages
        ("C2", "short"),  # to ground
        ("C3", "open"),  # across one device
        ("C4", "short"),  # between two stages
        ("L1", "open"),  # a choke
    ],
)
def test_a_part_without_a_value_is_judged_by_what_it_lies_between(ref, fate):
    verdict = seen_by_position(STAGES).verdict(ref)

    assert verdict.fate == fate
    assert verdict.assumed
    assert verdict.rho is None


def test_everything_by_position_is_said_among_the_assumptions():
    found = seen_by_position(STAGES)

    assert found.views.by_position
    assert "everything is judged by position" in found.views.assumptions


def test_every_verdict_by_position_is_marked_assumed():
    found = seen_by_position(STAGES)

    assert all(verdict.assumed for verdict in found.views.signal.verdicts.values())


@pytest.mark.parametrize(("farads", "fate"), [("10u", "short"), ("100p", "open")])
def test_a_known_value_is_judged_by_its_reactance(farads, fate):
    text = STAGES.replace("C2 ?", f"C2 {farads}")

    assert seen_by_position(text).fate("C2") == fate


def test_a_stage_without_any_values_still_joins_what_its_capacitors_couple():
    found = seen(STAGES)

    assert found.joined("in", "b")
    assert found.joined("c", "b2")
    assert found.is_zero("e")
    assert not found.joined("b", "c")


PARTLY_KNOWN = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output c
C1 10u : in b
R1 {upper} : vcc b
R2 10k : b gnd
Q1 npn : b=b c=c e=e
R3 2k2 : vcc c
R4 1k : e gnd
C2 47u : e gnd
R5 1k : vcc v1
C3 100u : v1 gnd
R6 1k : v1 gnd
"""


def test_a_part_at_a_device_that_could_not_be_solved_is_judged_by_position_and_others_by_number():
    found = seen(PARTLY_KNOWN.format(upper="?"))

    assert found.verdict("C2").assumed and found.fate("C2") == "short"
    assert found.verdict("C1").assumed and found.fate("C1") == "short"
    assert not found.verdict("C3").assumed and found.verdict("C3").rho is not None


def test_with_the_value_given_all_are_judged_by_number():
    found = seen(PARTLY_KNOWN.format(upper="47k"))

    assert not any(verdict.assumed for verdict in found.views.signal.verdicts.values())


def test_views_of_an_empty_circuit_are_empty():
    found = seen("signal 300Hz to 3.4kHz\nR1 1k : a gnd")

    assert found.views.signal.verdicts == {}
    assert found.views.wire.zero == 0
