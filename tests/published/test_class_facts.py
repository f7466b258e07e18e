"""Facts about classes of operation and about single stages, each with its source in words.

TC 9-62: US Army, TC 9-62 Solid State Devices and Solid State Power Supplies, 2005, read. E84: R. Wang, Introduction to
Electrical Engineering, lecture notes, chapter 4, read. LIEC3: Kuphaldt and others, Lessons in Electric Circuits, volume
III, read. NEETS 8: US Navy, NEETS Module 8, answers page, read. Malvino and Floyd as restated in their solved-examples
companions.
"""

import math

import pytest
from pytest import approx

from topo.analysis import apply_signal, operating_point
from topo.analysis.large_signal import drive
from topo.analysis.parameters import device_parameters
from topo.analysis.physics import GERMANIUM_GAP, saturation_current
from topo.errors import NetlistError
from topo.graph import normalise
from topo.netlist import loads

IDEAL = "device n npn IS=1e-9 N=0.02 hFE=1e6\ndevice p pnp IS=1e-9 N=0.02 hFE=1e6\n"


def driven(text, amplitude, **options):
    graph = normalise(loads(text))
    cycle = drive(graph, operating_point(graph), amplitude=amplitude, frequency=1e3, **options)
    assert cycle.steady, cycle.missing
    return cycle


def biased(volts):
    """A device that opens at 0 V, a choke in its collector lead and 1 V of drive about a bias."""
    return driven(
        f"""{IDEAL}
        supply vcc 100V
        input in
        output e
        V1 source {volts}V : b in
        Q1 n : b=b c=c e=e
        R1 10 : e gnd
        R2 10 : vcc c
        R3 1k : in gnd
        """,
        1.0,
        instants=1024,
    ).device("Q1")


@pytest.mark.parametrize(
    ("bias", "letter", "least", "most"),
    [(1.3, "A", 360, 360), (0.3, "AB", 181, 359), (0.0, "B", 170, 190), (-0.5, "C", 1, 170)],
)
def test_the_bias_alone_decides_the_class_by_how_long_current_flows(bias, letter, least, most):
    # F01 to F05: class A the whole cycle, AB between half and the whole, B half, C less; set by the bias. TC 9-62
    # par. 5-22 to 5-28; E84 "Different classes of amplifier"; LIEC3 "Biasing techniques"; NEETS 8 A7 and A8.
    device = biased(bias)

    assert device.letter == letter
    assert least <= device.angle <= most


def pair(spread):
    """Two followers whose bases are held apart by twice so many volts, 10 ohm in each emitter lead."""
    return f"""{IDEAL}
        supply vp 100V
        supply vn -100V
        input in
        output o
        BT1 battery {spread}V : a in
        BT2 battery {spread}V : in b
        Q1 n : b=a c=vp e=e1
        Q2 p : b=b c=vn e=e2
        R1 10 : e1 o
        R2 10 : e2 o
        R3 1k : in gnd
        R4 100 : o gnd
        """


@pytest.mark.parametrize(("spread", "letter"), [(3.0, "A"), (0.3, "AB"), (0.0, "B")])
def test_push_pull_works_in_class_a_ab_and_b(spread, letter):
    # F06, NEETS 8 A33.
    cycle = driven(pair(spread), 10.0, instants=512)

    assert [cycle.device(ref).letter for ref in ("Q1", "Q2")] == [letter, letter]


def test_the_quiescent_current_of_class_b_is_nothing_and_that_of_class_ab_a_little_above():
    # F08, LIEC3 "Biasing techniques".
    none, little = (driven(pair(spread), 10.0, instants=256).device("Q1") for spread in (0.0, 0.3))

    assert none.rest < 1e-4 * none.peak
    assert 0 < little.rest < 0.5 * little.peak


def test_a_class_ab_pair_is_in_class_a_up_to_a_load_current_of_twice_its_idle_current():
    # F23, common practice: 0.3 V / 10 ohm = 30 mA at rest, so up to 60 mA in the load.
    rest = abs(operating_point(loads(pair(0.3))).current("Q1"))
    below, above = (driven(pair(0.3), share * 2 * rest * 105, instants=1024) for share in (0.95, 1.1))

    assert rest == approx(30e-3, rel=0.05)
    assert below.current("Q1").min() > 1e-5 and abs(below.current("Q2")).min() > 1e-5
    assert above.current("Q1").min() < 1e-5


