"""The operating point: device states, potentiometers, transformers, supplies, members."""

import math

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.netlist import loads

MICROVOLT = 1e-6
NANOAMPERE = 1e-9


def solved(text):
    point = operating_point(loads(text))
    assert point.status == "solved", point.missing
    assert point.residual < NANOAMPERE
    return point


def state(point, ref):
    return point.states[point.graph.element_of[ref]]


def test_unloaded_divider_gives_the_ratio_of_its_resistors():
    point = solved("supply vcc 10V\noutput mid\nR1 3k : vcc mid\nR2 2k : mid gnd")

    assert point.voltage("mid") == approx(4.0, abs=MICROVOLT)  # Ohm's law


def test_a_capacitor_carries_nothing_and_a_choke_drops_its_winding_resistance():
    point = solved("supply v 10V\nL1 choke 1m rdc=5ohm : v a\nR1 5 : a gnd\nC1 1u : a gnd")

    assert point.voltage("a") == approx(5.0, abs=MICROVOLT)
    assert point.current("C1") == 0.0


def test_a_supply_with_resistance_sags():
    point = solved("supply v 10V 1\nR1 9 : v gnd\nD1 diode : gnd v")

    assert point.voltage("v") == approx(9.0, abs=1e-4)


def test_supplies_tell_the_current_that_they_deliver():
    point = solved("supply v 10V\nBT1 battery 5V : gnd n\nR1 1k : v gnd\nR2 1k : gnd n")

    assert point.supply_currents["v"] == approx(10e-3)
    assert point.supply_currents["BT1"] == approx(5e-3)


def test_batteries_in_a_row_add():
    point = solved("BT1 battery 9V : a gnd\nBT2 battery 1.5V : b a\nR1 1k : b gnd")

    assert point.voltage("b") == approx(10.5)


def test_a_wiper_divides_the_track():
    point = solved("supply v 10V\nVR1 10k at 30% : v w gnd\nQ1 nmos : g=w d=v s=gnd")

    assert point.voltage("w") == approx(7.0, abs=MICROVOLT)


def test_the_loose_end_of_a_rheostat_stands_at_its_wiper():
    point = solved("supply v 10V\nVR1 10k at 50% : v w x\nR1 5k : w gnd\nD1 diode : gnd w")

    assert point.voltage("x") == approx(5.0, abs=MICROVOLT)
    assert point.voltage("w") == approx(5.0, abs=1e-5)


def test_nets_inside_a_series_have_their_voltage():
    point = solved("supply v 10V\nR1 1k : v a\nR2 2k : b a\nR3 2k : b gnd")

    assert point.voltage("a") == approx(8.0)
    assert point.voltage("b") == approx(4.0)
    assert point.voltage("a", "b") == approx(4.0)


def test_members_of_a_set_have_their_own_currents_into_their_first_terminals():
    point = solved("supply v 10V\nR1 1k : v a\nR2 2k : gnd a\nR3 2k : a gnd")

    assert point.current("R1") == approx(5e-3)
    assert point.current("R2") == approx(-2.5e-3)
    assert point.current("R3") == approx(2.5e-3)


def test_the_net_between_two_capacitors_has_no_known_voltage():
    point = operating_point(loads("supply v 10V\nC1 1u : v a\nC2 1u : a gnd\nR1 1k : v gnd"))

    assert math.isnan(point.voltage("a"))


def test_windings_are_wires_at_direct_current():
    point = solved("supply v 9V\nT1 transformer 5+5:1 : p1 v p2 | s gnd\nR1 1k : p1 gnd\nR2 8 : s gnd\nR3 1k : p2 gnd")

    assert point.voltage("p1") == approx(9.0, abs=1e-3)
    assert point.voltage("s") == approx(0.0, abs=MICROVOLT)


