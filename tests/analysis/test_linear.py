"""The linear network: impedances, transfers, coils, powers, what is left out."""

import math

import numpy as np
from pytest import approx

from topo.analysis import linearise, operating_point, skeleton
from topo.graph import normalise
from topo.netlist import loads

VT = 0.0258649


class Network:
    """A circuit made linear, by names."""

    def __init__(self, text, **options):
        self.graph = normalise(loads(text))
        self.point = operating_point(self.graph)
        self.linear = linearise(self.graph, self.point, **options)

    def node(self, net):
        return self.graph.node_of[net]

    def element(self, ref):
        return self.graph.element_of[ref]

    def impedance(self, a, b, f):
        return self.linear.impedance(self.node(a), self.node(b), f)

    def transfer(self, a, b, f):
        return self.linear.transfer(self.node(a), self.node(b), f)

    def rho(self, f, *refs):
        """|Z of the group| over |Z of the rest|, the group being parts between the same two nets."""
        nodes = self.graph.elements[self.element(refs[0])].nodes
        own = sum(self.linear.admittance_of(self.element(ref), f) for ref in refs)
        return abs(self.linear.facing(nodes[0], nodes[1], own, f)) / abs(own)


def test_an_rc_network_has_its_impedance():
    net = Network("R1 1k : a b\nC1 1u : b gnd\noutput a")
    f = 159.155

    assert net.impedance("a", "gnd", f) == approx(1000 - 1000j, rel=1e-5)


def test_a_coil_counts_with_its_winding_resistance():
    net = Network("L1 1m rdc=2ohm : a gnd\nC1 1p : a gnd")

    assert net.impedance("a", "gnd", 1e3) == approx(2 + 2j * math.pi, rel=1e-4)


def test_rails_stand_still_and_their_resistance_counts():
    net = Network("supply v 9V\nsupply w 9V 10\nR1 1k : v a\nR2 1k : w b\nR3 1G : a b\ninput a b")

    assert net.impedance("v", "gnd", 1e3) == approx(0)
    assert net.impedance("w", "gnd", 1e3) == approx(10, rel=1e-3)


def test_a_diode_is_its_slope():
    net = Network("supply v 10V\nR1 9.3k : v a\nD1 diode : a gnd")
    current = net.point.current("D1")

    assert net.linear.admittance_of(net.element("D1"), 1e3) == approx(current / VT, rel=1e-4)


def test_a_transistor_has_its_transconductance_and_base_conductance():
    net = Network("supply v 10V\nR1 1M : v b\nR2 1k : v c\nQ1 npn hFE=200 VA=50 : b=b c=c e=gnd")
    block = net.linear.blocks[net.element("Q1")]
    current = net.point.current("Q1")

    assert block.slopes[1, 0] == approx(current / VT, rel=2e-3)
    assert block.slopes[0, 0] == approx(net.point.current("Q1", "b") / VT, rel=1e-3)
    assert block.slopes[1, 1] == approx(current / (50 + net.point.voltage("c", "b")), rel=1e-2)


def test_a_driven_device_has_the_slopes_of_the_current_that_it_is_driven_to():
    net = Network("supply v 10V\nR1 1k : b gnd\nR2 1k : v c\nQ1 npn hFE=200 : b=b c=c e=gnd", driven={0: 5e-3})
    block = net.linear.blocks[0]

    assert net.point.states[0] == "off"
    assert block.slopes[1, 0] == approx(5e-3 / VT, rel=1e-4)
    assert block.slopes[0, 0] == approx(5e-3 / VT / 200, rel=1e-3)


def test_a_driven_mosfet_has_twice_the_root_of_k_times_its_current():
    net = Network("supply v 10V\nR1 1k : b gnd\nR2 1k : v c\nQ1 nmos K=0.5 : g=b d=c s=gnd", driven={0: 20e-3})

    assert net.linear.blocks[0].slopes[1, 0] == approx(2 * math.sqrt(0.5 * 20e-3), rel=1e-4)


def test_a_centre_tapped_transformer_turns_the_phase_over():
    net = Network("supply v 9V\nsignal 300Hz to 3kHz\nT1 transformer 1+1:1 : a v b | s gnd\nR1 100 : s gnd")

    assert net.transfer("a", "b", 1e3) == approx(-1, rel=1e-3)