def test_class_a_swings_most_from_half_of_the_saturation_current():
    # F07, LIEC3 "Biasing techniques": the quiescent current is half of the load line's end.
    def clear(share):
        """How far the collector may swing both ways from a rest at a share of the saturation current."""
        point = operating_point(
            loads(f"{IDEAL}supply vcc 10V\nV1 source {share}V : b gnd\nQ1 n : b=b c=c e=e\nR1 1 : e gnd\nR2 10 : vcc c")
        )
        return min(10.0 - point.voltage("c"), point.voltage("c") - point.voltage("e"))

    assert max((clear(share / 100), share / 100) for share in range(5, 100, 5))[1] == approx(0.45, abs=0.06)


def test_class_b_draws_two_over_pi_of_its_peak_and_needs_devices_of_a_fifth_of_its_power():
    # F19, Boylestad example 12.7 and Malvino example 12-9 (companions): 2 Ip/pi. F17, Malvino example 12-8: each
    # device is rated at a fifth of the greatest load power; exactly 0.2026 of it, at 2/pi of the whole swing.
    whole = 20.0**2 / 2 / 10
    cycle = driven(
        f"{IDEAL}supply vp 20V\nsupply vn -20V\ninput in\noutput o\nQ1 n : b=in c=vp e=o\nQ2 p : b=in c=vn e=o\n"
        "R1 10 : o gnd",
        20 * 2 / math.pi,
    )
    crest = cycle.output.max() / 10

    assert abs(cycle.supply_currents["vp"]) + abs(cycle.supply_currents["vn"]) == approx(2 * crest / math.pi, rel=0.01)
    assert cycle.device("Q1").dissipation / whole == approx(0.2026, rel=0.01)
    assert cycle.device("Q1").dissipation / whole == approx(1 / 5, rel=0.02)


def test_class_b_is_between_one_and_a_half_and_three_times_as_efficient_as_class_a():
    # F24, TC 9-62 par. 5-27: about twice in practice; at full swing 78.5 % against 50 % with a choke and 25 % with a
    # resistor in the collector lead.
    stage = "supply vcc 20V\ninput in\nV1 source 1V : b in\nQ1 n : b=b c=c e=e\nR1 1m : e gnd\nR3 1k : in gnd\n"
    followers = "supply vp 20V\nsupply vn -20V\ninput in\noutput c\nQ1 n : b=in c=vp e=c\nQ2 p : b=in c=vn e=c\n"
    b = driven(f"{IDEAL}{followers}R2 10 : c gnd", 19.5)
    choke = driven(
        f"{IDEAL}output c\n{stage}".replace("R1 1m", "R1 1").replace("1V : b in", "2V : b in")
        + "T2 transformer 1:1 rdc=0 : vcc c | o gnd\nR2 10 : o gnd",
        1.9,
    )

    ratio = b.efficiency / (choke.current("Q1").std() ** 2 * 10 / choke.supply_power)
    assert 1.5 < ratio < 2.0


def test_a_phase_splitter_gives_two_signals_of_opposite_phase():
    # F35, NEETS 8 A29 and A30: 180 degrees.
    splitter = apply_signal(
        loads(
            "device n npn IS=2e-15 hFE=200\nsupply vcc 12V\ninput in\nsignal 300Hz to 3kHz\nC1 10u : in b\n"
            "R1 100k : vcc b\nR2 47k : b gnd\nQ1 n : b=b c=c e=e\nR3 1k : vcc c\nR4 1k : e gnd"
        )
    )
    ratio = splitter.gain("c") / splitter.gain("e")

    assert abs(math.degrees(math.atan2(ratio.imag, ratio.real))) == approx(180, abs=0.1)
    assert abs(ratio) == approx(200 / 201, rel=0.002)


