"""Worked examples of small-signal stages. Sources put re = 25 or 26 mV over IE and VBE = 0.7 V, hence the tolerances.

Malvino: Electronic Principles, 7th edition, as restated in its solved-examples companion. Floyd: Electronic Devices,
from the solved-examples companion, result recomputed. LIEC3: Kuphaldt and others, Lessons in Electric Circuits, volume
III, read. Figures called exact are Ebers-Moll's with IS = 2e-15 A, recomputed.
"""

import math

import pytest
from pytest import approx

from topo.analysis import linearise, operating_point
from topo.graph import normalise
from topo.netlist import loads

SIGNAL = 1e3


class Stage:
    """A stage made linear, its nets by name."""

    def __init__(self, text, beta=200):
        self.graph = normalise(loads(f"device n npn IS=2e-15 hFE={beta}\nsignal 300Hz to 3kHz\n{text}"))
        self.point = operating_point(self.graph)
        assert self.point.status == "solved"
        self.network = linearise(self.graph, self.point)

    def gain(self, drive, out, drive_reference="gnd", out_reference="gnd"):
        node = self.graph.node_of
        return self.network.transfer(
            node[drive],
            node[out],
            SIGNAL,
            drive_reference=node[drive_reference],
            out_reference=node[out_reference],
        ).real

    def resistance(self, net, reference="gnd"):
        return self.network.impedance(self.graph.node_of[net], self.graph.node_of[reference], SIGNAL).real

    def overall(self, source, drive, out):
        """Gain from behind a source resistance."""
        own = self.resistance(drive)
        return own / (own + source) * self.gain(drive, out)


MALVINO_STAGE = """
    supply vcc 10V
    R1 10k : vcc b
    R2 2.2k : b gnd
    R3 3.6k : vcc c
    C1 1F : in b
    C2 1F : c out
    R5 10k : out gnd
    input in
    Q1 n : b=b c=c e=e
"""


def test_a_bypassed_common_emitter_gives_the_published_output():
    # W28, Malvino example 10-1, p. 322: 117, 256 mV for 2.2 mV; exact 111.5, 245 mV.
    stage = Stage(MALVINO_STAGE + "R4 1k : e gnd\nC3 1F : e gnd")

    assert -stage.gain("in", "out") == approx(117, rel=0.06)
    assert -2.2e-3 * stage.gain("in", "out") == approx(256e-3, rel=0.06)
    assert -stage.gain("in", "out") == approx(111.5, rel=0.002)


@pytest.mark.parametrize(
    "beta, published, resistance, exact, tolerance",
    [(300, 165e-3, 1438, 158.0e-3, 0.06), (50, 126e-3, 733, 117.8e-3, 0.08)],
)
def test_a_source_resistance_divides_the_signal_as_published(beta, published, resistance, exact, tolerance):
    # W28, Malvino examples 10-3 and 10-4, p. 325: 2 mV behind 600 ohm.
    stage = Stage(MALVINO_STAGE + "R4 1k : e gnd\nC3 1F : e gnd", beta)
    output = -2e-3 * stage.overall(600, "in", "out")

    assert output == approx(published, rel=tolerance)
    assert output == approx(exact, rel=0.003)
    assert stage.resistance("in") == approx(resistance, rel=0.002)


def test_a_partly_bypassed_emitter_swamps_the_gain_as_published():
    # W29, Malvino examples 10-6 and 10-7, pp. 331-332: 485 mV for 50 mV behind 600 ohm; exact 12.94 and 480.0 mV.
    stage = Stage(MALVINO_STAGE + "R4 180 : e x\nR6 820 : x gnd\nC3 1F : x gnd")

    assert -stage.gain("in", "out") == approx(12.94, rel=0.002)
    assert -50e-3 * stage.overall(600, "in", "out") == approx(485e-3, rel=0.02)


FLOYD_STAGE = """
    supply vcc 12V
    R1 22k : vcc b
    R2 6.8k : b gnd
    R3 1k : vcc c
    R4 560 : e gnd
    C1 1F : in b
    C3 1F : c out
    input in
    output out
    Q1 n : b=b c=c e=e
"""


