"""Class, conduction angle and distortion of the usual stages against closed forms, on both ways to a steady cycle.

Classes as IEC 60050 words them (from memory): A, current in the device for the whole cycle; AB, for appreciably more
than half and less than the whole; B, for about half, cut off at rest; C, for appreciably less than half.
"""

import math

import numpy as np
import pytest
from pytest import approx

from tests.analysis.large_signal.driving import driven
from topo.analysis.large_signal.measures import CONDUCTS_SHARE

VT = 0.025864926  # kT/q at 300.15 K
LOAD, SATURATION, AMPLITUDE = 50.0, 1e-14, 5.0
INSTANTS = 1024
METHODS = ("time stepping", "quasi-static")
# Volts of bias for each device: none, half a diode's drop, a whole one, and a little more.
BIASES = (0.0, 0.3, 0.65, 0.7)


def followers(bias):
    """Complementary followers with an ideal source of bias volts in each base lead, and next to no base current."""
    return f"""
        device n npn IS={SATURATION} hFE=1e9
        device p pnp IS={SATURATION} hFE=1e9
        supply vp 12V
        supply vn -12V
        input in
        output o
        BT1 battery {bias + 1e-12}V : up in
        BT2 battery {bias + 1e-12}V : in low
        Q1 n : b=up c=vp e=o
        Q2 p : b=low c=vn e=o
        R1 {LOAD} : o gnd
    """


def closed_form(bias):
    """Output and current of the upper device over a cycle.

    Both devices obey IS exp(v/VT), so the load's current is 2 IS exp(bias/VT) sinh((vin - vout)/VT): vin follows from
    vout in closed form, and vout from vin between close points of it.
    """
    idle = SATURATION * math.exp(bias / VT)
    out = np.linspace(-AMPLITUDE, AMPLITUDE, 400001)
    into = out + VT * np.arcsinh(out / LOAD / (2 * idle))
    drive = AMPLITUDE * np.sin(2 * np.pi * np.arange(1, INSTANTS + 1) / INSTANTS)
    found = np.interp(drive, into, out)
    return found, idle * np.exp((drive - found) / VT)


def amounts(signal):
    return np.abs(np.fft.rfft(signal))[1:] * 2 / len(signal)


def angle_of(current):
    return 360.0 * np.mean(current > CONDUCTS_SHARE * current.max())


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("bias", BIASES)
def test_complementary_followers_distort_and_conduct_as_their_closed_form_says(bias, method):
    cycle = driven(followers(bias), AMPLITUDE, frequency=1e3, instants=INSTANTS, method=method)
    output, current = closed_form(bias)
    wanted = amounts(output)

    assert cycle.method == method and cycle.steady
    assert cycle.harmonics[0] == approx(wanted[0], rel=1e-4)
    assert cycle.harmonics[2] == approx(wanted[2], rel=2e-3)
    assert cycle.device("Q1").angle == approx(angle_of(current), abs=0.8)  # An instant is 0.35 degrees.
    assert cycle.device("Q2").angle == approx(cycle.device("Q1").angle, abs=0.1)


def test_the_transfer_of_an_unbiased_pair_has_a_dead_band_of_two_junction_drops():
    cycle = driven(followers(0.0), AMPLITUDE, frequency=1e3, instants=INSTANTS)
    # Where the load gets less than 0.1 mA, within VT asinh(0.1 mA / 2 IS) of the middle: 0.58 V on each side.
    edge = VT * math.asinh(1e-4 / (2 * SATURATION))
    dead = np.ptp(cycle.input[np.abs(cycle.output) < 1e-4 * LOAD])

    assert dead == approx(2 * edge, rel=0.03)
    assert 1.0 < dead < 1.3


def test_the_third_harmonic_of_an_unbiased_pair_is_near_that_of_a_sine_with_its_dead_band_cut_out():
    # Fourier's integral of a sine of crest 1 with a dead band of s on each side: b1 = (2/pi)(pi/2 - asin s - s c),
    # b3 = (4/(3 pi)) s c^3, c = sqrt(1 - s^2) (computed).
    cycle = driven(followers(0.0), AMPLITUDE, frequency=1e3, instants=INSTANTS)
    at_crest = VT * math.asinh(AMPLITUDE / LOAD / (2 * SATURATION))
    bounds = []
    for volts in (0.58, at_crest):
        s = volts / AMPLITUDE
        c = math.sqrt(1 - s * s)
        bounds.append(4 / (3 * math.pi) * s * c**3 / (2 / math.pi * (math.pi / 2 - math.asin(s) - s * c)))

    assert bounds[0] < cycle.harmonics[2] / cycle.harmonics[0] < bounds[1]
    assert bounds[1] < 1.4 * bounds[0]


@pytest.mark.parametrize("method", METHODS)
def test_more_bias_brings_less_distortion_and_a_longer_conduction(method):
    cycles = [driven(followers(bias), AMPLITUDE, frequency=1e3, instants=INSTANTS, method=method) for bias in BIASES]
    angles = [cycle.device("Q1").angle for cycle in cycles]

    assert [cycle.device("Q1").letter for cycle in cycles] == ["B", "B", "AB", "AB"]
    assert angles == sorted(angles)
    assert angles[0] < 170 < 176 < angles[2] < angles[3]
    assert angles[3] > 185
    distortions = [cycle.thd for cycle in cycles]
    assert distortions == sorted(distortions, reverse=True)
    assert distortions[0] > 5 * distortions[2]


