"""What is a short, an open or a part for the signal: groups, thresholds, and the traps of judging.

Least circuits and expected ratios are worked by hand from |Zg| / |Zrest|; kept as neighbours are circuits where one
change turns the answer over.
"""

import math

import pytest
from pytest import approx
from viewing import seen

STAGE = """
supply vcc 12V
signal {band}
input in
output out
R1 47k : vcc b
R2 10k : b gnd
R3 3k3 : vcc c
R4 680 : e gnd
R5 10k : out gnd
C1 10u : in b
C2 10u : c out
C3 {bypass} : e gnd
Q1 npn : b=b c=c e=e
"""


def stage(bypass="100u", band="100Hz to 10kHz"):
    return seen(STAGE.format(bypass=bypass, band=band))


def divider(ohms, farads, band="300Hz to 3kHz"):
    """A capacitor to ground behind one resistor: rho is its reactance over the resistor's ohms, inverted for an open.
    At 948.7 Hz, the middle of the band."""
    return seen(f"""
        supply v 9V
        signal {band}
        R1 {ohms} : v a
        C1 {farads} : a gnd
    """)


TWINS = """
supply vcc 12V
signal 1MHz to 10MHz
R1 100 : vcc a
C1 100n : a {first}
C2 100n : a {second}
"""


@pytest.mark.parametrize(("first", "second"), [("gnd", "gnd"), ("gnd", "vcc")])
def test_twins_are_judged_as_one_and_do_not_hide_each_other(first, second):
    found = seen(TWINS.format(first=first, second=second))

    assert found.fate("C1") == "short"
    assert found.verdict("C1").rho == approx(0.0025, rel=0.02)  # 200 nF at 3.16 MHz: 0.25 ohm against 100 ohm


def test_two_capacitors_with_a_resistor_between_them_are_no_twins():
    found = seen("""
        supply vcc 9V
        signal 1MHz to 10MHz
        R1 100 : vcc a
        C1 100n : a gnd
        R2 1 : a b
        C2 100n : b gnd
    """)

    assert found.verdict("C1").rho == approx(0.45, abs=0.01)  # 0.50 ohm against 1 ohm in series with 0.50 ohm


def test_a_choke_between_two_held_nets_is_judged_before_any_short_is_applied():
    found = seen("""
        supply vcc 12V
        signal 1.8MHz to 30MHz
        R1 1k : vcc n1
        C2 100n : n1 gnd
        L1 10u : n1 n2
        C3 22n : n2 gnd
        R2 100 : n2 gnd
    """)

    assert found.fate("L1") == "open"
    assert found.verdict("L1").rho > 200
    assert found.is_zero("n1") and found.is_zero("n2")


def test_the_same_coil_between_nets_that_move_is_a_wire():
    found = seen("""
        supply vcc 12V
        signal 1.8MHz to 30MHz
        input n1
        output n2
        R1 10k : vcc n1
        L1 1u : n1 n2
        R2 10k : n2 gnd
    """)

    assert found.fate("L1") == "short"
    assert found.joined("n1", "n2")


def test_two_chokes_that_meet_once_their_nets_are_one_stay_two_groups():
    found = seen("""
        supply vcc 12V
        signal 1.8MHz to 30MHz
        L1 choke 10u : vcc a
        C1 100n : a gnd
        R1 10 : a b
        C2 100n : b gnd
        L2 choke 10u : vcc b
    """)

    assert found.verdict("L1").group == (found.element("L1"),)
    assert found.verdict("L2").group == (found.element("L2"),)


BYPASSED_DIODE = """
supply v 9V
signal 300Hz to 3.4kHz
R1 820 : v t
D1 diode : {diode}
C1 47u : t gnd
"""


def test_a_bypass_across_a_conducting_diode_is_judged_with_it():
    found = seen(BYPASSED_DIODE.format(diode="t gnd"))

    assert found.verdict("C1").group == (found.element("C1"), found.element("D1"))
    assert found.fate("C1") == "short" and found.fate("D1") == "short"
    assert found.is_zero("t")


