"""Phases, the sign of a loop, what a part faces, and where no direct current passes."""

from pytest import approx
from viewing import seen

from topo.views.moves import antiphase, dc_blocked, facing, held_terminal, impedance, in_phase, negative_loop

SPLITTER = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output c
C1 1u : in b
R1 47k : vcc b
R2 15k : b gnd
R3 1k : vcc c
R4 1k : e gnd
R5 {feedback} : c b
Q1 npn : b=b c=c e=e
"""


def splitter(feedback="10M"):
    return seen(SPLITTER.format(feedback=feedback))


def test_collector_and_emitter_of_a_split_load_move_against_each_other():
    found = splitter()

    assert antiphase(found.views, found.node("c"), found.node("e")) is True
    assert in_phase(found.views, found.node("b"), found.node("e")) is True


def test_without_an_input_phases_are_not_known():
    found = seen(SPLITTER.format(feedback="10M").replace("input in\n", ""))

    assert antiphase(found.views, found.node("c"), found.node("e")) is None


def test_a_net_that_stands_still_has_no_phase():
    found = splitter()

    assert antiphase(found.views, found.node("vcc"), found.node("e")) is None


def test_a_resistor_from_collector_to_base_closes_a_negative_loop():
    found = splitter("100k")

    assert negative_loop(found.views, found.node("c"), found.node("b")) is True


def test_a_follower_returns_with_the_same_sign():
    found = splitter()

    assert negative_loop(found.views, found.node("e"), found.node("b")) is False


def test_a_saturated_device_in_the_loop_leaves_its_sign_undecided():
    found = seen(SPLITTER.format(feedback="10M").replace("R1 47k", "R1 4k7"))

    assert negative_loop(found.views, found.node("c"), found.node("b")) is None


def test_a_coupling_capacitor_parts_two_nets_at_direct_current():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc a
        C1 1u : a b
        R2 1k : b gnd
    """)

    assert dc_blocked(found.views, found.node("a"), found.node("b"))


def test_a_capacitor_across_part_of_a_resistor_does_not():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc a
        C1 1u : a b
        R3 1k : a m
        D1 diode : m b
        R2 1k : b gnd
    """)

    assert not dc_blocked(found.views, found.node("a"), found.node("b"))


def test_an_emitter_resistor_faces_re_and_what_the_base_sees_over_the_current_gain():
    found = splitter()

    emitter = abs(found.views.point.currents[found.element("R4")][0])
    bias = 1 / (1 / 47e3 + 1 / 15e3 + 1 / found.views.generator)
    assert facing(found.views, found.element("R4")) == approx(0.02587 / emitter + bias / 101, rel=0.05)


def test_the_impedance_of_a_rail_is_none_at_all():
    found = splitter()

    assert impedance(found.views, found.node("vcc")) == approx(0, abs=1e-6)


def test_a_grid_whose_leak_ends_on_a_bypassed_net_is_held_through_its_bias_lead():
    found = seen("""
        supply vp 250V
        signal 300Hz to 3.4kHz
        input in
        output a
        C1 10n : in g
        R1 470k : g x
        R2 22k : x k
        C2 10u : x gnd
        R5 47k : x gnd
        R3 10k : vp a
        R4 1k : k gnd
        V1 triode : a=a g=g k=k
    """)

    assert held_terminal(found.views, found.element("V1"), "g")
    assert not held_terminal(splitter().views, splitter().element("Q1"), "b")
