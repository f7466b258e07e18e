"""Currents at the crest of a drive, tuned class C, and matched loads, of worked examples and exact formulas.

Books as in `test_power_stages`; "ideal" devices as in `test_large_signal`.
"""

import math

import numpy as np
import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.analysis.large_signal import drive
from topo.graph import normalise
from topo.netlist import loads


def driven(text, amplitude, frequency=1e3, **options):
    graph = normalise(loads(text))
    cycle = drive(graph, operating_point(graph), amplitude=amplitude, frequency=frequency, **options)
    assert cycle.steady, cycle.missing
    return cycle


def test_a_diode_biased_pair_has_the_published_currents_at_its_crest():
    # W05, Neamen example 8.9 (result recomputed): at 8.944 V in 8 ohm: base current 14.71 mA, diodes 5.29 mA, 1.347 V
    # between the bases, VBE 0.781 V, the other device at 0.28 mA. Its kT/q of 26 mV is met at N = 26 / 25.865.
    ratio = 26e-3 / 25.864926e-3
    cycle = driven(
        f"""
        device d diode IS=3e-14 N={ratio}
        device n npn IS=1e-13 hFE=75 N={ratio}
        device p pnp IS=1e-13 hFE=75 N={ratio}
        supply vp 12V
        supply vn -12V
        supply vb 20000V
        input in
        output out
        R1 1M : vb bp
        D1 d : bp m
        D2 d : m in
        Q1 n : b=bp c=vp e=out
        Q2 p : b=in c=vn e=out
        R2 8 : out gnd
        R3 1 : in gnd
        """,
        (8.379 - 20e-3) * 1.001,  # The 20 mA raise the input by 20 mV; 1 milliohm of the generator lies before 1 ohm.
    )
    at = int(np.argmax(cycle.output))

    assert cycle.output[at] == approx(8.944, rel=0.0005)
    assert cycle.current("Q1", "b")[at] == approx(14.71e-3, rel=0.005)
    assert cycle.current("D1")[at] == approx(5.29e-3, rel=0.01)
    assert cycle.volts("bp", "in")[at] == approx(1.3465, rel=0.003)
    assert cycle.volts("bp", "out")[at] == approx(0.781, rel=0.003)
    assert -cycle.current("Q2")[at] == approx(0.281e-3, rel=0.05)


def test_a_class_a_follower_is_cut_off_where_the_book_says():
    # W40, Malvino examples 12-6 and 12-7, pp. 391-392: 456 mA into 8 ohm: the output falls by 3.65 V, 7.3 V in all.
    cycle = driven(
        """
        supply vcc 12V
        input b
        output out
        R1 50 : vcc b
        R2 100 : b gnd
        R3 16 : e gnd
        C1 1 : e out
        R4 16 : out gnd
        Q1 npn IS=2e-15 hFE=100 : b=b c=vcc e=e
        """,
        3.8,
    )

    rest = cycle.device("Q1").rest
    assert rest == approx(456e-3, rel=0.06)
    assert 2 * -cycle.output.min() == approx(7.3, rel=0.06)
    assert cycle.output.min() == approx(-8 * rest, rel=0.03)


def test_an_output_stage_with_input_followers_has_the_published_currents_at_ten_volts():
    # W46, Neamen example 8.11 (recomputed by Ebers-Moll): 10 V at 10.137 V in; iR1 2.143 mA, 520 times the current.
    cycle = driven(
        """
        device n npn IS=1e-13 hFE=60
        device p pnp IS=1e-13 hFE=60
        supply vp 15V
        supply vn -15V
        input in
        output o
        R1 2k : vp b3
        R2 2k : b4 vn
        Q1 p : b=in c=vn e=b3
        Q2 n : b=in c=vp e=b4
        Q3 n : b=b3 c=vp e=o
        Q4 p : b=b4 c=vn e=o
        R3 100 : o gnd
        """,
        10.137,
    )
    at = int(np.argmax(cycle.output))
    drawn = cycle.current("Q1", "b")[at] + cycle.current("Q2", "b")[at]

    assert cycle.output[at] == approx(10.0, rel=0.001)
    assert (15.0 - cycle.volts("b3")[at]) / 2e3 == approx(2.143e-3, rel=0.01)
    assert cycle.current("Q3", "b")[at] == approx(1.64e-3, rel=0.01)
    assert cycle.current("Q1", "e")[at] == approx(0.503e-3, rel=0.02)
    assert cycle.output[at] / 100 / drawn == approx(520, rel=0.01)


def test_a_reflected_load_takes_the_published_power():
    # W56, Chattopadhyay example 9.12.4 (result recomputed): 8:1 on 12 ohm is 768 ohm; 250 mA peak to peak give 6 W.
    cycle = driven(
        """
        device n npn IS=1e-9 N=0.02 hFE=1000
        supply vcc 120V
        input in
        output out
        R1 800k : vcc in
        Q1 n : b=in c=c e=gnd
        T1 transformer 8:1 rdc=0 : c vcc | out gnd
        R2 12 : out gnd
        """,
        125e-6 * 1e6,
        source=1e6,
    )

    assert np.ptp(cycle.current("Q1")) == approx(0.25, rel=0.002)
    assert cycle.output_power == approx(6.0, rel=0.005)


