import math

import numpy as np
import pytest
from pytest import approx

from tests.analysis.large_signal.driving import driven
from topo.analysis.large_signal.measures import class_letter, conduction_angle, crossover, distortion, harmonics

TURN = 2 * np.pi * np.arange(1, 257) / 256


@pytest.mark.parametrize(
    ("angle", "rest", "letter"),
    [
        (360, 0.5, "A"),
        (360, 0.25, "A"),
        (360, 0.12, "AB"),
        (340, 0.1, "AB"),
        (190, 0.01, "AB"),
        (178, 0.01, "AB"),
        (200, 0.0, "B"),
        (180, 0.0, "B"),
        (151, 0.0, "B"),
        (149, 0.0, "C"),
        (90, 0.0, "C"),
        (0, 0.0, ""),
    ],
)
def test_the_class_follows_from_conduction_and_rest(angle, rest, letter):
    assert class_letter(angle, rest, 1.0) == letter


@pytest.mark.parametrize("bias", [-0.5, 0.0, 0.2, 0.8])
def test_the_conduction_angle_of_a_cut_sine_is_twice_an_arc_cosine(bias):
    current = np.maximum(np.sin(TURN) + bias, 0.0)
    wanted = 2 * math.degrees(math.acos(-bias + 0.01 * (1 + bias)))

    assert conduction_angle(current) == approx(wanted, abs=0.8)  # An instant is 1.4 degrees.


def test_a_current_that_never_stops_conducts_for_the_whole_cycle():
    assert conduction_angle(1.0 + 0.9 * np.sin(TURN)) == 360.0
    assert conduction_angle(np.full(256, 1e-9)) == 0.0


def test_distortion_is_the_root_of_the_sum_of_squares():
    # 10, 4 and 2 % make 10.95 %: Boylestad example 12.14 (F37 of the check values).
    signal = 5.0 + np.sin(TURN) + 0.1 * np.sin(2 * TURN) + 0.04 * np.sin(3 * TURN + 1) + 0.02 * np.cos(4 * TURN)

    assert distortion(harmonics(signal)) == approx(0.1095, abs=1e-4)


def test_crossover_is_none_of_a_sine_and_whole_of_a_dead_band():
    assert crossover(np.sin(TURN + 0.4)) == approx(0.0, abs=1e-3)
    assert crossover(np.sign(np.sin(TURN)) * np.maximum(abs(np.sin(TURN)) - 0.3, 0)) == approx(1.0, abs=1e-9)
    assert crossover(np.clip(3 * np.sin(TURN), -1, 1)) == 0.0


PAIR = """
    supply vp 12V
    supply vn -12V
    input in
    output out
    R1 1k : vp up
    {bias}
    R2 1k : low vn
    Q1 npn IS=1e-13 hFE=200 : b=up c=vp e=e1
    Q2 pnp IS=1e-13 hFE=200 : b=low c=vn e=e2
    R3 0R1 : e1 out
    R4 0R1 : e2 out
    R5 25 : out gnd
"""
NONE = "R6 1u : up in\nR7 1u : in low"
ONE = "D1 diode IS=1e-13 : up in\nR7 1u : in low"
TWO = "D1 diode IS=1e-13 : up in\nD2 diode IS=1e-13 : in low"


def test_an_unbiased_pair_has_a_dead_band_of_two_junction_drops():
    cycle = driven(PAIR.format(bias=NONE), 8.0, frequency=1e3, instants=2048)
    still = np.abs(cycle.current("Q1")) + np.abs(cycle.current("Q2")) < 1e-4
    dead = np.ptp(cycle.input[still])

    assert dead == approx(2 * 0.55, abs=0.15)
    assert [cycle.device(ref).letter for ref in ("Q1", "Q2")] == ["B", "B"]
    assert cycle.crossover > 0.95
    # Third harmonic of a dead band: (4/(3 pi)) s c^3 over the fundamental (F25 and F26 of the check values), for half
    # of it as measured where nothing flows, and at the crest.
    limits = []
    for half in (dead / 2, 8.0 - cycle.output.max()):
        s, c = half / 8.0, math.sqrt(1 - (half / 8.0) ** 2)
        limits.append(4 / (3 * math.pi) * s * c**3 / (2 / math.pi * (math.pi / 2 - math.asin(s) - s * c)))
    assert limits[0] < cycle.harmonics[2] / cycle.harmonics[0] < limits[1] < 1.6 * limits[0]


