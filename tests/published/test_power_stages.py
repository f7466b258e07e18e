"""Operating points of worked power stages, and ideal figures that follow from them.

Malvino: Electronic Principles; Neamen: Electronic Circuit Analysis and Design; Boylestad: Electronic Devices
and Circuit Theory: each as restated in its solved-examples companion (Neamen's and Boylestad's results recomputed).
"""

from pytest import approx

from topo.analysis import apply_signal, operating_point
from topo.netlist import loads


def solved(text):
    point = operating_point(loads(text))
    assert point.status == "solved"
    return point


def test_a_resistance_loaded_class_a_stage_idles_as_published():
    # W39, Malvino examples 12-1 to 12-4, pp. 384-387: 147 mA, 9 V, where base current is neglected; recomputed 142 mA.
    point = solved(
        """
        supply vcc 30V
        R1 490 : vcc b
        R2 68 : b gnd
        R3 120 : vcc c
        R4 20 : e gnd
        Q1 npn IS=3e-13 hFE=100 : b=b c=c e=e
        """
    )

    assert point.current("Q1") == approx(147e-3, rel=0.05)
    assert point.voltage("c", "e") == approx(9.0, rel=0.12)
    assert point.current("Q1") == approx(142e-3, rel=0.005)


def test_a_resistance_loaded_class_a_stage_has_the_published_load_line_and_heat():
    # W39, Malvino examples 12-1 to 12-4: 72 ohm for the signal; ends of its load line 273 mA and 19.7 V, 1.34 W of
    # heat, all from 147 mA and 9 V; the exact point is 142 mA and 10.0 V (tolerances of the ends follow from its own).
    stage = """
        supply vcc 30V
        signal 300Hz to 3kHz
        input in
        output out
        C1 1 : in b
        R1 490 : vcc b
        R2 68 : b gnd
        R3 120 : vcc c
        R4 20 : e gnd
        C3 1 : e gnd
        C2 1 : c out
        R5 180 : out gnd
        Q1 npn IS=3e-13 hFE=100 : b=b c=c e=e
        """
    signal = apply_signal(loads(stage))
    point = signal.network.point
    load = signal.network.impedance(point.graph.node_of["c"], None, 1e3).real
    rest, across = point.current("Q1"), point.voltage("c", "e")

    assert load == approx(72.0, rel=0.001)
    assert rest + across / load == approx(273e-3, rel=0.05)
    assert across + rest * load == approx(19.7, rel=0.05)
    assert rest * across == approx(1.34, rel=0.07)


def test_a_class_a_follower_idles_as_published():
    # W40, Malvino examples 12-6 and 12-7, pp. 391-392: 456 mA, 4.7 V; recomputed IE 438 mA.
    point = solved(
        """
        supply vcc 12V
        R1 50 : vcc b
        R2 100 : b gnd
        R3 16 : e gnd
        Q1 npn IS=2e-15 hFE=100 : b=b c=vcc e=e
        """
    )

    assert -point.current("Q1", "e") == approx(456e-3, rel=0.06)
    assert -point.current("Q1", "e") == approx(438e-3, rel=0.003)


def test_a_diode_biased_pair_idles_as_published():
    # W42, Malvino example 12-10, p. 400: 2.38 mA; recomputed 2.356 mA, centre at 10.000 V.
    point = solved(
        """
        device n npn IS=2e-15 hFE=100
        device p pnp IS=2e-15 hFE=100
        device d diode IS=2e-15
        supply vcc 20V
        R1 3.9k : vcc bp
        D1 d : bp m
        D2 d : m bn
        R2 3.9k : bn gnd
        Q1 n : b=bp c=vcc e=o
        Q2 p : b=bn c=gnd e=o
        C1 1000u : o out
        R3 10 : out gnd
        """
    )

    assert point.current("Q1") == approx(2.38e-3, rel=0.02)
    assert (point.current("Q1"), point.current("R1")) == approx((2.356e-3, 2.380e-3), rel=0.002)
    assert point.voltage("o") == approx(10.0, abs=0.001)


def test_a_transformer_coupled_class_a_stage_draws_the_published_base_current():
    # W45, Neamen example 8.8: 0.514 A, 5.14 mA.
    point = solved(
        """
        supply vcc 24V
        R1 4.43k : vcc b
        R2 5.74k : b gnd
        Q1 npn IS=1e-12 hFE=100 : b=b c=c e=gnd
        T1 transformer 2.415:1 : c vcc | out gnd
        LS1 speaker 8 : out gnd
        """
    )

    assert (point.current("Q1"), point.current("Q1", "b")) == approx((0.514, 5.14e-3), rel=0.01)
    assert point.voltage("c") == approx(24.0, abs=0.02)


def test_a_class_ab_output_with_input_followers_idles_as_published():
    # W46, Neamen example 8.11: 7.20 mA in each resistor; recomputed 7.18 mA, IC3 6.95 mA, output at 0.000 V.
    point = solved(
        """
        device n npn IS=1e-13 hFE=60
        device p pnp IS=1e-13 hFE=60
        supply vp 15V
        supply vn -15V
        R1 2k : vp b3
        R2 2k : b4 vn
        V1 source 0V : in gnd
        Q1 p : b=in c=vn e=b3
        Q2 n : b=in c=vp e=b4
        Q3 n : b=b3 c=vp e=o
        Q4 p : b=b4 c=vn e=o
        R3 100 : o gnd
        """
    )

    assert point.current("R1") == approx(7.20e-3, rel=0.01)
    assert (point.current("R1"), point.current("Q3")) == approx((7.18e-3, 6.95e-3), rel=0.002)
    assert point.voltage("o") == approx(0.0, abs=1e-6)


def test_a_series_fed_class_a_stage_idles_as_published():
    # W47, Boylestad example 12.1: 19.3 mA, 0.48 A, 10.4 V; recomputed 0.4826 A, 10.35 V.
    point = solved(
        """
        supply vcc 20V
        R1 1k : vcc b
        R2 20 : vcc c
        Q1 npn IS=1e-12 hFE=25 : b=b c=c e=gnd
        """
    )

    assert point.current("Q1", "b") == approx(19.3e-3, rel=0.01)
    assert (point.current("Q1"), point.voltage("c")) == approx((0.4826, 10.35), rel=0.002)


def test_a_valve_with_cathode_bias_keeps_kirchhoff_and_the_published_space_charge_law():
    # N. Koren, Glass Audio 8 (1996) no. 5, from memory: IA = 2 E1^EX / KG1 with the constants of a high-mu triode.
    import math

    point = solved(
        """
        supply ht 250V
        R1 100k : ht a
        R2 1M : g gnd
        R3 1.5k : k gnd
        V1 triode MU=100 EX=1.4 KG1=1060 KP=600 KVB=300 : a=a g=g k=k
        """
    )
    va, vg = point.voltage("a", "k"), point.voltage("g", "k")
    e1 = va / 600 * math.log1p(math.exp(600 * (1 / 100 + vg / math.sqrt(300 + va**2))))

    assert point.current("V1") == approx(2 * e1**1.4 / 1060, rel=1e-6)
    assert point.voltage("k") == approx(1.5e3 * point.current("V1"), rel=1e-6)  # F122: self bias is IK RK
    assert 0.5e-3 < point.current("V1") < 1.2e-3  # usual for this valve and load, common practice
