"""How nets move with the signal, the sign of a loop, what a part faces, and where no direct current passes."""

from __future__ import annotations

from pytest import approx

from tests.matching.building import pattern_of, views_of
from topo.matching.functions.electrical import facing
from topo.matching.functions.relations import antiphase, dc_blocked, in_phase, negative_loop
from topo.matching.functions.small_signal import impedance
from topo.matching.functions.states import held
from topo.matching.index import Index
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import NetRef, Pin, Thing

ANY_PATTERN = pattern_of("""
roles:
  part: {kind: resistor}
nets: {one: , two: }
joins:
  wire: [one -part- two]
""")
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
MIRROR_LOADED_PAIR = """
supply vp 12V
supply vn -12V
signal 30Hz to 15kHz
input in
output out
R1 22k : in gnd
Q1 npn : b=in c=c1 e=t
Q2 npn : b=f c=c2 e=t
R2 11k : t vn
Q3 pnp : b={diode} c=c1 e=vp
Q4 pnp : b={diode} c=c2 e=vp
Q5 pnp : b={second} c=out e=vp
R3 4k7 : out vn
R4 22k : out f
R5 1k : f g
C1 100u : g gnd
"""


class Asked:
    """A circuit, asked in the words of its netlist."""

    def __init__(self, netlist: str) -> None:
        self.views = views_of(netlist)
        self.scope = Scope(Index(self.views), ANY_PATTERN, State())

    def net(self, name: str) -> NetRef:
        return NetRef(name, self.views.graph.node_of[name], {})

    def nets(self, *names: str) -> tuple[NetRef, ...]:
        return tuple(map(self.net, names))

    def thing(self, ref: str) -> Thing:
        index = self.scope.index
        return next(thing for thing in (*index.branches, *index.devices) if thing.parts == (ref,))


def splitter(feedback: str = "10M") -> Asked:
    return Asked(SPLITTER.format(feedback=feedback))


def test_collector_and_emitter_of_a_split_load_move_against_each_other():
    found = splitter()

    assert antiphase(found.scope, *found.nets("c", "e")) is True
    assert in_phase(found.scope, *found.nets("b", "e")) is True


def test_without_an_input_phases_are_not_known():
    found = Asked(SPLITTER.format(feedback="10M").replace("input in\n", ""))

    assert antiphase(found.scope, *found.nets("c", "e")) is None


def test_a_net_that_stands_still_has_no_phase():
    found = splitter()

    assert antiphase(found.scope, *found.nets("vcc", "e")) is None


def test_a_resistor_from_collector_to_base_closes_a_negative_loop():
    found = splitter("100k")

    assert negative_loop(found.scope, *found.nets("c", "b")) is True


def test_a_follower_returns_with_the_same_sign():
    found = splitter()

    assert negative_loop(found.scope, *found.nets("e", "b")) is False


def test_the_right_sense_of_feedback_opposes_what_comes_back():
    found = Asked(MIRROR_LOADED_PAIR.format(diode="c2", second="c1"))

    assert negative_loop(found.scope, *found.nets("out", "f")) is True


def test_the_wrong_sense_of_feedback_is_never_called_negative():
    found = Asked(MIRROR_LOADED_PAIR.format(diode="c1", second="c2"))

    assert negative_loop(found.scope, *found.nets("out", "f")) is not True


def test_a_coupling_capacitor_parts_two_nets_at_direct_current():
    found = Asked("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc a
        C1 1u : a b
        R2 1k : b gnd
    """)

    assert dc_blocked(found.scope, *found.nets("a", "b"))


def test_a_capacitor_across_part_of_a_resistor_does_not():
    found = Asked("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc a
        C1 1u : a b
        R3 1k : a m
        D1 diode : m b
        R2 1k : b gnd
    """)

    assert not dc_blocked(found.scope, *found.nets("a", "b"))


def test_an_emitter_resistor_faces_re_and_what_the_base_sees_over_the_current_gain():
    found = splitter()

    emitter = abs(found.views.point.currents[found.views.graph.element_of["R4"]][0])
    bias = 1 / (1 / 47e3 + 1 / 15e3)
    assert facing(found.scope, found.thing("R4")) == approx(0.02587 / emitter + bias / 101, rel=0.05)


def test_the_impedance_of_a_rail_is_none_at_all():
    found = splitter()

    assert impedance(found.scope, found.net("vcc")) == approx(0, abs=1e-6)


def test_a_grid_whose_leak_ends_on_a_bypassed_net_is_held_through_its_bias_lead():
    found = Asked("""
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
    other = splitter()

    assert held(found.scope, Pin(found.thing("V1"), "g"))
    assert not held(other.scope, Pin(other.thing("Q1"), "b"))
