"""A second implementation as oracle: nodal equations written out by hand and solved by scipy."""

import math

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.netlist import loads

root = pytest.importorskip("scipy.optimize").root

VT = 0.025864926  # kT/q at 300.15 K


def bipolar(vb, vc, ve, saturation=1e-14, beta=100.0, sign=1.0):
    """Collector, base and emitter current into an Ebers-Moll transistor, transport form."""
    forward = saturation * (math.exp(min(sign * (vb - ve) / VT, 60)) - 1)
    reverse = saturation * (math.exp(min(sign * (vb - vc) / VT, 60)) - 1)
    collector = forward - reverse - reverse
    base = forward / beta + reverse
    return sign * collector, sign * base, -sign * (collector + base)


def oracle(equations, start):
    found = root(equations, start, method="hybr", options={"xtol": 1e-13})
    assert max(abs(value) for value in equations(found.x)) < 1e-9
    return found.x


def test_a_two_stage_amplifier_agrees_with_equations_by_hand():
    def equations(x):
        b1, c1, e1, c2, e2 = x
        ic1, ib1, ie1 = bipolar(b1, c1, e1)
        ic2, ib2, ie2 = bipolar(c1, c2, e2)
        return [
            (b1 - 12) / 100e3 + b1 / 22e3 + ib1,
            (c1 - 12) / 4.7e3 + ic1 + ib2,
            e1 / 1e3 + ie1,
            (c2 - 12) / 1e3 + ic2,
            e2 / 1e3 + ie2,
        ]

    wanted = oracle(equations, [2.0, 6.0, 1.4, 7.0, 5.3])
    point = operating_point(
        loads("""
            supply v 12V
            R1 100k : v b1
            R2 22k : b1 gnd
            R3 4.7k : v c1
            R4 1k : e1 gnd
            R5 1k : v c2
            R6 1k : e2 gnd
            Q1 npn : b=b1 c=c1 e=e1
            Q2 npn : b=c1 c=c2 e=e2
        """)
    )

    assert [point.voltage(net) for net in ("b1", "c1", "e1", "c2", "e2")] == approx(wanted, abs=1e-6)


def test_a_complementary_pair_on_diodes_agrees_with_equations_by_hand():
    def diode(v):
        return 1e-14 * (math.exp(min(v / VT, 60)) - 1)

    def equations(x):
        bp, m, bn, o = x
        _, ibn, ien = bipolar(bp, 9, o)
        _, ibp, iep = bipolar(bn, -9, o, sign=-1.0)
        return [
            (bp - 9) / 2.2e3 + diode(bp - m) + ibn,
            diode(m - bn) - diode(bp - m),
            (bn + 9) / 1.8e3 - diode(m - bn) + ibp,
            o / 8 + ien + iep,
        ]

    wanted = oracle(equations, [0.7, 0.0, -0.7, 0.0])
    point = operating_point(
        loads("""
            supply p 9V
            supply n -9V
            R1 2.2k : p bp
            D1 diode : bp m
            D2 diode : m bn
            R2 1.8k : bn n
            Q1 npn : b=bp c=p e=o
            Q2 pnp : b=bn c=n e=o
            LS1 speaker 8 : o gnd
        """)
    )

    assert [point.voltage(net) for net in ("bp", "m", "bn", "o")] == approx(wanted, abs=1e-6)


def test_a_jfet_source_follower_into_a_mirror_agrees_with_equations_by_hand():
    def jfet(vgs, vds):
        over = vgs + 2.0
        if over <= 0:
            return 0.0
        inside = min(max(vds, 0.0), over)
        return 5e-3 / 4 * inside * (2 * over - inside)

    def equations(x):
        s, a = x
        ic1, ib1, _ = bipolar(a, a, 0)
        ic2, ib2, _ = bipolar(a, s, 0)
        return [-jfet(-s, 12 - s) + ic2, (a - 12) / 10e3 + ic1 + ib1 + ib2]

    wanted = oracle(equations, [1.0, 0.65])
    point = operating_point(
        loads("""
            supply v 12V
            R1 1M : g gnd
            R2 10k : v a
            Q1 njfet : g=g d=v s=s
            Q2 npn : b=a c=a e=gnd
            Q3 npn : b=a c=s e=gnd
        """)
    )

    assert [point.voltage(net) for net in ("s", "a")] == approx(wanted, abs=1e-4)


def test_a_saturated_switch_agrees_with_equations_by_hand():
    def equations(x):
        b, c = x
        ic, ib, _ = bipolar(b, c, 0)
        return [(b - 5) / 1e3 + ib, (c - 5) / 100 + ic]

    wanted = oracle(equations, [0.75, 0.1])
    point = operating_point(loads("supply v 5V\nR1 1k : v b\nR2 100 : v c\nQ1 npn : b=b c=c e=gnd"))

    assert [point.voltage(net) for net in "bc"] == approx(wanted, abs=1e-6)
