"""Near misses of stages of one device: one lead, one role or one electrode is wrong, and that is said with its line."""

from __future__ import annotations

import pytest

STAGE = """\
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
R1 56k : vcc base
R2 12k : base gnd
C1 4u7 : in base
Q1 npn : b=base c=col e=emit
R3 3k3 : vcc col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
"""
FOLLOWER = """\
supply vee -9V
input in
output out
signal 100Hz to 10kHz
R1 100k : vee b
R2 100k : b gnd
C1 1u : in b
Q1 pnp : b=b c=vee e=e
R3 2k2 : e gnd
C2 47u : e out
R4 600 : out gnd
"""
TRIODE = """\
supply ht 250V
input in
output out
signal 100Hz to 10kHz
R1 1M : in gnd
V1 triode : g=in a=a k=k
R2 1k5 : k gnd
C1 47u : k gnd
R3 100k : ht a
C2 22n : a out
R4 470k : out gnd
"""
# A mute: its transistor is off until the switch closes, and is no stage.
MUTED = """\
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
R1 56k : vcc base
R2 12k : base gnd
C1 4u7 : in base
Q1 npn : b=base c=col e=emit
R3 3k3 : vcc col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
S1 switch open : vcc m
R6 22k : m mb
R7 10k : mb gnd
Q2 npn : b=mb c=out e=gnd
"""


def told(reading, text):
    """The line and the question of each near miss."""
    return [(miss.source.split()[0], miss.suggestion) for miss in reading(text).near_misses]


def line_added(ends):
    return f"is a line missing, such as a resistor from {ends}?"


@pytest.mark.parametrize("text", [STAGE, FOLLOWER, TRIODE, MUTED])
def test_a_stage_without_a_slip_has_no_near_miss(reading, text):
    assert told(reading, text) == []


@pytest.mark.parametrize(
    ("line", "ends"),
    [
        ("R1 56k : vcc base", "vcc to base"),
        ("R2 12k : base gnd", "gnd to base"),
        ("R3 3k3 : vcc col", "vcc to col"),
        ("R4 1k : emit gnd", "gnd to emit"),
    ],
)
def test_a_resistor_left_out_is_asked_for_at_the_electrode_that_lacks_it(reading, line, ends):
    assert told(reading, STAGE.replace(line, "")) == [("Q1", line_added(ends))]


def test_the_anode_without_a_way_for_its_current_is_told(reading):
    assert told(reading, TRIODE.replace("R3 100k : ht a\n", "")) == [("V1", line_added("ht to a"))]


@pytest.mark.parametrize(
    ("right", "wrong", "question"),
    [
        ("R1 56k : vcc base", "R1 56k : vcc basex", "did you mean base?"),
        ("R4 1k : emit gnd", "R4 1k : emitx gnd", "did you mean emit?"),
        ("R1 56k : vcc base", "R1 56k : vccx base", "did you mean vcc?"),
    ],
)
def test_an_end_in_the_air_that_takes_the_current_away_is_told_with_its_own_line(reading, right, wrong, question):
    assert told(reading, STAGE.replace(right, wrong)) == [(right.split()[0], question)]


@pytest.mark.parametrize(
    ("wrong", "question"),
    [
        ("b=col c=base e=emit", "are base and collector exchanged?"),
        ("b=emit c=col e=base", "are base and emitter exchanged?"),
        ("b=base c=emit e=col", "are emitter and collector exchanged?"),
    ],
)
def test_any_two_electrodes_exchanged_are_told(reading, wrong, question):
    assert told(reading, STAGE.replace("b=base c=col e=emit", wrong)) == [("Q1", question)]


def test_electrodes_of_a_valve_are_called_by_their_names(reading):
    (miss,) = reading(TRIODE.replace("g=in a=a k=k", "g=in a=k k=a")).near_misses

    assert miss.suggestion == "are cathode and anode exchanged?"


def test_the_wrong_polarity_is_told_rather_than_a_stage_that_would_be_another_one(reading):
    assert told(reading, STAGE.replace("Q1 npn", "Q1 pnp")) == [("Q1", "did you mean npn?")]
    assert told(reading, FOLLOWER.replace("Q1 pnp", "Q1 npn")) == [("Q1", "did you mean pnp?")]


def test_what_the_stage_would_be_is_named(reading):
    (miss,) = reading(FOLLOWER.replace("R3 2k2 : e gnd\n", "")).near_misses

    assert miss.message.startswith("Nearly an emitter follower: Q1.")


FED_BACK = """\
supply ht 280V
input in
output sp
signal 60Hz to 12kHz
R1 1M : in gnd
V1 triode : g=in a=a1 k=k1
R2 2k2 : k1 fb
R3 100 : fb gnd
C1 25u : k1 fb
R4 100k : ht a1
C2 22n : a1 g2
R5 470k : g2 gnd
V2 pentode : a=pa g1=g2 g2=ht g3=k2 k=k2
R6 270 : k2 gnd
C3 50u : k2 gnd
T1 transformer 36:1 primary=10H : pa ht | sp gnd
LS1 speaker 4 : sp gnd
R7 2k2 : sp fb
"""


def test_feedback_from_a_winding_in_the_right_sense_is_no_near_miss(reading):
    assert told(reading, FED_BACK) == []


def test_feedback_that_adds_to_the_signal_is_told_with_the_winding_to_turn_round(reading):
    wrong = FED_BACK.replace("pa ht | sp gnd", "pa ht | gnd sp")

    assert told(reading, wrong) == [("T1", "are the ends of the second winding of T1 exchanged?")]
