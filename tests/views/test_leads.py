"""Leads: what a terminal reaches through its lead, and where the walk must stop."""

import pytest
from viewing import seen, seen_by_position

STAGE = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output c
R1 470k : vcc n
R2 470k : n gnd
C1 10u : in n
{stopper}
R3 1k : vcc c
R4 {emitter} : e gnd
Q1 npn : b=b c=c e=e
"""


def stage(stopper, emitter="100"):
    return seen(STAGE.format(stopper=stopper, emitter=emitter))


@pytest.mark.parametrize("name", ["wire", "signal"])
def test_a_control_terminal_reaches_past_its_stopper(name):
    reached = stage("R9 100 : n b").reach("Q1.b", "ctl", name)

    assert next(iter(reached.values())) == ()
    assert reached["n"] == ("R9",)


def test_the_first_lead_is_the_terminals_own_net_with_nothing_passed():
    found = stage("R9 100 : n b")

    assert next(iter(found.reach("Q1.b", "ctl", "wire").items())) == ("b", ())


def test_a_stopper_and_a_bead_one_after_the_other_are_one_lead():
    assert stage("FB1 bead 100 : n x\nR9 100 : x b").reach("Q1.b", "ctl", "wire")["n"] == ("R9", "FB1")


def test_a_lead_does_not_go_on_past_a_net_that_holds_something_else():
    found = stage("R8 100 : n x\nC9 10u : x gnd\nR9 100 : x b")

    assert "n" not in found.reach("Q1.b", "ctl", "wire")


def test_a_small_capacitor_on_a_stoppers_inner_net_does_not_end_the_lead():
    assert stage("R8 47 : n x\nC9 22p : x gnd\nR9 47 : x b").reach("Q1.b", "ctl", "wire")["n"] == ("R9", "R8")


def test_a_resistor_that_drops_more_than_fifty_millivolts_is_no_stopper():
    assert "n" not in stage("R9 4k7 : n b").reach("Q1.b", "ctl", "wire")


def test_the_upper_divider_resistor_is_no_lead_to_the_rail():
    found = stage("R9 100 : n b")

    assert "vcc" not in found.reach("Q1.b", "ctl", "wire")
    assert "gnd" not in found.reach("Q1.b", "ctl", "dc")


GRID = """
supply vp 250V
supply vbias -12V
signal 300Hz to 3.4kHz
input in
output a
C1 10n : in g
R1 470k : g x
R2 22k : x {leak}
C2 1u : x gnd
R5 47k : x gnd
R3 10k : vp a
V1 triode : a=a g=g k=gnd
"""


def test_a_grid_leak_is_a_bias_lead_and_no_signal_lead():
    found = seen(GRID.format(leak="vbias"))

    assert found.reach("V1.g", "ctl", "dc")["x"] == ("R1",)
    assert "x" not in found.reach("V1.g", "ctl", "signal")


def test_a_bias_lead_ends_on_no_rail():
    found = seen(GRID.format(leak="gnd"))

    assert "gnd" not in found.reach("V1.g", "ctl", "dc")


FEEDBACK = """
supply vcc 12V
signal 1.8MHz to 30MHz
input in
output c
L1 choke 47u : vcc c
R1 10k : vcc b
R2 1k : b gnd
R4 10 : e gnd
C3 100n : in b
R5 50 : c gnd
Q1 npn : b=b c={collector} e=e
R9 47 : b x
C9 10n : x c
"""


def test_a_stopper_sized_feedback_resistor_is_no_lead():
    found = seen(FEEDBACK.format(collector="c"))

    assert found.reach("Q1.b", "ctl", "signal").keys() == {"b"} or list(
        found.reach("Q1.b", "ctl", "signal").values()
    ) == [()]
    assert "x" not in found.reach("Q1.b", "ctl", "wire")


def test_the_same_resistor_towards_another_devices_collector_may_be_one():
    found = seen(FEEDBACK.format(collector="vcc").replace("R1 10k : vcc b\n", "R1 10k : vcc b\nR6 4k7 : c gnd\n"))

    assert "x" in found.reach("Q1.b", "ctl", "wire")


def test_a_terminal_at_ground_reaches_nothing_round_the_back():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        input in
        output out
        R1 220k : out b
        R2 1k : vcc out
        R3 10 : out2 gnd
        R9 100 : vcc out2
        C1 1u : in b
        Q1 npn : b=b c=out e=gnd
    """)

    for name in ("wire", "dc", "signal"):
        assert list(found.reach("Q1.e", "emt", name).values()) == [()]


def test_a_terminal_above_ground_does_reach_it_through_its_resistor():
    assert stage("R9 10 : n b", emitter="47").reach("Q1.e", "emt", "wire", limit=1.0)["gnd"] == ("R4",)


@pytest.mark.parametrize(("ohms", "reached"), [("27", True), ("150", False)])
def test_an_emitter_lead_has_a_hundred_ohm_and_a_quarter_volt_at_most(ohms, reached):
    assert ("gnd" in stage("R9 10 : n b", emitter=ohms).reach("Q1.e", "emt", "wire")) is reached