def test_a_step_down_divides_the_voltage_by_the_turns():
    net = Network("signal 300Hz to 3kHz\nT1 transformer 10:1 : a gnd | s gnd\nR1 8 : s gnd\ninput a")

    assert net.transfer("a", "s", 1e3) == approx(0.1, rel=2e-3)


def test_a_stated_primary_inductance_sets_the_low_corner():
    net = Network("signal 300Hz to 3kHz\nT1 transformer 1:1 primary=100m : a gnd | s gnd\nR1 1k : s gnd\nR2 1G : a gnd")
    corner = 1000 / (2 * math.pi * 0.1)

    assert abs(net.impedance("a", "gnd", corner)) == approx(1000 * math.sqrt(0.5), rel=1e-3)


def test_a_loose_coupling_leaves_leakage_inductance():
    net = Network(
        "signal 300Hz to 3kHz\nT1 transformer 1:1 primary=100m k=0.98 : a gnd | s gnd\nR1 1m : s gnd\nR2 1G : a gnd"
    )

    # With the secondary shorted the primary shows L (1 - k^2).
    assert net.impedance("a", "gnd", 1e3).imag == approx(2 * math.pi * 1e3 * 0.1 * (1 - 0.98**2), rel=1e-3)


def test_a_tapped_coil_is_one_core():
    net = Network("signal 1MHz to 2MHz\nL1 200u 10+30 : top tap gnd\nR1 1G : top gnd\nR2 1G : tap gnd\ninput top")

    assert net.impedance("top", "gnd", 1e6).imag == approx(2 * math.pi * 1e6 * 200e-6, rel=1e-3)
    assert net.transfer("top", "tap", 1e6) == approx(0.75, rel=1e-3)


def test_an_op_amp_under_feedback_has_its_closed_loop_gain():
    net = Network(
        "supply p 12V\nsupply n -12V\nR1 1k : in m\nR2 10k : m o\nU1 opamp : in+=gnd in-=m out=o v+=p v-=n\ninput in"
    )

    assert net.transfer("in", "o", 1e3) == approx(-10, rel=2e-4)
    assert net.impedance("o", "gnd", 1e3) == approx(0, abs=1e-9)


def test_a_bead_is_a_resistance_at_radio_frequency_and_a_wire_at_rest():
    net = Network("signal 3MHz to 30MHz\nFB1 bead : a b\nR1 50 : b gnd\nR2 1G : a gnd\ninput a")

    assert abs(net.impedance("a", "gnd", 10e6) - 150) < 5
    assert abs(net.impedance("a", "gnd", 1.0) - 50) < 0.1


def test_the_generator_loads_its_node():
    net = Network("R1 1M : a b\nR2 1M : b gnd\ninput a", generator=(1, 0, 50.0))

    assert net.linear.impedance(1, None, 1e3) == approx(50, rel=1e-3)


def test_elements_left_out_have_no_part_in_it():
    net = Network("R1 1k : a gnd\nC1 1u : a gnd", without=frozenset({0}))

    assert net.impedance("a", "gnd", 1e6) == approx(1000, rel=1e-3)
    assert net.linear.left_out == {0}


def test_a_value_that_is_not_known_is_left_out_and_named():
    net = Network("supply v 9V\nR1 1k : v a\nC1 ? : a gnd\nD1 diode : a gnd")

    assert net.element("C1") in net.linear.left_out
    assert net.linear.admittance_of(net.element("C1"), 1e3) is None


def test_a_device_without_an_operating_point_is_left_out_unless_driven():
    text = "supply v 9V\nR1 ? : v b\nR2 1k : b gnd\nR3 1k : v c\nQ1 npn : b=b c=c e=gnd"
    net = Network(text)
    index = net.element("Q1")

    assert index in net.linear.left_out
    assert Network(text, driven={index: 1e-3}).linear.blocks[index].slopes[1, 0] == approx(1e-3 / VT, rel=1e-3)