@pytest.mark.parametrize(
    ("ratio", "load", "seen"), [("15:1", 8, 1800), ("35.355:1", 8, 10e3), ("25:1", 8, 5000), ("16:1", 4, 1024)]
)
def test_transformers_show_the_published_impedances(ratio, load, seen):
    # F41, Boylestad examples 12.2 and 12.3, Kulshreshtha examples 9.1 and 9.2 (companions).
    signal = apply_signal(
        loads(f"input a\nT1 transformer {ratio} rdc=0 : a gnd | s gnd\nLS1 speaker {load} : s gnd\nsignal 1kHz to 2kHz")
    )

    assert signal.input_impedance().real == approx(seen, rel=0.002)


@pytest.mark.parametrize(("volts", "watts", "ohms"), [(9, 0.25, 648), (12, 1.0, 288)])
def test_the_supply_sets_the_load_for_a_power_of_a_centre_tapped_stage(volts, watts, ohms):
    # F45 and F46, computed: P = 2 VCC^2 / Rcc.
    half = ohms / 4
    crest = volts / half
    cycle = driven(
        f"""device n npn IS=1e-9 N=0.02 hFE=1000
        supply vcc {volts}V
        input in
        output out
        T1 transformer 1:1+1 rdc=0 : in gnd | s1 gnd s2
        Q1 n : b=s1 c=c1 e=gnd
        Q2 n : b=s2 c=c2 e=gnd
        T2 transformer 5+5:1 rdc=0 : c1 vcc c2 | out gnd
        R1 {half / 25} : out gnd
        """,
        crest / 1000 * 1e6,
        source=1e6,
    )

    assert 2 * volts**2 / ohms == approx(watts)
    assert cycle.output_power == approx(watts, rel=0.01)


@pytest.mark.parametrize(("name", "least", "most"), [("2N3904", 100, 300), ("2N3055", 20, 70)])
def test_typical_current_gains_of_small_and_power_transistors_are_in_the_published_bands(name, least, most):
    # F56, LIEC3 "Biasing calculations" and "BJT quirks": 100 to 300; 20 to 50 (its power types; 2N3055 is given to 70).
    values, _ = device_parameters(loads(f"Q1 {name} : b=b c=c e=gnd").parts[0])

    assert least <= values["hFE"] <= most


def test_the_base_emitter_voltage_tells_silicon_from_germanium():
    # F59, next.gr, "Typical transistor circuit", read: silicon 0.6 to 0.7 V, germanium 0.2 to 0.3 V; at 1 mA and 10 mA.
    def volts(words, milliamperes):
        return operating_point(
            loads(f"V1 source 1e6 : far gnd\nR1 {1e9 / milliamperes} : far b\nQ1 npn {words} : b=b c=b e=gnd")
        ).voltage("b")

    assert 0.6 < volts("", 1) < 0.7
    assert 0.2 < volts("germanium", 10) < 0.3


def test_leakage_of_germanium_about_doubles_for_ten_kelvin():
    # F88, from memory: doubles for about every 10 K; the law of its saturation current gives somewhat more.
    ratio = saturation_current(1e-6, 1.0, 37.0, GERMANIUM_GAP) / saturation_current(1e-6, 1.0, 27.0, GERMANIUM_GAP)

    assert 1.8 < ratio < 3.0


MILLIAMPERE = """
    device n npn IS=2e-15 hFE=100 VA=50
    supply vcc 15V
    V9 source -1MV : far gnd
    signal 300Hz to 3kHz
    Q1 n : b=b c=c e=e
"""


def test_the_three_configurations_have_input_resistances_in_the_published_order():
    # F72, LIEC3 figure 03486, typical: common emitter 1 k, collector 300 k, base 50 ohm; at 1 mA,
    # the first with 2.2 k of bias resistors, within three times.
    emitter = apply_signal(
        loads(MILLIAMPERE + "R9 1G : far e\nC1 1 : e gnd\nC2 1 : in b\nR1 2k2 : b gnd\nR2 4k7 : vcc c\ninput in")
    )
    collector = apply_signal(
        loads(
            MILLIAMPERE + "R9 1G : far e\nC1 1 : e out\nR3 3k : out gnd\nC2 1 : in b\nR1 100M : b gnd\n"
            "V1 source 10V : bias gnd\nR4 1M : bias b\nC9 1 : vcc c\nR5 1m : vcc c\ninput in"
        )
    )
    base = apply_signal(loads(MILLIAMPERE + "R9 1G : far e\nC1 1 : in e\nR1 1m : b gnd\nR2 4k7 : vcc c\ninput in"))
    seen = [stage.input_impedance().real for stage in (emitter, collector, base)]

    for found, typical in zip(seen, (1e3, 300e3, 50.0), strict=True):
        assert typical / 3 < found < typical * 3