def test_a_stated_winding_resistance_counts():
    point = solved("supply v 9V\nT1 transformer 3:1 rdc=100ohm : v a | s gnd\nR1 800 : a gnd\nR2 8 : s gnd")

    assert point.voltage("a") == approx(8.0, abs=1e-4)


@pytest.mark.parametrize(
    "text, wanted",
    [
        ("R1 100k : v b\nR2 1k : v c\nQ1 npn : b=b c=c e=gnd", "on"),
        ("R1 10k : v b\nR2 1k : v c\nQ1 npn : b=b c=c e=gnd", "saturated"),
        ("R1 10k : gnd b\nR2 1k : v c\nQ1 npn : b=b c=c e=gnd", "off"),
        ("R1 10k : v b\nR2 1k : v e\nQ1 npn : b=b c=gnd e=e", "reversed"),
        ("R2 1k : v c\nQ1 npn : b=c c=c e=gnd", "on"),
        ("R2 1k : v c\nQ1 npn germanium : b=c c=c e=gnd", "on"),
        ("R1 1M : g gnd\nR2 100 : v d\nQ1 njfet : g=g d=d s=gnd", "on"),
        ("R1 1M : g gnd\nR2 100k : v d\nQ1 njfet : g=g d=d s=gnd", "saturated"),
        ("R1 1M : g gnd\nR2 1k : v d\nQ1 nmos : g=g d=d s=gnd", "off"),
        ("R1 1M : g v\nR2 1k : v d\nQ1 nmos : g=g d=d s=gnd", "saturated"),
        ("R1 1M : g gnd\nR2 100k : v a\nR3 1k : k gnd\nQ1 triode : a=a g=g k=k", "on"),
    ],
)
def test_devices_tell_their_state(text, wanted):
    text = text.replace("Q1 triode", "V1 triode")
    point = solved(f"supply v 12V\n{text}")

    assert state(point, "V1" if "triode" in text else "Q1") == wanted


@pytest.mark.parametrize(
    "text, wanted",
    [
        ("R1 1k : v a\nD1 diode : a gnd", "forward"),
        ("R1 1k : v a\nD1 diode : gnd a", "off"),
        ("R1 1k : v a\nD1 zener 5V6 : gnd a", "breakdown"),
        ("R1 1k : v a\nD1 zener 15V : gnd a", "off"),
        ("R1 1k : v a\nD1 led : a gnd", "forward"),
        ("R1 1k : v a\nD1 germanium diode : gnd a", "off"),
    ],
)
def test_diodes_tell_their_state(text, wanted):
    assert state(solved(f"supply v 12V\n{text}"), "D1") == wanted


def test_a_zener_stands_at_its_voltage_at_its_test_current():
    point = solved("supply v 10.6V\nR1 1k : v a\nD1 zener 5V6 : gnd a")

    assert point.voltage("a") == approx(5.6, abs=1e-4)  # 5 mA, the test current


def test_series_resistances_count():
    point = solved("supply v 10V\nR1 100 : v a\nD1 diode RS=10 : a gnd")
    plain = solved("supply v 10V\nR1 100 : v a\nR2 10 : b gnd\nD1 diode : a b")

    assert point.voltage("a") == approx(plain.voltage("a"), abs=MICROVOLT)


def test_an_op_amp_follows_its_feedback():
    point = solved(
        "supply p 12V\nsupply n -12V\nV1 source 1V : in gnd\n"
        "U1 opamp : in+=in in-=m out=o v+=p v-=n\nR1 9k : o m\nR2 1k : m gnd"
    )

    assert point.voltage("o") == approx(10.0, rel=1e-3)
    assert state(point, "U1") == "on"


def test_an_op_amp_stops_a_volt_and_a_half_inside_its_supplies():
    point = solved(
        "supply p 12V\nsupply n -12V\nV1 source -3V : in gnd\n"
        "U1 opamp : in+=in in-=m out=o v+=p v-=n\nR1 9k : o m\nR2 1k : m gnd"
    )

    assert point.voltage("o") == approx(-10.5, abs=0.01)
    assert state(point, "U1") == "saturated"