@pytest.mark.parametrize(
    "addition, published, exact, tolerance",
    [
        ("", 1.76, 1.751, 0.02),
        ("C2 1F : e gnd", 152, 136.0, 0.12),
        ("C2 1F : e gnd\nR5 5k : out gnd", 127, 113.3, 0.12),
    ],
)
def test_bypass_and_load_change_the_gain_as_published(addition, published, exact, tolerance):
    # W30, Floyd examples 6-3 to 6-6: the source neglects base current, so IE is 3.8 mA there and 3.54 mA here.
    stage = Stage(FLOYD_STAGE + addition, 160)

    assert -stage.gain("in", "out") == approx(published, rel=tolerance)
    assert -stage.gain("in", "out") == approx(exact, rel=0.005)


def test_a_source_of_300_ohm_leaves_three_quarters_of_the_signal_at_the_base():
    # W30: 7.44 mV of 10 mV; exact 7.62 mV.
    stage = Stage(FLOYD_STAGE + "C2 1F : e gnd", 160)
    resistance = stage.resistance("in")

    assert 10e-3 * resistance / (resistance + 300) == approx(7.44e-3, rel=0.04)
    assert 10e-3 * resistance / (resistance + 300) == approx(7.62e-3, rel=0.003)


def test_a_swamped_stage_agrees_with_the_whole_published_calculation():
    # W31, Floyd example 6-8: gain 9.09 with re left out, overall 8.42; direct beta 150, for the signal 175.
    stage = Stage(
        """
        supply vcc 10V
        R1 47k : vcc b
        R2 10k : b gnd
        R3 4.7k : vcc c
        R4 470 : e x
        R5 470 : x gnd
        C2 1F : x gnd
        C1 1F : in b
        C3 1F : c out
        R6 47k : out gnd
        input in
        Q1 n : b=b c=c e=e
        """,
        150,
    )

    assert stage.point.voltage("c") == approx(4.73, rel=0.07)
    assert stage.point.voltage("c") == approx(5.04, abs=0.01)
    assert -stage.gain("in", "out") == approx(9.09, rel=0.06)
    assert -stage.overall(600, "in", "out") == approx(8.42, rel=0.06)


def test_an_emitter_follower_has_the_published_gain_and_input_resistance():
    # W32, Floyd example 6-9: 0.989 and 8.16 k; exact 0.9874 and 8.17 k.
    stage = Stage(
        """
        supply vcc 10V
        R1 18k : vcc b
        R2 18k : b gnd
        R3 1k : e gnd
        C1 1F : in b
        C2 1F : e out
        R4 1k : out gnd
        input in
        Q1 n : b=b c=vcc e=e
        """,
        175,
    )

    assert stage.gain("in", "out") == approx(0.989, rel=0.005)
    assert stage.resistance("in") == approx(8.16e3, rel=0.01)


def test_a_darlington_follower_has_the_published_operating_point_and_input_resistance():
    # W33, Floyd example 6-10: VB 8.0 V, VE 6.6 V, IE 0.30 A, Rin 6.16 k; follower exact 0.971, Rin 6.19 k.
    stage = Stage(
        """
        supply vcc 12V
        R1 10k : vcc b
        R2 22k : b gnd
        Q1 n : b=b c=vcc e=m
        Q2 n : b=m c=vcc e=e
        R3 22 : e gnd
        C1 1F : in b
        C2 1F : e out
        R4 8 : out gnd
        input in
        """,
        100,
    )

    assert (stage.point.voltage("b"), stage.point.voltage("e")) == approx((8.0, 6.6), rel=0.03)
    assert -stage.point.current("Q2", "e") == approx(0.30, rel=0.03)
    assert stage.resistance("in") == approx(6.16e3, rel=0.02)
    assert stage.gain("in", "out") == approx(0.971, rel=0.002)


