"""Ideal current sources: at rest they add a current to the equations, for the signal they are open."""

import math

import pytest

import topo
from topo.analysis import linearise, operating_point
from topo.analysis.sensitivities import bias_sensitivities
from topo.graph import normalise


def point_of(*lines):
    return operating_point(topo.loads("\n".join(lines)))


def test_a_current_flows_out_of_the_plus_end_through_the_source_into_the_minus_end():
    # 2 mA through 1 kilohm is 2 V (Ohm's law)
    point = point_of("I1 current 2mA : gnd a", "R1 1k : a gnd")

    assert point.voltage("a") == pytest.approx(2.0)
    assert point.current("I1", "+") == pytest.approx(2e-3)
    assert point.current("I1", "-") == pytest.approx(-2e-3)


def test_a_current_below_zero_flows_the_other_way():
    assert point_of("I1 current -2mA : gnd a", "R1 1k : a gnd").voltage("a") == pytest.approx(-2.0)


def test_a_supply_gives_what_a_current_source_and_a_resistor_draw_together():
    # 10 V over 2 kilohm is 5 mA, and 3 mA more through the source (Kirchhoff's current law)
    point = point_of("supply vcc 10V", "R1 2k : vcc gnd", "I1 current 3mA : vcc gnd")

    assert point.supply_currents["vcc"] == pytest.approx(8e-3)


def test_the_halves_of_a_pair_share_the_current_of_an_ideal_tail():
    # both bases at 0 V: 1 mA of emitter current each, 100/101 of it at the collector through 5 kilohm
    point = point_of(
        "supply vp 12V", "supply vn -12V", "Q1 npn IS=1e-14 hFE=100 : b=gnd c=c1 e=t",
        "Q2 npn IS=1e-14 hFE=100 : b=gnd c=c2 e=t", "I1 current 2mA : t vn", "R1 5k : vp c1", "R2 5k : vp c2",
    )  # fmt: skip

    assert point.voltage("c1") == pytest.approx(12 - 5e3 * 1e-3 * 100 / 101, abs=1e-6)
    assert point.voltage("c2") == pytest.approx(point.voltage("c1"))
    # VBE = VT ln(IC / IS), VT = 25.865 mV at 27 degrees (Ebers-Moll)
    assert point.voltage("t") == pytest.approx(-0.025865 * math.log(1e-3 * 100 / 101 / 1e-14), abs=1e-3)


def test_a_net_that_current_sources_alone_feed_is_not_known_and_said():
    point = point_of(
        "supply vcc 9V", "I1 current 1mA : vcc a", "I2 current 1mA : a gnd", "C1 1u : a gnd", "R1 1k : vcc gnd"
    )

    assert math.isnan(point.voltage("a"))
    assert any("net a" in words and "current sources I1, I2" in words for words in point.missing)


def test_what_hangs_on_a_current_source_without_a_value_is_not_known():
    point = point_of("supply vcc 9V", "I1 current ? : vcc a", "R1 1k : a gnd", "R2 1k : vcc b", "R3 1k : b gnd")

    assert math.isnan(point.voltage("a"))
    assert point.voltage("b") == pytest.approx(4.5)
    assert any("I1 has no value" in words for words in point.missing)


def test_a_resistor_without_a_value_that_a_current_source_feeds_is_no_dead_end():
    point = point_of("I1 current 1mA : gnd a", "R1 ? : a gnd")

    assert math.isnan(point.voltage("a"))


def test_for_the_signal_a_current_source_is_open():
    # all that is left at the net is the resistor
    circuit = topo.loads("supply vcc 9V\nI1 current 1mA : vcc a\nR1 3k3 : a gnd\n")
    graph = normalise(circuit)
    linear = linearise(graph, operating_point(graph))

    assert abs(linear.impedance(graph.node_of["a"], None, 1e3)) == pytest.approx(3.3e3, rel=1e-4)


def test_two_current_sources_into_one_net_add():
    assert point_of("I1 current 1mA : gnd a", "I2 current 2mA : gnd a", "R1 1k : a gnd").voltage("a") == pytest.approx(
        3.0
    )


def test_a_transistor_s_current_goes_with_that_of_the_source_at_its_emitter():
    # without Early effect the collector takes hFE / (hFE + 1) of it: 1 % more is 1 % more
    point = point_of("supply vcc 9V", "Q1 npn IS=1e-14 hFE=100 : b=vcc c=vcc e=e", "I1 current 1mA : e gnd")
    rows = bias_sensitivities(point)["Q1"]

    assert {row.ref: row.percent for row in rows}["I1"] == pytest.approx(1.0, rel=1e-4)
