"""Which devices idle, and the current at which they are made linear."""

from pytest import approx

from topo.analysis import driven_currents, operating_point, skeleton
from topo.graph import normalise
from topo.netlist import loads


def driven(text, frequency=1e3):
    graph = normalise(loads(text))
    point = operating_point(graph)
    found = driven_currents(graph, point, skeleton(graph, point), frequency)
    return {graph.elements[index].name: amperes for index, amperes in found.items()}


def test_an_unbiased_pair_is_taken_at_a_tenth_of_what_its_load_asks():
    found = driven(
        """
        supply p 12V
        supply n -12V
        R1 1k : in gnd
        Q1 npn : b=in c=p e=o
        Q2 pnp : b=in c=n e=o
        LS1 speaker 8 : o gnd
        """
    )

    assert found == {"Q1": approx(0.15, rel=0.01), "Q2": approx(0.15, rel=0.01)}  # 12 V / 8 ohm / 10


def test_a_stage_that_is_biased_is_taken_at_its_own_current():
    assert driven("supply v 12V\nR1 1M : v b\nR2 4.7k : v c\nQ1 npn : b=b c=c e=gnd") == {}


def test_a_pair_that_idles_at_microamperes_is_driven():
    found = driven(
        """
        supply p 12V
        supply n -12V
        R1 33k : p x
        D1 diode IS=1p : x m
        D2 diode IS=1p : m y
        R2 33k : y n
        R3 1k : m gnd
        Q1 npn IS=10f : b=x c=p e=o
        Q2 pnp IS=10f : b=y c=n e=o
        LS1 speaker 8 : o gnd
        """
    )

    assert set(found) == {"Q1", "Q2"}


def test_a_bias_follower_between_two_bypassed_nets_is_not_driven():
    # A follower that regulates the bias of a stage: its base is held by a capacitor, its emitter too.
    found = driven(
        """
        supply v 12V
        signal 1MHz to 10MHz
        R1 10k : v b
        D1 diode : b gnd
        C1 100n : b gnd
        Q1 npn : b=b c=v e=n1
        R3 150 : n1 gnd
        C2 100n : n1 gnd
        """,
        3.16e6,
    )

    assert found == {}


def test_a_device_without_a_known_operating_point_is_not_driven():
    assert driven("supply v 12V\nR1 ? : v b\nR2 1k : b gnd\nR3 1k : v c\nQ1 npn : b=b c=c e=gnd") == {}


def test_a_device_with_nothing_at_its_collector_is_not_driven():
    assert driven("supply v 12V\nR1 1k : b gnd\nC1 1p : c gnd\nQ1 npn : b=b c=c e=gnd") == {}