def test_a_common_base_stage_has_the_published_gain_and_input_resistance():
    # W34, Floyd example 6-11: 23.5 ohm and 76.8 by rounded bias; exact 24.6 ohm and 71.3.
    stage = Stage(
        """
        supply vcc 10V
        R1 56k : vcc b
        R2 12k : b gnd
        C2 1F : b gnd
        R3 2.2k : vcc c
        R4 1k : e gnd
        C1 1F : in e
        C3 1F : c out
        R5 10k : out gnd
        input in
        Q1 n : b=b c=c e=e
        """,
        250,
    )

    assert stage.gain("in", "out") == approx(76.8, rel=0.08)
    assert stage.resistance("in") == approx(23.5, rel=0.08)
    assert (stage.gain("in", "out"), stage.resistance("in")) == approx((71.3, 24.6), rel=0.003)


def test_a_cascode_has_the_published_currents_and_gain():
    # W35, LIEC3 figures 03500 to 03502, read: -181 with re = 26 ohm; recomputed 180.6.
    stage = Stage(
        """
        supply vcc 20V
        supply vb1 11.5V
        supply vb2 1.5V
        R1 80k : vb1 b1
        R2 80k : vb2 b2
        C2 1F : b1 gnd
        C1 1F : in b2
        R3 4.7k : vcc out
        input in
        output out
        Q1 n : b=b1 c=out e=a
        Q2 n : b=b2 c=a e=gnd
        """,
        100,
    )

    assert -stage.point.current("Q2", "e") == approx(1e-3, rel=0.02)
    assert (stage.point.current("Q1"), stage.point.current("Q2")) == approx((0.994e-3, 1.004e-3), rel=0.002)
    assert (stage.point.voltage("a"), stage.point.voltage("out")) == approx((10.008, 15.33), rel=0.002)
    assert -stage.gain("in", "out") == approx(181, rel=0.01)
    assert abs(stage.gain("in", "a")) == approx(1.0, rel=0.02)  # F76: the first device's own gain is about -1


LONG_TAILED_PAIR = """
    supply vcc 15V
    supply vee -15V
    R1 7.5k : t vee
    R2 5k : vcc c1
    R3 5k : vcc c2
    R4 1 : in gnd
    input in
    Q1 n : b=in c=c1 e=t
    Q2 n : b=gnd c=c2 e=t
"""


def test_a_long_tailed_pair_shares_the_published_tail_current():
    # W36, Malvino examples 17-1 and 17-2, pp. 625-626: 1.91 mA and 10.2 V with VBE 0.7 V.
    stage = Stage(LONG_TAILED_PAIR, 1e6)

    assert stage.point.current("R1") == approx(1.91e-3, rel=0.005)
    assert stage.point.voltage("c2") == approx(10.2, rel=0.005)
    assert (stage.point.current("R1"), stage.point.voltage("c2")) == approx((1.9073e-3, 10.248), rel=0.002)


def test_a_long_tailed_pair_has_the_published_gain_and_input_resistance():
    # W37, Malvino examples 17-4 and 17-5, pp. 631-632: 191 mV for 1 mV, 15.7 k; exact 183.7, 92.0, 91.7 mV, 16.3 k.
    stage = Stage(LONG_TAILED_PAIR.replace("    R4 1 : in gnd\n", "    V1 source 0V : in gnd\n"), 300)
    node = stage.graph.node_of
    current = stage.network.inverse(SIGNAL)[stage.network.sources[-1][2], stage.network.sources[-1][2]]

    assert abs(stage.gain("in", "c2", out_reference="c1")) == approx(191, rel=0.05)
    assert abs(stage.gain("in", "c2", out_reference="c1")) == approx(183.7, rel=0.003)
    assert (-stage.gain("in", "c1"), stage.gain("in", "c2")) == approx((92.0, 91.7), rel=0.003)
    assert abs(1 / current) == approx(15.7e3, rel=0.05)
    assert node["in"] == stage.network.sources[-1][0]


