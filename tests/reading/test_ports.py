"""Where the signal enters and leaves, when the file does not say it."""

from __future__ import annotations

from topo.analysis import operating_point
from topo.graph import normalise
from topo.netlist import loads
from topo.reading.ports import infer_ports
from topo.views import views

SINGLE_ENDED = """
    supply vcc 12V
    R1 10k : vcc b
    R2 2k2 : b gnd
    C1 10u electrolytic : b in
    Q1 npn hFE=120 : b=b c=c e=e
    R3 47 : e gnd
    C2 470u electrolytic : e gnd
    T1 transformer 8:1 : c vcc | hot gnd
    LS1 speaker 4 : hot gnd
"""

BOOTSTRAPPED = """
    supply vcc 9V
    C1 4u7 electrolytic : b1 in
    R1 33k : mid b1
    R2 6k8 : b1 gnd
    Q1 npn hFE=200 : b=b1 c=lo e=gnd
    R3 470 : sp hi
    D1 diode : hi x
    D2 diode : x lo
    Q2 npn : b=hi c=vcc e=e2
    Q3 pnp : b=lo c=gnd e=e3
    R4 0R5 : e2 mid
    R5 0R5 : e3 mid
    C2 470u electrolytic : mid sp
    LS1 speaker 8 : vcc sp
"""

GROUNDED_BASE = """
    supply vcc 12V
    signal 1MHz to 30MHz
    C1 100n : in e
    R1 1k : e gnd
    R2 10k : vcc b
    R3 4k7 : b gnd
    C2 100n : b gnd
    Q1 npn : b=b c=c e=e
    R4 1k : vcc c
    C3 100n : c out
    R5 1k : out gnd
"""

MICROPHONE = """
    supply vcc 9V
    MK1 microphone 600 : in gnd
    C1 10u : in b
    R1 220k : c b
    Q1 npn hFE=200 : b=b c=c e=gnd
    R2 4k7 : vcc c
    C2 1u : c out
"""


def ports(text):
    graph = normalise(loads(text))
    found = infer_ports(views(graph, operating_point(graph)), inputs=True, outputs=True)
    return tuple([port.net for port in side] for side in found)


def test_an_end_before_a_base_is_the_input_and_the_loudspeaker_the_output():
    assert ports(SINGLE_ENDED) == (["in"], ["hot"])


def test_a_loudspeaker_is_the_output_even_where_a_base_is_met_first():
    assert ports(BOOTSTRAPPED) == (["in"], ["sp"])


def test_an_end_before_the_emitter_of_a_held_base_is_the_input():
    assert ports(GROUNDED_BASE) == (["in"], ["out"])


def test_a_microphone_is_the_input():
    assert ports(MICROPHONE) == (["in"], ["out"])


def test_a_circuit_without_devices_has_no_ports():
    text = """
        supply vcc 9V
        R1 1k : vcc a
        R2 1k : a gnd
    """
    assert ports(text) == ([], [])