def test_an_op_amp_takes_its_output_current_from_its_supply():
    point = solved("supply p 12V\nV1 source 5V : in gnd\nU1 opamp : in+=in in-=o out=o v+=p v-=gnd\nR1 1k : o gnd")

    assert point.supply_currents["p"] == approx(5e-3, rel=1e-3)


def test_an_op_amp_without_supply_pins_keeps_to_its_limit_or_has_none():
    text = "V1 source 5V : in gnd\nU1 opamp {} : in+=in in-=m out=o\nR1 9k : o m\nR2 1k : m gnd"

    assert solved(text.format("")).voltage("o") == approx(50, rel=1e-3)
    assert solved(text.format("VMAX=13")).voltage("o") == approx(13, abs=0.01)


def test_a_comparator_with_hysteresis_is_found_at_one_of_its_limits():
    point = solved(
        "supply p 12V\nV1 source 5V : in gnd\nU1 opamp : in+=m in-=in out=o v+=p v-=gnd\n"
        "R1 10k : o m\nR2 10k : m p\nR3 20k : m gnd"
    )

    assert min(abs(point.voltage("o") - 1.5), abs(point.voltage("o") - 10.5)) < 0.01


@pytest.mark.parametrize("supply, wanted, named", [(12, 5.0, "on"), (5.0, 4.0, "saturated")])
def test_a_regulator_holds_its_output_while_it_has_headroom(supply, wanted, named):
    point = solved(f"supply v {supply}V\nU1 regulator 5V : in=v out=o common=gnd\nR1 1k : o gnd")

    assert point.voltage("o") == approx(wanted, abs=0.01)
    assert state(point, "U1") == named
    assert point.supply_currents["v"] == approx(wanted / 1e3, rel=0.01)


def test_a_negative_regulator_holds_a_negative_output():
    point = solved("supply v -12V\nU1 regulator -5V : in=v out=o common=gnd\nR1 1k : o gnd")

    assert point.voltage("o") == approx(-5.0, abs=0.01)


def test_a_lamp_is_its_rated_volts_over_its_rated_current():
    assert solved("supply v 6V\nLP1 lamp 12V 50mA : v gnd").current("LP1") == approx(25e-3)


def test_a_thermistor_follows_its_beta():
    text = "temperature {}\nsupply v 10V\nTH1 ntc 10k B=3950 : v a\nR1 10k : a gnd\noutput a"

    assert solved(text.format(25)).voltage("a") == approx(5.0, abs=1e-4)
    hot = solved(text.format(50)).voltage("a")
    assert 10 * 1e4 / hot - 1e4 == approx(1e4 * math.exp(3950 * (1 / 323.15 - 1 / 298.15)), rel=1e-6)


def test_a_port_behind_a_capacitor_is_held_at_its_reference():
    point = solved("supply v 9V\ninput in\nC1 1u : in b\nR1 1M : v b\nR2 1k : v c\nQ1 npn : b=b c=c e=gnd")

    assert point.voltage("in") == 0.0


MIRRORED = """
supply v {sign}12V
R1 47k : v b
R2 10k : b gnd
R3 2.2k : v c
R4 1k : e gnd
Q1 {bjt} : b=b c=c e=e
D1 diode : {anode} {cathode}
R5 1k : v d
Q2 {fet} : g=c d=d s=s
R6 100 : s gnd
"""


def test_turning_every_polarity_over_mirrors_all_voltages():
    plus = solved(MIRRORED.format(sign="", bjt="npn", anode="c", cathode="d", fet="nmos"))
    minus = solved(MIRRORED.format(sign="-", bjt="pnp", anode="d", cathode="c", fet="pmos"))

    for net in ("b", "c", "e", "d", "s"):
        assert minus.voltage(net) == approx(-plus.voltage(net), abs=MICROVOLT)
    assert plus.states == minus.states


