"""Classes 4, 15, 16 and 22 where a pattern knows the part: what the numbers let go, and what they keep."""

import pytest
from test_further_classes import STAGE, fully, numbers

LOUDSPEAKER = """
supply vcc 20V
input in
output mid
signal 50Hz to 15kHz
C1 10u : in b
R1 100k : mid b
R2 10k : b gnd
Q1 npn : b=b c=low e=gnd
R3 1k : vcc high
D1 diode : high x
D2 diode : x low
Q2 npn IS=1p : b=high c=vcc e=e2
Q3 pnp IS=1p : b=low c=gnd e=e3
R4 0.47 : e2 mid
R5 0.47 : e3 mid
C2 1000u : mid far
L1 {henry} : far spk
R6 10 : far spk
LS1 speaker 8 : spk gnd
"""
FLASHER = """
supply vcc 9V
R1 470 : vcc a1
D1 led : a1 c1
R2 47k : vcc b1
C1 10u : c1 b2
Q1 npn : b=b1 c=c1 e=gnd
R3 470 : vcc a2
D2 led : a2 c2
R4 47k : vcc b2
C2 10u : c2 b1
Q2 npn : b=b2 c=c2 e=gnd
"""


@pytest.mark.parametrize(("ohms", "fates"), [("47", [("omitted", 4), ("omitted", 1)]), ("470", [("kept", 0)] * 2)])
def test_a_decoupled_feed_becomes_a_wire_where_it_drops_next_to_nothing(ohms, fates):
    made = fully(STAGE.format(top="fed") + f"R9 {ohms} : vcc fed\nC9 470u : fed gnd")

    assert [numbers(made, ref) for ref in ("R9", "C9")] == fates


@pytest.mark.parametrize(("henry", "fate"), [("2u2", ("omitted", 15)), ("100u", ("kept", 0))])
def test_an_output_coil_and_its_resistor_become_a_wire_where_they_are_one_in_the_band(henry, fate):
    made = fully(LOUDSPEAKER.format(henry=henry))

    assert numbers(made, "L1") == numbers(made, "R6") == fate


@pytest.mark.parametrize(("farad", "fate"), [("100p", ("omitted", 16)), ("10n", "kept")])
def test_a_stop_capacitor_goes_where_it_is_nothing_in_the_band(farad, fate):
    made = fully(STAGE.format(top="vcc") + f"C9 {farad} : col gnd")

    assert numbers(made, "C9") == fate if fate != "kept" else numbers(made, "C9")[0] == fate


def test_a_lamp_in_a_collectors_lead_is_no_indicator_between_rails():
    made = fully(FLASHER)

    assert [entry.fate for entry in made.ledger] == ["kept"] * 10
    assert not any(entry.rule == "put back" for entry in made.ledger)


def test_a_reservoir_goes_with_the_supply_section_that_fills_it():
    mains = "J1 plug : live neutral\nT1 transformer 19:1+1 : live neutral | a gnd b\n"
    filled = "D1 rectifier : a vcc\nD2 rectifier : b vcc\nC9 1000u : vcc gnd"
    made = fully(STAGE.format(top="vcc") + mains + filled)

    assert numbers(made, "C9") == ("omitted", 1)
    assert numbers(made, "T1") == ("omitted", 6)


PENTODE = """
supply ht 300V
input a
output ls
signal 80Hz to 8kHz
C1 22n : a g
R1 470k : g gnd
V1 pentode MU=19 EX=1.35 KG1=680 KG2=4200 KP=110 KVB=17 : a=p g1=gs g2=s g3=k k=k
R2 220 : k gnd
C2 50u : k gnd
R3 470 : ht s
T1 transformer 50:1 : p ht | ls gnd
LS1 speaker 4 : ls gnd
R7 4k7 : g gs
C5 8u : s gnd
C6 100n : s gnd
"""


def test_what_bypasses_a_point_goes_once_that_point_is_a_rail():
    made = fully(PENTODE)

    assert made.fates("omitted") == ("R3", "R7", "C5", "C6")