def test_emitter_resistance_and_input_resistance_at_a_milliampere_are_as_published():
    # W38, LIEC3 "Amplifier impedances", read: 26 ohm and 2600 ohm at beta 100.
    stage = Stage(
        """
        supply vcc 10V
        V1 source 93kV : far gnd
        R1 10000M : far b
        R2 1k : vcc c
        Q1 n : b=b c=c e=gnd
        """,
        100,
    )
    emitter = -stage.point.current("Q1", "e") * stage.resistance("b") / 101

    assert emitter == approx(25.87e-3, rel=0.001)  # F50, F52: re = VT / IE
    assert stage.resistance("b") * stage.point.current("Q1") == approx(2600e-3, rel=0.01)


def test_ideal_transformer_reflects_the_published_loads():
    # W52, LIEC2 figures 02152 and 02153, read; W53 and W48, from the solved-examples companion; F42 to F44 computed.
    for ratio, load, published, tolerance in (
        ("7.9057:1", 8, 500, 2e-3),
        ("25:1", 8, 5000, 1e-2),
        ("16:1", 4, 1024, 1e-2),
        ("15:1", 8, 1800, 1e-2),
    ):
        stage = Stage(f"T1 transformer {ratio} : a gnd | s gnd\nLS1 speaker {load} : s gnd")

        assert stage.resistance("a") == approx(published, rel=tolerance)


def test_a_centre_tapped_stage_shows_four_n_squared_from_end_to_end_and_n_squared_to_the_tap():
    # W63, F42, F43, computed: Rcc = 4 n^2 RL = 800 ohm, 200 ohm a half.
    stage = Stage("supply vcc 9V\nT2 transformer 5+5:1 : c1 vcc c2 | out gnd\nLS1 speaker 8 : out gnd")

    assert stage.resistance("c1", "c2") == approx(800, rel=0.005)
    assert stage.resistance("c1", "vcc") == approx(200, rel=0.005)
    assert stage.gain("c1", "c2", "vcc", "vcc") == approx(-1.0, rel=0.002)  # F47


def test_a_corner_lies_where_the_published_formula_puts_it():
    # F94 to F96, LIEC2 "Low-pass filters", read: 500 ohm and 7 uF, 45.473 Hz, 70.7 %, 45 degrees.
    stage = Stage("V1 source 0V : in gnd\nR1 500 : in out\nC1 7u : out gnd\ninput in")
    node = stage.graph.node_of
    value = stage.network.transfer(node["in"], node["out"], 45.473)

    assert abs(value) == approx(math.sqrt(0.5), rel=1e-4)
    assert math.degrees(math.atan2(value.imag, value.real)) == approx(-45, abs=0.01)


def test_a_coil_and_a_capacitor_resonate_where_the_published_formula_puts_it():
    # F98, Malvino example 12-12: 2 uH and 470 pF, 5.191 MHz; computed 159.155 Hz for 100 mH and 10 uF.
    for coil, capacitor, published in (("2u", "470p", 5.191e6), ("100m", "10u", 159.155)):
        stage = Stage(f"L1 {coil} : a gnd\nC1 {capacitor} : a gnd")
        node = stage.graph.node_of["a"]
        there = abs(stage.network.impedance(node, None, published))

        assert there > 5 * abs(stage.network.impedance(node, None, 0.9 * published))
        assert there > 5 * abs(stage.network.impedance(node, None, 1.1 * published))


@pytest.mark.parametrize(
    "farads, hertz, published",
    [("100u", 60, 26.5258), ("100u", 2500, 0.6366), ("100n", 1e3, 1591.5), ("10u", 50, 318.31), ("4u7", 300, 112.88)],
)
def test_a_capacitor_has_the_published_reactance(farads, hertz, published):
    # F92, LIEC2 "AC capacitor circuits", read; F93 computed.
    stage = Stage(f"C1 {farads} : a gnd\nR1 1 : a gnd")
    admittance = stage.network.admittance_of(stage.graph.element_of["C1"], hertz)

    assert 1 / abs(admittance) == approx(published, rel=1e-4)
