"""Drain and source of a list told apart by the current at rest."""

import pytest

import topo
from topo.analysis.exchanged import set_right

FEED = ("V1 vdd 0 12", "R1 vdd a 1k", "R2 b 0 100", ".model JN NJF(VTO=-2 BETA=1m)", ".model MN NMOS(VTO=1 KP=2m)")


def listed(*lines):
    return set_right(topo.loads("\n".join(("t", *FEED, *lines)), "t.cir"))


def ends(circuit, ref):
    part = circuit.part(ref)
    return part.net("d"), part.net("s")


def codes(circuit):
    return [problem.code for problem in circuit.warnings]


@pytest.mark.parametrize("line", ["J1 a 0 b JN", "J1 b 0 a JN"])
def test_the_drain_of_an_n_channel_device_is_where_its_current_flows_in(line):
    circuit = listed(line)

    assert ends(circuit, "J1") == ("a", "b")
    assert ("ends-exchanged" in codes(circuit)) == line.startswith("J1 b")


def test_the_note_says_which_way_the_current_flows():
    circuit = topo.loads(
        "t\nV1 vdd 0 12\nR1 vdd a 1k\nR2 b 0 1k\nJ1 a vdd b JP\n.model JP PJF(VTO=-2 BETA=1m)", "t.cir"
    )
    (note,) = [problem.message for problem in set_right(circuit).warnings if problem.code == "ends-exchanged"]

    assert "flows from a to b, so b is taken for the net of its drain" in note


def test_a_mosfet_with_a_substrate_of_its_own_has_two_like_ends():
    assert ends(listed("M1 b vdd a 0 MN"), "M1") == ("a", "b")


def test_a_mosfet_as_a_closed_switch_may_carry_its_current_backwards():
    circuit = listed("M1 b vdd a MN2", ".model MN2 VDMOS(VTO=2 KP=5)")

    assert ends(circuit, "M1") == ("b", "a")


def test_what_a_netlist_names_stays_as_it_is_named():
    circuit = topo.loads("supply vdd 12V\nR1 1k : vdd a\nQ1 njfet IDSS=4mA VP=-2 : g=gnd d=b s=a\nR2 100 : b gnd\n")

    assert set_right(circuit) is circuit


def test_exchanging_twice_says_it_once():
    circuit = listed("J1 b 0 a JN")

    assert set_right(circuit) is circuit


def test_a_reading_takes_the_right_electrode():
    circuit = topo.loads("\n".join(("t", *FEED, "J1 b 0 a JN")), "t.cir")
    reading = topo.read(circuit)

    assert reading.circuit.part("J1").net("d") == "a"