def test_a_diode_that_does_not_conduct_is_no_wire():
    found = seen(BYPASSED_DIODE.format(diode="gnd t"))

    assert found.element("D1") not in found.views.signal.verdicts
    assert found.element("D1") in found.views.signal.present


def test_a_capacitor_across_an_ideal_rail_has_no_effect():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc gnd
        C1 100n : vcc gnd
    """)

    assert found.fate("C1") == "no effect"
    assert found.verdict("C1").rho is None


def test_a_capacitor_across_a_rail_with_a_source_resistance_is_judged():
    found = seen("""
        supply vcc 12V 10
        signal 300Hz to 3.4kHz
        R1 1k : vcc gnd
        C1 1000u : vcc gnd
    """)

    assert found.fate("C1") == "short"
    assert found.verdict("C1").facing == approx(10, rel=0.02)


def test_an_emitter_bypass_with_its_corner_in_the_band_is_a_short_with_a_remark():
    verdict = stage("100u").verdict("C3")

    assert verdict.fate == "short"
    assert verdict.rho == approx(0.11, abs=0.01)
    assert verdict.remark == "its corner lies in the band"


def test_an_emitter_bypass_is_compared_with_re_and_not_with_its_resistor():
    assert stage("1u").verdict("C3").facing < 30
    assert stage("1u").fate("C3") == "open"


def test_a_bypass_far_below_the_band_has_no_remark():
    assert stage("4700u").verdict("C3").remark == ""


AMPLIFIER_WITH_A_CLOSED_LOOP = """
supply vp 15V
supply vn -15V
signal {band}
input in
output o
U1 opamp : in+=in in-=f out=a v+=vp v-=vn
R1 100 : a b
R8 22k : in gnd
Q1 npn : b=b c=vp e=m
Q2 pnp : b=b c=vn e=m
R6 10k : m f
R7 1k : f gnd
L1 2u2 : m o
LS1 speaker 8 : o gnd
"""


def test_an_output_coil_within_a_closed_loop_is_a_wire_though_both_its_ends_are_stiff():
    found = seen(AMPLIFIER_WITH_A_CLOSED_LOOP.format(band="300Hz to 3.4kHz"))

    assert found.fate("L1") == "short"
    assert found.verdict("L1").facing == approx(8, rel=0.05)
    assert found.joined("m", "o")


def test_the_same_coil_is_no_wire_where_its_reactance_is_that_of_the_load():
    found = seen(AMPLIFIER_WITH_A_CLOSED_LOOP.format(band="300kHz to 3MHz"))

    assert not found.joined("m", "o")


HANGING = """
supply vcc 9V
signal 300Hz to 3.4kHz
input in
output c
R1 1k : vcc c
Q1 npn : b=b c=c e=gnd
R2 220k : c b
C2 1u : b in
C1 1u : c x
L1 1m : c y
{more}
"""


def test_a_capacitor_that_hangs_in_the_air_is_undecided_and_a_coil_there_is_a_wire():
    found = seen(HANGING.format(more="D1 diode : y z"))

    assert found.fate("C1") == "undecided"
    assert not found.joined("c", "x")
    assert found.fate("L1") == "short"


def test_a_capacitor_that_leads_somewhere_is_decided():
    found = seen(HANGING.format(more="R9 10k : x gnd"))

    assert found.fate("C1") == "short"
    assert found.joined("c", "x")


def test_a_capacitor_into_a_very_high_grid_leak_is_a_short():
    found = seen("""
        supply vp 250V
        signal 300Hz to 3.4kHz
        input in
        output a
        C1 1n : in g
        R1 47M : g gnd
        R3 100k : vp a
        R4 1k : k gnd
        V1 triode : a=a g=g k=k
    """)

    assert found.fate("C1") == "short"


@pytest.mark.parametrize(
    ("rho", "fate"),
    [(0.05, "short"), (0.49, "short"), (0.51, "shaping"), (1.9, "shaping"), (2.1, "open"), (30, "open")],
)
def test_a_wide_band_takes_half_for_a_short_and_twice_for_an_open(rho, fate):
    middle = math.sqrt(300 * 3000)
    farads = 1.0 / (2 * math.pi * middle * 1000 * rho)

    assert divider("1k", f"{farads:.6e}").fate("C1") == fate


@pytest.mark.parametrize(("rho", "fate"), [(0.19, "short"), (0.21, "shaping"), (4.9, "shaping"), (5.1, "open")])
def test_a_narrow_band_takes_a_fifth_and_five_times(rho, fate):
    middle = math.sqrt(900 * 1000)
    farads = 1.0 / (2 * math.pi * middle * 1000 * rho)

    assert divider("1k", f"{farads:.6e}", "900Hz to 1000Hz").fate("C1") == fate


def test_a_pi_network_in_a_narrow_band_keeps_its_coil_and_both_capacitors():
    found = seen("""
        supply vcc 12V
        signal 6.8MHz to 7.2MHz
        input b
        output o
        L1 choke 100u : vcc c
        R2 100k : vcc b
        Q1 npn : b=b c=c e=gnd
        C3 22n : c m
        L3 470n : m o
        C4 560p : m gnd
        C5 470p : o gnd
        R3 50 : o gnd
    """)

    assert found.fate("L3") == found.fate("C4") == found.fate("C5") == "shaping"
    assert found.fate("C3") == "short"
    assert found.fate("L1") == "open"


@pytest.mark.parametrize(("henries", "remark"), [("1u", True), ("100u", False)])
def test_a_winding_that_loads_the_bottom_of_the_band_says_so_and_stays_a_part(henries, remark):
    found = seen(f"""
        supply vcc 12V
        signal 1.8MHz to 30MHz
        input b
        output o
        R1 22k : c b
        Q1 npn : b=b c=c e=gnd
        T1 transformer 2:1 primary={henries} : vcc c | o gnd
        R2 50 : o gnd
    """)

    verdict = found.verdict("T1")

    assert verdict.fate == "kept"
    assert bool(verdict.remark) is remark


def test_an_open_that_begins_to_act_at_the_top_of_the_band_says_so():
    verdict = divider("1k", "80n").verdict("C1")

    assert verdict.fate == "open"
    assert verdict.remark == "begins to act at the top of the band"


def test_a_part_without_a_value_is_judged_by_position_and_marked():
    verdict = stage("?").verdict("C3")

    assert verdict.fate == "short"
    assert verdict.assumed
    assert verdict.rho is None


def test_a_merge_tells_which_parts_made_it():
    found = stage()

    assert found.why("in", "b") == ("C1",)
    assert found.why("e", "gnd") == ("C3",)
    assert found.why("vcc", "gnd") == ()
    assert found.views.signal.why(found.node("b"), found.node("c")) is None


BEADED = """
supply vcc 13.5V
signal 1.8MHz to 30MHz
input in
output c
C1 100n : in g
R2 220 : vcc g
R3 27 : g gnd
{lead}
Q1 npn : b=b c=c e=gnd
T2 transformer 2:1 : c vcc | o gnd
R5 50 : o gnd
"""


def test_a_bead_that_is_the_only_way_to_a_base_is_a_part_however_little_it_faces():
    found = seen(BEADED.format(lead="FB1 bead 100 : g b"))

    assert found.verdict("FB1").rho > 2
    assert found.fate("FB1") == "shaping"
    assert found.reach("Q1.b", "ctl", "signal")["g"] == ("FB1",)


def test_a_bead_beside_another_way_in_is_judged_by_its_number():
    found = seen(BEADED.format(lead="FB1 bead 100 : g b\nR6 1 : g b"))

    assert found.fate("FB1") == "open"