def test_a_skeleton_has_no_devices_and_keeps_diodes():
    graph = normalise(
        loads("supply v 9V\nR1 10k : v c\nQ1 npn : b=b c=c e=gnd\nR2 100k : v b\nR3 1k : v d\nD1 diode : d gnd")
    )
    point = operating_point(graph)
    bare = skeleton(graph, point)

    assert bare.impedance(graph.node_of["c"], None, 1e3) == approx(10e3, rel=1e-3)
    assert abs(bare.impedance(graph.node_of["d"], None, 1e3)) < 10


def test_currents_into_all_nodes_add_up_to_what_is_injected():
    net = Network(
        """
        supply v 9V
        signal 300Hz to 3kHz
        R1 100k : v b
        Q1 npn : b=b c=c e=e
        R2 100 : e gnd
        C1 10u : e gnd
        T1 transformer 3:1+1 : v c | s t u
        R3 8 : s t
        R4 8 : t u
        R5 1k : t gnd
        VR1 10k : c w gnd
        D1 diode : w gnd
        """
    )
    response = net.linear.response(1e3, {net.node("b"): 1e-6})
    at_node = np.zeros(net.linear.nodes, dtype=complex)
    for element in net.graph.elements:
        np.add.at(at_node, list(element.nodes), net.linear.currents(element.index, response))
    at_node[net.node("b")] -= 1e-6
    held = [0, net.node("v")]

    assert abs(np.delete(at_node, held)).max() < 1e-12


def test_windings_give_what_they_take():
    net = Network(
        "signal 300Hz to 3kHz\nT1 transformer 10:1+1 : a gnd | s t u\nR1 8 : s gnd\nR2 8 : u gnd\nR3 1 : t gnd\ninput a"
    )
    response = net.linear.response(1e3, {net.node("a"): 1e-3})
    taken, given = net.linear.winding_powers(net.element("T1"), response)
    load = sum(net.linear.powers(net.element(ref), response)[0].real for ref in ("R1", "R2", "R3"))

    assert taken.real > 0 > given.real
    assert -given.real == approx(load, rel=1e-2)
    assert taken.real == approx(-given.real, rel=1e-2)


def test_an_inverse_is_computed_once_a_frequency():
    net = Network("R1 1k : a gnd\nC1 1u : a gnd")

    assert net.linear.inverse(1e3) is net.linear.inverse(1e3)


# The least circuits of common traps: a part is compared with the rest of the circuit across it.


def test_twin_capacitors_are_judged_as_a_group():
    net = Network("signal 1MHz to 10MHz\nsupply v 9V\nR1 100 : v a\nC1 100n : a gnd\nC9 100n : a gnd\nD1 diode : gnd a")

    assert net.rho(3.16e6, "C1") == approx(0.0025, rel=0.05)  # merged already when the circuit was normalised


def test_a_choke_between_two_bypassed_nets_is_open():
    net = Network(
        "signal 1MHz to 10MHz\nR1 1k : n1 gnd\nC2 100n : n1 gnd\nL1 10u : n1 n2\nC3 22n : n2 gnd\nR2 1k : n2 gnd"
    )

    assert net.rho(3.16e6, "L1") > 50  # the choke is far more than the rest


def test_a_bypass_across_a_conducting_diode_is_a_short_only_as_a_group():
    net = Network("signal 300Hz to 3kHz\nsupply v 9V\nR1 820 : v t\nD1 diode : t gnd\nC1 47u : t gnd")

    assert net.rho(300, "C1") == approx(4.4, rel=0.1)
    assert net.rho(300, "C1", "D1") < 0.02


def test_an_emitter_bypass_faces_the_emitter_and_not_its_resistor():
    net = Network(
        """
        signal 100Hz to 10kHz
        supply v 12V
        R1 47k : v b
        R2 10k : b gnd
        C2 1000u : b gnd
        R3 4.7k : v c
        R4 680 : e gnd
        C1 100u : e gnd
        Q1 npn : b=b c=c e=e
        """
    )
    facing = VT / -net.point.current("Q1", "e")

    assert net.rho(1e3, "C1") == approx(1 / (2 * math.pi * 1e3 * 100e-6) / facing, rel=0.05)