def test_the_three_configurations_have_output_resistances_in_the_published_order():
    # F73, LIEC3 figure 03486, typical: common emitter 50 k, collector 300 ohm, base 1 M; at 1 mA, from 30 k.
    emitter = apply_signal(
        loads(MILLIAMPERE + "R9 1G : far e\nC1 1 : e gnd\nR1 1 : b gnd\nL1 choke 1M : vcc c\ninput b")
    )
    collector = apply_signal(loads(MILLIAMPERE + "R9 1G : far e\nR1 30k : in b\nR2 1 : vcc c\ninput in\nR3 1 : in gnd"))
    base = apply_signal(
        loads(MILLIAMPERE + "R9 1G : far s\nR8 1k : s e\nC1 1 : s gnd\nR1 1 : b gnd\nL1 choke 1M : vcc c\ninput e"),
    )

    def seen(stage, net):
        return stage.network.impedance(stage.network.graph.node_of[net], None, 1e3).real

    assert seen(emitter, "c") == approx(50e3, rel=0.5)
    assert 100 < seen(collector, "e") < 900
    assert 0.3e6 < seen(base, "c") < 3e6


@pytest.mark.parametrize(("share", "most"), [(0.01, 0.012), (0.1, 0.1)])
def test_a_stiff_divider_loses_little_to_the_base(share, most):
    # F85: Malvino example 8-3: Rth under 1 % of beta RE; Floyd examples 5-3 and 5-4: beta RE of 10 R2 or more lets
    # the base be ignored.
    beta, emitter = 100, 1e3
    lower = share * beta * emitter * 2 if share < 0.05 else share * beta * emitter
    point = operating_point(
        loads(
            f"device n npn IS=2e-15 hFE={beta}\nsupply vcc 10V\nR1 {lower} : vcc b\nR2 {lower} : b gnd\n"
            f"Q1 n : b=b c=vcc e=e\nR3 {emitter} : e gnd"
        )
    )

    assert 1 - point.voltage("b") / 5.0 < most


def test_decibels_of_gains_in_cascade_add():
    # F99, LIEC3 chapters 1 and 4: 10 lg of powers, 20 lg of voltages; 3:1 and 5:1 of power are 4.77 and 6.99 dB, in
    # cascade 11.76 dB. Here two followers of nothing, dividers of voltage whose square is the ratio of power.
    def gain(text):
        return 20 * math.log10(
            abs(apply_signal(loads(f"signal 1kHz to 2kHz\ninput in\noutput out\n{text}")).gain("out"))
        )

    first = gain(f"R1 {math.sqrt(3) - 1} : in out\nR2 1 : out gnd")
    second = gain(f"R1 {math.sqrt(5) - 1} : in out\nR2 1 : out gnd")
    both = gain(
        f"R1 {math.sqrt(3) - 1} : in m\nR2 1 : m gnd\nU1 opamp : in+=m in-=n out=n\nR3 {math.sqrt(5) - 1} : n out\n"
        "R4 1 : out gnd"
    )

    assert (-first, -second) == (approx(4.77, abs=0.005), approx(6.99, abs=0.005))
    assert -both == approx(11.76, abs=0.005)


def test_a_tolerance_letter_after_a_value_is_never_taken_for_a_multiplier():
    # F110, from memory of IEC 60062: 4K7K is 4.7 k of 10 %. It is asked for in percent.
    with pytest.raises(NetlistError):
        loads("R1 4K7K : a gnd")

    assert loads("R1 4K7 10% : a gnd").parts[0].ratings == {"%": 10.0}


def test_a_designator_by_unit_and_assembly_names_a_part():
    # F112, encyclopaedia article on reference designators, read: unit 1, assembly 12, sub-assembly 2, resistor 3.
    assert loads("1A12A2R3 resistor 1k : a gnd").parts[0].ref == "1A12A2R3"
