"""Worked examples whose source states the device's parameters: no junction voltage is assumed, so they are strict.

Kuphaldt and others, Lessons in Electric Circuits, volume III, chapter 4, read; tables printed there for IS = 1e-16 A,
beta = 100, reverse beta 1, 27 degrees Celsius.
"""

import pytest
from pytest import approx

from topo.analysis import linearise, operating_point
from topo.graph import normalise
from topo.netlist import loads

BOOK_DEVICE = "device book npn IS=1e-16 hFE=100 hFER=1"


def solved(text):
    point = operating_point(loads(text))
    assert point.status == "solved"
    return point


W01 = {0: 15.00, 2: 14.00, 10: 10.00, 20: 5.000, 28: 1.000, 30: 0.2261, 32: 0.1850, 40: 0.1472, 50: 0.1299}


@pytest.mark.parametrize("microamperes, published", W01.items())
def test_a_common_emitter_driven_by_a_base_current_gives_the_published_collector_voltages(microamperes, published):
    # W01, "The common-emitter amplifier", figure 03096, read. 1 Gohm behind kilovolts is a current source.
    point = solved(f"""
        {BOOK_DEVICE}
        V1 source 15V : vcc gnd
        V2 source {microamperes}kV : far gnd
        R2 1000M : far b
        R1 5k : vcc c
        Q1 book : b=b c=c e=gnd
    """)

    tolerance = 0.01 if microamperes == 30 else 0.002
    assert point.voltage("c") == approx(published, rel=tolerance)
    if microamperes:
        state = point.states[point.graph.element_of["Q1"]]
        assert state == ("saturated" if microamperes >= 30 else "on")


W02 = {
    0.6: 0.004954,
    0.8: 0.1221,
    1.0: 0.2989,
    1.2: 0.4863,
    1.4: 0.6777,
    2.0: 1.262,
    3.0: 2.247,
    4.0: 3.237,
    5.0: 4.230,
}


@pytest.mark.parametrize("volts, published", W02.items())
def test_an_emitter_follower_gives_the_published_transfer(volts, published):
    # W02, "The common-collector amplifier", figure 03103, read.
    point = solved(f"""
        {BOOK_DEVICE}
        V1 source 15V : vcc gnd
        V2 source {volts}V : in gnd
        Q1 book : b=in c=vcc e=out
        R1 5k : out gnd
    """)

    assert point.voltage("out") == approx(published, rel=0.001)


W03 = {
    0.85: (37.566, 131.78, 0.8056),
    0.8753: (39.426, 125.57, 1.0005),
    0.90: (40.795, 121.35, 1.1988),
    0.95: (42.739, 115.83, 1.6172),
    1.00: (44.011, 112.48, 2.0513),
}


@pytest.mark.parametrize("bias, published", W03.items())
def test_a_common_base_stage_has_the_published_gain_and_input_resistance(bias, published):
    # W03, "The common-base amplifier", figure 03117 and table, read; collector currents recomputed.
    gain, resistance, milliamperes = published
    circuit = loads(f"""
        {BOOK_DEVICE}
        V1 source 15V : vcc gnd
        R2 5k : vcc c
        Q1 book : b=gnd c=c e=e
        V2 source 1nV : e s
        R1 100 : s bias
        V3 source {bias}V : gnd bias
    """)
    graph = normalise(circuit)
    point = operating_point(graph)
    network = linearise(graph, point, without=frozenset({graph.element_of["V2"]}))
    e, s, c = (graph.node_of[net] for net in "esc")

    assert point.current("Q1") == approx(milliamperes * 1e-3, rel=0.001)
    assert abs(network.transfer(e, c, 1e3, drive_reference=s)) == approx(gain, rel=0.001)
    assert abs(network.impedance(e, s, 1e3)) == approx(resistance, rel=0.001)


def test_a_common_emitter_with_a_base_resistor_has_the_published_gain():
    # W04, tables bjt2 and bjt3, read: 4.418 V out for 1.5 V in.
    circuit = loads(f"""
        {BOOK_DEVICE}
        V1 source 15V : vcc gnd
        R2 30 : vcc c
        Q1 book : b=b c=c e=gnd
        R1 1k : in b
        V2 source 2.3V : in gnd
    """)
    graph = normalise(circuit)
    point = operating_point(graph)
    gain = linearise(graph, point).transfer(graph.node_of["in"], graph.node_of["c"], 2e3)

    assert gain.real == approx(-4.418 / 1.5, rel=0.001)
    assert point.voltage("b") == approx(0.9020, rel=0.001)
    assert point.voltage("c") == approx(10.806, rel=0.001)


def class_ab_pair(drive):
    """W05: Neamen example 8.9 as restated in its solved-examples companion; N makes N VT the 26 mV that it states."""
    return solved(f"""
        device out-n npn IS=1e-13 hFE=75 N=1.005219
        device out-p pnp IS=1e-13 hFE=75 N=1.005219
        device bias diode IS=3e-14 N=1.005219
        supply vp 12V
        supply vn -12V
        V1 source 20kV : far gnd
        R1 1M : far bp
        D1 bias : bp m
        D2 bias : m in
        V2 source {drive}V : in gnd
        Q1 out-n : b=bp c=vp e=out
        Q2 out-p : b=in c=vn e=out
        R2 8 : out gnd
    """)


def test_a_diode_biased_pair_at_rest_has_the_published_bias_and_idle_current():
    scipy = pytest.importorskip("scipy.optimize")
    drive = scipy.brentq(lambda volts: class_ab_pair(volts).voltage("out"), -1.0, 0.0, xtol=1e-9)
    point = class_ab_pair(drive)

    assert point.voltage("bp", "in") == approx(1.416, rel=0.003)
    assert point.voltage("bp", "in") == approx(1.4135, rel=0.0005)  # recomputed by Ebers-Moll
    assert point.current("Q1") == approx(66.7e-3, rel=0.05)
    assert point.current("Q1") == approx(63.8e-3, rel=0.005)  # recomputed by Ebers-Moll


def test_a_diode_biased_pair_at_its_peak_has_the_published_currents():
    scipy = pytest.importorskip("scipy.optimize")
    drive = scipy.brentq(lambda volts: class_ab_pair(volts).voltage("out") - 8.944, 8.0, 9.0, xtol=1e-9)
    point = class_ab_pair(drive)

    assert point.current("Q1", "b") == approx(14.71e-3, rel=0.005)
    assert point.current("D1") == approx(5.29e-3, rel=0.01)
    assert point.voltage("bp", "in") == approx(1.347, rel=0.003)
    assert point.voltage("bp", "out") == approx(0.781, rel=0.003)
    assert point.voltage("out", "in") == approx(0.565, rel=0.003)
    assert -point.current("Q2") == approx(0.278e-3, rel=0.05)