def test_a_pattern_may_widen_an_emitter_lead_by_volts():
    found = stage("R9 10 : n b", emitter="150")

    assert "gnd" in found.reach("Q1.e", "emt", "wire", limit=1.6)
    assert "gnd" not in found.reach("Q1.e", "emt", "wire", limit=0.3)


FOLLOWER = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output e
C1 1u : in b
R1 47k : vcc b
R2 100k : b gnd
R3 {collector} : vcc c
R4 2k2 : e gnd
Q1 npn : b=b c=c e=e
{more}
"""


def test_a_collector_lead_reaches_the_rail_past_a_small_resistor():
    found = seen(FOLLOWER.format(collector="220", more=""))

    assert found.reach("Q1.c", "col", "wire")["vcc"] == ("R3",)
    assert found.at_zero("Q1.c", "col")


def test_a_collector_resistor_from_which_a_signal_is_taken_is_a_load():
    found = seen(FOLLOWER.format(collector="220", more="C2 1u : c out2\nR5 10k : out2 gnd"))

    assert "vcc" not in found.reach("Q1.c", "col", "wire")


def test_a_collector_resistor_over_the_limit_is_a_load():
    assert "vcc" not in seen(FOLLOWER.format(collector="1k", more="")).reach("Q1.c", "col", "wire")


CASCODE = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output out
R1 22k : vcc r
R2 10k : r gnd
C2 {bypass} : r gnd
R9 47 : r b2
R3 2k2 : vcc out
Q2 npn : b=b2 c=out e=m
Q1 npn : b=b1 c=m e=e1
R4 470 : e1 gnd
R5 100k : vcc b1
R6 15k : b1 gnd
C1 10u : in b1
"""


def test_a_base_that_is_bypassed_behind_a_stopper_is_at_zero():
    assert seen(CASCODE.format(bypass="47u")).at_zero("Q2.b", "ctl")


def test_a_base_without_a_bypass_is_not():
    assert not seen(CASCODE.format(bypass="10p")).at_zero("Q2.b", "ctl")


def test_a_driven_base_with_a_grid_leak_to_a_bypassed_net_is_not_at_zero():
    assert not seen(GRID.format(leak="vbias")).at_zero("V1.g", "ctl")


def test_stoppers_and_beads_are_told_by_device():
    found = stage("FB1 bead 100 : n x\nR9 100 : x b")

    assert found.views.lead_evidence == {"Q1": ("R9", "FB1")}


def test_a_resistor_that_drops_voltage_is_not_among_them():
    assert stage("R9 10k : n b").views.lead_evidence == {}


def test_without_voltages_a_stopper_is_judged_by_its_ohms():
    text = STAGE.format(stopper="R9 {ohms} : n b", emitter="100")

    assert "n" in seen_by_position(text.format(ohms="470")).reach("Q1.b", "ctl", "wire")
    assert "n" not in seen_by_position(text.format(ohms="22k")).reach("Q1.b", "ctl", "wire")


PROTECTED = """
supply vp 15V
supply vn -15V
signal 30Hz to 15kHz
input b
output out
Q1 npn : b=b c=vp e=e
R1 0.22 : e out
Q2 npn : b=p c=b e=out
R2 100 : e p
R3 100k : b vp
LS1 speaker 8 : out gnd
"""


def test_an_off_protection_transistor_meets_the_output_transistor_at_the_load_but_is_off():
    found = seen(PROTECTED)

    assert "out" in found.reach("Q1.e", "emt", "wire")
    assert found.views.point.states[found.element("Q2")] == "off"
    assert found.views.point.states[found.element("Q1")] == "on"


PUSH_PULL = """
supply vcc 12V
signal 300Hz to 3.4kHz
R1 1k : vcc tap
D1 diode : tap gnd
T1 transformer 1:1+1 : in gnd | b1 tap b2
Q1 npn : b=b1 c=c1 e=gnd
Q2 npn : b=b2 c={second} e=gnd
T2 transformer 4+4:1 : c1 vcc c2 | o gnd
LS1 speaker 8 : o gnd
input in
"""


def test_the_ends_of_a_winding_are_one_net_at_direct_current_and_two_as_drawn():
    found = seen(PUSH_PULL.format(second="c2"))

    assert found.joined("c1", "c2", "dc")
    assert not found.joined("c1", "c2", "wire")
    assert not found.joined("c1", "c2", "signal")
    assert found.joined("b1", "b2", "dc") and not found.joined("b1", "b2", "signal")


def test_devices_in_parallel_have_one_collector_net_in_every_view():
    found = seen(PUSH_PULL.format(second="c1"))
    collectors = [found.graph.elements[found.element(ref)].node("c") for ref in ("Q1", "Q2")]

    for name in ("wire", "dc", "signal"):
        classes = found.view(name).class_of
        assert classes[collectors[0]] == classes[collectors[1]]
