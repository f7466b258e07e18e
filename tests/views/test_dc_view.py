"""The DC view and the wire view: classes, branches, and what does not break a chain."""

from viewing import seen_by_position as seen

from topo.analysis import operating_point
from topo.graph import normalise
from topo.netlist import loads
from topo.views.plain import dc_view


def dc_chains(text):
    graph = normalise(loads(text))
    view = dc_view(graph, operating_point(graph))
    return {tuple(graph.elements[i].name for i in branch.elements) for branch in view.branches if branch.is_chain}


PAIR_WITH_TAIL_OF_TWO = """
supply vcc 250V
V1 triode : a=a1 g=g1 k=k
V2 triode : a=a2 g=g2 k=k
R1 100k : vcc a1
R2 100k : vcc a2
R8 1k : k kb
R9 22k : kb gnd
R3 1M : g1 kb
R4 1M : g2 kb
signal 300Hz to 3.4kHz
"""


def test_windings_chokes_and_beads_are_wires_at_direct_current():
    found = seen("""
        supply vcc 9V
        L1 choke 1m : vcc a
        L2 10u : a b
        T1 transformer 5:1 : b c | d gnd
        FB1 bead : c e
        R1 1k : e gnd
    """)

    assert found.joined("vcc", "e", "dc")
    assert found.joined("d", "gnd", "dc")
    assert not found.joined("d", "vcc", "dc")
    assert found.why("vcc", "c", "dc") == ("L1", "L2", "T1")


def test_the_wire_view_keeps_the_ends_of_a_winding_apart():
    found = seen("""
        supply vcc 9V
        T1 transformer 5:1 : vcc c | d gnd
        R1 1k : c gnd
        R2 8 : d gnd
    """)

    assert not found.joined("vcc", "c", "wire")
    assert found.joined("vcc", "c", "dc")


def test_capacitors_are_gone_at_direct_current():
    found = seen("""
        supply vcc 9V
        R1 1k : vcc a
        C1 1u : a b
        R2 1k : b gnd
    """)

    assert [branch.elements for branch in found.views.dc.gone] == [(found.element("C1"),)]
    assert found.element("C1") not in found.views.dc.present


def test_a_bootstrapped_load_is_one_branch_at_direct_current_and_two_as_drawn():
    text = """
        supply vcc 12V
        R1 1k : vcc m
        R2 1k : m c
        C1 47u : m out
        R3 8 : out gnd
        Q1 npn : b=b c=c e=gnd
        R4 100k : c b
        signal 300Hz to 3.4kHz
    """

    found = seen(text)

    assert ("R1", "R2") in found.chains("dc")
    assert found.chains("wire") == set()
    chain = next(branch for branch in found.views.dc.branches if branch.is_chain)
    assert chain.value == 2000
    assert {found.graph.nets[node] for node in chain.nodes} == {"vcc", "c"}


def test_single_elements_stand_beside_the_chain_that_contains_them():
    found = seen("""
        supply vcc 12V
        R1 1k : vcc m
        R2 1k : m c
        D1 diode : c gnd
        C1 1u : m out
        R3 1k : out gnd
    """)

    kinds = [found.names(branch.elements) for branch in found.views.dc.branches]

    assert kinds[0] == ("R1", "R2")
    assert ("R1",) in kinds and ("R2",) in kinds


def test_a_resistor_without_current_does_not_branch_a_chain():
    assert ("R8", "R9") in dc_chains(PAIR_WITH_TAIL_OF_TWO)


def test_a_resistor_with_current_does_branch_it():
    assert ("R8", "R9") not in dc_chains(PAIR_WITH_TAIL_OF_TWO.replace("R3 1M : g1 kb", "R3 100k : vcc kb"))


def test_a_control_terminal_on_the_joint_keeps_two_resistors_apart():
    found = seen("""
        supply vcc 12V
        R1 10k : vcc b
        R2 2k : b gnd
        Q1 npn : b=b c=vcc e=e
        R3 1k : e gnd
    """)

    assert found.chains("dc") == set()


def test_a_port_on_the_joint_keeps_two_resistors_apart():
    found = seen("""
        input in
        R1 10k : in a
        R2 2k : a gnd
        output a
    """)

    assert found.chains("wire") == set()


def test_the_halves_of_a_potentiometer_are_resistors_and_join_chains():
    found = seen("""
        supply vcc 12V
        R1 10k : vcc t
        VR1 1k at 30% : t w gnd
        Q1 npn : b=w c=vcc e=e
        R2 100 : e gnd
    """)

    halves = [branch for branch in found.views.dc.branches if branch.part_of]
    assert [(half.part_of[1:], half.value) for half in halves] == [(("1", "w"), 300.0), (("w", "2"), 700.0)]
    chain = next(branch for branch in found.views.dc.branches if branch.is_chain)
    assert found.names(chain.elements) == ("R1", "VR1")
    assert chain.value == 10300


def test_the_first_end_of_a_diode_branch_is_its_anode_however_it_was_typed():
    found = seen("""
        supply vcc 12V
        R1 1k : vcc x
        D1 diode : k=gnd a=x
    """)

    diode = next(branch for branch in found.views.wire.branches if branch.kind == "diode")
    assert found.graph.nets[diode.nodes[0]] == "x"
    assert diode.terminals == ("a", "k")