def test_a_diode_drop_for_each_device_makes_class_ab_without_crossover():
    none, one, two = (driven(PAIR.format(bias=bias), 6.0, frequency=1e3) for bias in (NONE, ONE, TWO))

    assert none.crossover > one.crossover > two.crossover
    assert none.thd > 5 * two.thd
    assert two.crossover < 0.1
    assert [two.device(ref).letter for ref in ("Q1", "Q2")] == ["AB", "AB"]
    # With one diode only one of the two idles; each conducts about half the cycle, and a step is left.
    assert two.device("Q1").angle > one.device("Q2").angle


def test_a_class_a_stage_conducts_for_the_whole_cycle():
    cycle = driven(
        """
        supply vcc 12V
        input in
        output c
        R1 470k : vcc in
        Q1 npn hFE=100 : b=in c=c e=gnd
        R2 2.2k : vcc c
        """,
        0.1,
        source=10e3,
        frequency=1e3,
    )

    assert (cycle.device("Q1").angle, cycle.device("Q1").letter) == (360.0, "A")


TUNED = """
    supply vcc 12V
    input drive
    output out
    L1 100u rdc=0.01 : b gnd
    C1 1u : drive b
    Q1 npn IS=1e-14 hFE=50 : b=b c=c e=gnd
    L2 2u rdc=0.05 : vcc c
    C2 12.665n : c gnd
    C3 1u : c out
    R1 500 : out gnd
"""


def test_a_tuned_stage_without_bias_works_in_class_c():
    # Resonance of 2 uH and 12.665 nF: 1 MHz; the tank makes a sine of narrow pulses of current.
    cycle = driven(TUNED, 0.9, source=2.0, frequency=1e6)

    assert cycle.steady
    assert (cycle.device("Q1").rest, cycle.device("Q1").letter) == (approx(0.0, abs=1e-9), "C")
    assert cycle.device("Q1").angle < 140
    assert cycle.thd < 0.05
    assert abs(cycle.balance) < 2e-3 * cycle.supply_power


def test_a_triode_and_a_junction_field_effect_transistor_work_in_class_a():
    triode = """
        supply b 250V
        input g
        output a
        R1 1M : g gnd
        V1 triode : g=g a=a k=k
        R2 1.5k : k gnd
        C1 25u : k gnd
        R3 100k : b a
        """
    jfet = """
        supply v 20V
        input g
        output d
        R1 1M : g gnd
        J1 njfet IDSS=8m VP=-4 : g=g d=d s=s
        R2 680 : s gnd
        R3 2.2k : v d
        """
    for text, amplitude, ref in ((triode, 0.5, "V1"), (jfet, 0.5, "J1")):
        cycle = driven(text, amplitude, frequency=1e3)
        assert cycle.steady
        assert cycle.device(ref).letter == "A"
        assert 0.0005 < cycle.thd < 0.1


def test_an_operational_amplifier_clips_at_its_supplies():
    text = """
        supply vp 15V
        supply vn -15V
        input in
        output out
        U1 opamp : in+=in in-=fb out=out v+=vp v-=vn
        R1 10k : out fb
        R2 1k : fb gnd
        R3 10k : in gnd
        R4 2k : out gnd
        """
    clean, clipped = driven(text, 1.0, frequency=1e3), driven(text, 2.0, frequency=1e3)

    assert (clean.gain, clean.thd) == (approx(11.0, rel=0.001), approx(0.0, abs=1e-4))
    assert np.abs(clipped.output).max() == approx(13.5, abs=0.1)
    assert clipped.thd > 0.1