def test_what_is_assumed_of_a_device_is_said():
    point = solved("supply v 9V\nR1 1k : v c\nR2 100k : v b\nQ1 npn type7 : b=b c=c e=gnd")

    assert "hFE 100" in point.assumed["Q1"]
    assert "IS 10 fA" in point.assumed["Q1"]


def test_what_is_given_of_a_device_is_not_called_assumed():
    point = solved("device t npn IS=1f hFE=200\nsupply v 9V\nR1 1k : v c\nR2 100k : v b\nQ1 t : b=b c=c e=gnd")

    assert "Q1" not in point.assumed


def test_an_assumed_wiper_is_said():
    point = solved("supply v 9V\nVR1 10k : v w gnd\nR1 1k : w a\nD1 diode : a gnd")

    assert "VR1" in point.assumed


@pytest.mark.parametrize("link", ["M1 meter", "F1 fuse 1A", "S1 switch closed", "R9 1m"])
def test_a_link_tells_the_current_that_flows_in_it(link):
    point = solved(f"supply v 10V\nR3 1k : v gnd\n{link} : v w\nR1 1k : w gnd\nR2 1k : w a\nD1 diode : gnd a")

    assert point.current(link.split()[0]) == approx(10e-3, rel=1e-6)


def test_a_meter_the_other_way_round_reads_the_other_way():
    point = solved("BT1 battery 10V : v gnd\nM1 meter : w v\nR1 1k : w gnd\nD1 diode : gnd w")

    assert point.current("M1") == approx(-10e-3, rel=1e-6)


def test_meters_in_one_lead_read_the_same():
    point = solved("supply v 10V\nM1 meter : v w\nF1 fuse : w x\nR1 1k : x gnd\nR2 1k : w gnd")

    assert point.current("M1") == approx(20e-3)
    assert point.current("F1") == approx(10e-3)


def test_two_meters_side_by_side_have_no_known_reading():
    point = solved("supply v 10V\nM1 meter : v w\nM2 meter : v w\nR1 1k : w gnd")

    assert math.isnan(point.current("M1"))


def test_a_battery_with_resistance_sags_under_load():
    point = operating_point(loads("BT1 9V R=1 : a gnd\nR1 8 : a gnd"))

    assert point.voltage("a") == approx(8.0, rel=1e-9)


def test_the_residual_is_that_of_kirchhoffs_law_at_the_solution():
    point = operating_point(
        loads("supply v 9V\nR1 10k : v b\nR2 2k : b gnd\nR3 1k : v c\nQ1 npn : b=b c=c e=e\nR4 100 : e gnd")
    )
    sums = dict.fromkeys(range(len(point.graph.nets)), 0.0)
    for element, amperes in zip(point.graph.elements, point.currents, strict=True):
        for node, current in zip(element.nodes, amperes, strict=True):
            sums[node] += current
    inner = [abs(sums[point.graph.node_of[net]]) for net in ("b", "c", "e")]

    assert max(inner) < 1e-9
    assert point.residual < 1e-9


def test_a_variable_resistor_at_nothing_between_two_bases_is_solved():
    point = operating_point(
        loads(
            "supply v 30V\nR1 3k : v hi\nVR1 470 at 100% : hi hi q\nD1 diode : q lo\nQ2 npn : b=b c=lo e=gnd\n"
            "R2 150k : m b\nR9 10k : b gnd\nQ3 npn : b=hi c=v e=d3\nQ4 pnp : b=lo c=d4 e=m\nR6 100 : d3 m\n"
            "R7 100 : d4 gnd\nQ5 npn : b=d3 c=v e=s5\nQ6 npn : b=d4 c=m e=gnd\nR8 0.5 : s5 m"
        )
    )

    assert point.status == "solved"
    assert point.residual < 1e-9
    assert point.voltage("hi") == approx(point.voltage("q"), abs=1e-4)