@pytest.mark.parametrize(
    ("angle", "efficiency"), [(300, 0.551), (240, 0.661), (180, 0.7854), (120, 0.897), (90, 0.940)]
)
def test_a_filtered_output_has_the_efficiency_of_its_conduction_angle(angle, efficiency):
    # F13, classic Fourier result: (2h - sin 2h) / (4 (sin h - h cos h)) at full swing, in proportion to the swing else.
    half = math.radians(angle / 2)
    crest = 10.0  # Volts by which the drive passes the bias: 0.1 A in 100 ohm.
    amplitude = crest / (1 - math.cos(half))
    bias = amplitude * math.cos(half)
    plus, minus = ("in b" if bias >= 0 else "b in").split()
    cycle = driven(
        f"""
        device n npn IS=1e-9 N=0.02 hFE=1e6
        supply vcc 100V
        input in
        output c
        R3 1M : in gnd
        BT1 battery {abs(bias) + 1e-9:.9f}V : {plus} {minus}
        Q1 n : b=b c=c e=e
        R1 100 : e gnd
        L1 1.59155u rdc=1u : vcc c
        C1 15.9155n : c vcc
        R2 1k : vcc c
        """,
        amplitude,
        frequency=1e6,
        method="time stepping",
    )
    swing = cycle.harmonics[0]
    power = swing**2 / 2 / 1e3
    ideal = (2 * half - math.sin(2 * half)) / (4 * (math.sin(half) - half * math.cos(half)))

    assert ideal == approx(efficiency, abs=0.001)
    assert power / cycle.supply_power * 100.0 / swing == approx(ideal, rel=0.015)


def test_a_tuned_class_c_stage_swings_to_twice_its_supply():
    # W51, Malvino examples 12-12 and 12-13, pp. 410-411: 15 V, 2 uH with a Q of 100, 470 pF, 1 kilohm: 5.19 MHz; MPP of
    # 2 VCC (F21). The base rectifies the drive and biases itself beyond cut-off.
    cycle = driven(
        """
        supply vcc 15V
        input in
        output out
        C1 10n : in b
        R1 10k : b gnd
        Q1 npn IS=1e-14 hFE=100 : b=b c=c e=gnd
        L1 2u rdc=0.652 : vcc c
        C2 470p : c vcc
        C3 100n : c out
        R2 1k : out gnd
        """,
        5.0,
        frequency=5.191e6,
        source=50.0,
    )
    device = cycle.device("Q1")

    assert np.ptp(cycle.volts("c")) == approx(30.0, rel=0.05)
    assert (device.letter, device.rest) == ("C", approx(0.0, abs=1e-6))
    assert cycle.volts("b").mean() < -1.0
    assert cycle.efficiency > 0.6


def test_equal_currents_in_both_halves_leave_no_direct_magnetisation():
    # F36, common practice: 0.
    cycle = driven(
        """
        supply vcc 9V
        input in
        output out
        T1 transformer 1:1+1 : in gnd | s1 tap s2
        R1 1.2k : vcc tap
        D1 diode IS=1e-13 : tap gnd
        Q1 npn IS=1e-13 : b=s1 c=c1 e=gnd
        Q2 npn IS=1e-13 : b=s2 c=c2 e=gnd
        T2 transformer 5+5:1 : c1 vcc c2 | out gnd
        LS1 speaker 8 : out gnd
        """,
        0.5,
        source=1e3,
    )
    first, second = cycle.current("Q1").mean(), cycle.current("Q2").mean()

    assert first - second == approx(0.0, abs=1e-4 * first)
    assert abs(cycle.output.mean()) < 1e-4


def test_three_points_tell_the_second_harmonic():
    # F38, Boylestad example 12.15 (result recomputed): 22, 1, 12 V make 2.38 %; the same of a cycle solved here.
    assert abs((22 + 1) / 2 - 12) / (22 - 1) == approx(0.0238, abs=1e-4)
    cycle = driven(
        "supply v 24V\ninput in\noutput c\nR1 470k : v in\nQ1 npn IS=1e-14 hFE=100 : b=in c=c e=gnd\nR2 2.2k : v c",
        4e-3,
    )
    rest = 24.0 - 2.2e3 * cycle.device("Q1").rest
    most, least = cycle.output.max(), cycle.output.min()

    assert abs((most + least) / 2 - rest) / (most - least) == approx(cycle.harmonics[1] / cycle.harmonics[0], rel=0.02)


def test_power_with_harmonics_is_that_of_the_fundamental_and_its_distortion():
    # F39, Boylestad example 12.16 (result recomputed): (1 + D^2) P1.
    cycle = driven(
        """
        supply v 24V
        input in
        output out
        R1 470k : v in
        Q1 npn IS=1e-14 hFE=100 : b=in c=c e=gnd
        R2 2.2k : v c
        C1 1m : c out
        R3 2.2k : out gnd
        """,
        15e-3,
    )
    first = cycle.harmonics[0] ** 2 / 2 / 2.2e3

    assert cycle.thd > 0.1
    assert cycle.output_power == approx((1 + cycle.thd**2) * first, rel=1e-6)
