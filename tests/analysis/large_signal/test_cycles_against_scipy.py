"""Steady cycles against differential equations written out by hand and solved by scipy.integrate.solve_ivp."""

import math

import numpy as np
import pytest
from pytest import approx

from tests.analysis.large_signal.driving import driven

solve_ivp = pytest.importorskip("scipy.integrate").solve_ivp

VT = 0.025864926  # kT/q at 300.15 K
TIME_STEPS = {"method": "time stepping"}


def last_cycle(rate, start, frequency, cycles, instants=256):
    """States after each of the steps of the last of many cycles, (n, states)."""
    period = 1.0 / frequency
    times = (cycles - 1 + np.arange(1, instants + 1) / instants) * period
    found = solve_ivp(rate, (0.0, cycles * period), start, "LSODA", t_eval=times, rtol=1e-9, atol=1e-12)
    return found.y.T


def test_a_low_pass_of_resistor_and_capacitor_follows_its_equation():
    def rate(t, y):
        return [(math.sin(2 * math.pi * 1e3 * t) - y[0]) / (1e3 * 159e-9)]

    wanted = last_cycle(rate, [0.0], 1e3, 20)[:, 0]
    cycle = driven("input a\noutput b\nR1 1k : a b\nC1 159n : b gnd", 1.0, frequency=1e3, **TIME_STEPS)

    assert cycle.steady
    assert cycle.output == approx(wanted, abs=2e-4)
    assert cycle.gain == approx(1 / math.hypot(1, 2 * math.pi * 1e3 * 1e3 * 159e-9), rel=2e-4)


def test_a_low_pass_of_coil_and_resistor_follows_its_equation():
    def rate(t, y):
        return [(math.sin(2 * math.pi * 1e3 * t) - 100.0 * y[0]) / 10e-3]

    wanted = 100.0 * last_cycle(rate, [0.0], 1e3, 20)[:, 0]
    cycle = driven("input a\noutput b\nL1 10m rdc=0 : a b\nR1 100 : b gnd", 1.0, frequency=1e3, **TIME_STEPS)

    assert cycle.output == approx(wanted, abs=2e-4)


def test_a_diode_clipper_with_a_capacitor_follows_its_equation():
    def rate(t, y):
        current = (5.0 * math.sin(2 * math.pi * 1e3 * t) - y[0]) / 2.2e3
        return [(current - 2e-14 * math.sinh(y[0] / VT)) / 47e-9]

    wanted = last_cycle(rate, [0.0], 1e3, 10)[:, 0]
    cycle = driven(
        """
        input a
        output b
        R1 2.2k : a b
        C1 47n : b gnd
        D1 diode IS=1e-14 : b gnd
        D2 diode IS=1e-14 : gnd b
        """,
        5.0,
        frequency=1e3,
    )

    assert cycle.method == "time stepping"
    assert cycle.output == approx(wanted, abs=2e-3)
    assert cycle.harmonics[1] == approx(0.0, abs=1e-6)


def test_a_rectifier_charges_its_capacitor_as_its_equation_says():
    def rate(t, y):
        drive = 10.0 * math.sin(2 * math.pi * 50.0 * t)
        low, high = -40.0, 1.5  # The diode's volts: its current times 10 ohm and itself make up the rest.
        for _ in range(60):
            v = 0.5 * (low + high)
            low, high = (v, high) if 10.0 * 1e-14 * math.expm1(v / VT) + v < drive - y[0] else (low, v)
        return [(1e-14 * math.expm1(v / VT) - y[0] / 1e3) / 47e-6]

    wanted = last_cycle(rate, [8.0], 50.0, 12, 512)[:, 0]
    cycle = driven(
        "input a\noutput c\nR1 10 : a b\nD1 rectifier IS=1e-14 : b c\nC1 47u : c gnd\nR2 1k : c gnd",
        10.0,
        frequency=50.0,
        instants=512,
    )

    assert cycle.steady
    assert cycle.output == approx(wanted, abs=0.01)
    assert cycle.device("D1").angle < 90