@pytest.mark.parametrize("method", METHODS)
def test_two_diodes_take_crossover_away_and_one_does_half_of_it(method):
    text = """
        device n npn IS=1e-13 hFE=300
        device p pnp IS=1e-13 hFE=300
        supply vp 12V
        supply vn -12V
        input in
        output o
        R1 1k : vp up
        {upper} : up in
        {lower} : in low
        R2 1k : low vn
        Q1 n : b=up c=vp e=o
        Q2 p : b=low c=vn e=o
        R3 50 : o gnd
    """
    wire, diode = "R{} 1m", "D{} diode IS=1e-13"
    none, one, two = (
        driven(text.format(upper=a.format(8), lower=b.format(9)), 4.0, frequency=1e3, method=method)
        for a, b in ((wire, wire), (diode, wire), (diode, diode))
    )

    assert none.thd > one.thd > 3 * two.thd
    assert none.crossover > 0.9 and two.crossover < 0.1
    assert [none.device(ref).letter for ref in ("Q1", "Q2")] == ["B", "B"]
    # The diodes carry 11 mA; the transistors are alike, and idle at as much.
    assert two.device("Q1").rest == approx(11.2e-3, rel=0.1)
    for ref in ("Q1", "Q2"):
        assert (two.device(ref).letter, two.device(ref).angle > 185) == ("AB", True)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_class_a_stage_conducts_for_the_whole_cycle_with_the_harmonics_of_its_exponential(share, method):
    # Emitter resistor R in series with the junction: v = i R + VT ln(i / IS); around the idle current I, with a swing
    # of the drive that takes the current to (1 - share) I. Current by interpolation of that closed form.
    idle, ohms = 10e-3, 100.0
    current = np.linspace(0.01, 2.2, 400001) * idle
    volts = current * ohms + VT * np.log(current / SATURATION)
    bias = idle * ohms + VT * math.log(idle / SATURATION)
    crest = bias - ((1 - share) * idle * ohms + VT * math.log((1 - share) * idle / SATURATION))
    drive = crest * np.sin(2 * np.pi * np.arange(1, 257) / 256)
    wanted = amounts(np.interp(bias + drive, volts, current))
    cycle = driven(
        f"""
        supply vcc 50V
        input in
        output c
        BT1 battery {bias}V : b in
        R3 1M : in gnd
        Q1 npn IS={SATURATION} hFE=1e9 : b=b c=c e=e
        R1 {ohms} : e gnd
        R2 1k : vcc c
        """,
        crest,
        frequency=1e3,
        method=method,
    )

    assert (cycle.device("Q1").angle, cycle.device("Q1").letter) == (360.0, "A")
    assert cycle.harmonics[1] / cycle.harmonics[0] == approx(wanted[1] / wanted[0], rel=2e-3)
    assert cycle.device("Q1").peak == approx(idle + (np.interp(bias + crest, volts, current) - idle), rel=1e-3)


TANK = """
    L1 1.59155u rdc=1u : vcc c
    C1 15.9155n : c vcc
    R2 {ohms} : c vcc
"""


@pytest.mark.parametrize("angle", [60, 90, 120, 140])
def test_a_tuned_class_c_stage_conducts_for_the_angle_of_its_bias_and_drive(angle):
    # Straight-line device: it opens where the drive passes the bias, 2 acos(bias / crest) (classic, computed); open
    # counts from a hundredth of the crest on.
    crest = 10.0
    bias = crest * math.cos(math.radians(angle / 2))
    seen = 2 * math.degrees(math.acos((bias + CONDUCTS_SHARE * (crest - bias)) / crest))
    cycle = driven(
        f"""
        device n npn IS=1e-9 N=0.02 hFE=1e6
        supply vcc 100V
        input in
        output c
        R3 1M : in gnd
        BT1 battery {bias - 0.0083}V : in b
        Q1 n : b=b c=c e=e
        R1 100 : e gnd
        {TANK.format(ohms=500)}
        """,
        crest,
        frequency=1e6,
        instants=INSTANTS,
    )
    device = cycle.device("Q1")

    assert (cycle.method, cycle.steady, device.letter) == ("time stepping", True, "C")
    assert device.angle == approx(seen, abs=1.0)
    assert device.angle < 180
    assert cycle.thd < 0.02  # The tank, Q 50, leaves the fundamental.


@pytest.mark.parametrize("crest", [0.62, 0.7])
def test_a_tuned_stage_without_bias_conducts_for_the_angle_of_its_exponential(crest):
    # i = IS exp(v cos(t) / VT): above a hundredth of the crest where cos t > 1 - VT ln(100) / v.
    cycle = driven(
        f"""
        supply vcc 12V
        input in
        output c
        R3 1M : in gnd
        Q1 npn IS=1e-14 hFE=1e9 : b=in c=c e=gnd
        {TANK.format(ohms=200)}
        """,
        crest,
        frequency=1e6,
        instants=INSTANTS,
    )
    wanted = 2 * math.degrees(math.acos(1 - VT * math.log(1 / CONDUCTS_SHARE) / crest))

    assert cycle.device("Q1").angle == approx(wanted, abs=0.8)
    assert (cycle.device("Q1").letter, cycle.device("Q1").rest) == ("C", approx(0.0, abs=1e-9))