def test_a_transformer_with_leakage_follows_its_equations():
    mutual = 0.95 * math.sqrt(0.1 * 0.025)
    inverse = np.linalg.inv(np.array([[0.1, mutual], [mutual, 0.025]]))

    def rate(t, y):
        first = math.sin(2 * math.pi * 400.0 * t) - 50.0 * y[0]
        return list(inverse @ np.array([first, -100.0 * y[1]]))

    wanted = 100.0 * last_cycle(rate, [0.0, 0.0], 400.0, 40)[:, 1]
    cycle = driven(
        "input a\noutput s\nT1 transformer 2:1 primary=100m k=0.95 rdc=0 : a gnd | s gnd\nR1 100 : s gnd",
        1.0,
        source=50.0,
        frequency=400.0,
        **TIME_STEPS,
    )

    assert cycle.output == approx(-wanted, abs=3e-4)


def bipolar(vb, vc, ve, saturation=1e-14, beta=100.0):
    """Collector and base current of an Ebers-Moll transistor, transport form."""
    forward = saturation * math.expm1(min((vb - ve) / VT, 60))
    reverse = saturation * math.expm1(min((vb - vc) / VT, 60))
    return forward - 2 * reverse, forward / beta + reverse


def test_an_overdriven_stage_moves_its_coupling_capacitor_as_its_equation_says():
    def base(y, drive):
        """Base and collector volts by halving: y are the volts across the coupling capacitor."""
        low, high = -5.0, 1.2
        for _ in range(50):
            vb = 0.5 * (low + high)
            bottom, top = -1.0, 12.0
            for _ in range(50):
                vc = 0.5 * (bottom + top)
                current, _ = bipolar(vb, vc, 0.0)
                bottom, top = (vc, top) if (12.0 - vc) / 4.7e3 > current else (bottom, vc)
            _, into = bipolar(vb, vc, 0.0)
            over = (vb + y - drive) / 1e3 + (vb - 12.0) / 1e6 + into
            low, high = (low, vb) if over > 0 else (vb, high)
        return vb, vc

    def rate(t, y):
        drive = 0.5 * math.sin(2 * math.pi * 1e3 * t)
        vb, _ = base(y[0], drive)
        return [(drive - y[0] - vb) / 1e3 / 100e-9]

    cycle = driven(
        """
        supply v 12V
        input a
        output c
        C1 100n : a b
        R1 1M : v b
        R2 4.7k : v c
        Q1 npn IS=1e-14 hFE=100 : b=b c=c e=gnd
        """,
        0.5,
        source=1e3,
        frequency=1e3,
    )
    across = cycle.volts("a") - cycle.volts("b")
    found = solve_ivp(rate, (0.0, 1e-3), [across[-1]], "LSODA", t_eval=np.arange(1, 257) / 256e3, rtol=1e-6, atol=1e-8)

    assert cycle.steady
    # Stepped by scipy over one cycle from the same state, it comes back to it, by the same way.
    assert found.y[0] == approx(across, abs=2e-4)
    # At rest it has a base-emitter voltage across it; the base's rectified current takes more than half of it away.
    assert -0.35 < across.mean() < -0.2


def test_the_cycle_of_a_tuned_circuit_is_that_of_its_equation():
    # The generator of 10 V behind 10 kilohm is 1 mA beside 10 kilohm.
    def rate(t, y):
        volts, current = y
        drive = 1e-3 * math.sin(2 * math.pi * 1e6 * t)
        return [(drive - volts / 5e3 - current) / 100e-12, volts / 253.3e-6]

    wanted = last_cycle(rate, [0.0, 0.0], 1e6, 60)[:, 0]
    cycle = driven(
        "input a\noutput a\nR1 10k : a gnd\nC1 100p : a gnd\nL1 253.3u rdc=0 : a gnd",
        10.0,
        source=10e3,
        frequency=1e6,
        **TIME_STEPS,
    )

    assert cycle.output == approx(wanted, abs=0.02)
