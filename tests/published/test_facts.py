"""Facts with numbers about devices, each with its source in words."""

import math

import pytest
from pytest import approx

from topo.analysis import linearise, operating_point
from topo.analysis.physics import thermal_voltage
from topo.graph import normalise
from topo.netlist import loads


@pytest.mark.parametrize(
    "kelvin, millivolts", [(290, 24.990), (298.15, 25.693), (300, 25.852), (300.15, 25.865), (350, 30.161)]
)
def test_thermal_voltage_is_kt_over_q(kelvin, millivolts):
    # F50, computed: k and q are exact in the SI.
    assert thermal_voltage(kelvin - 273.15) * 1e3 == approx(millivolts, abs=0.0006)


def base_emitter(current, celsius=27):
    point = operating_point(
        loads(
            f"temperature {celsius}\nV1 source {current}GV : far gnd\nR1 1000M : far b\nQ1 npn IS=2e-15 : b=b c=b e=gnd"
        )
    )
    return point.voltage("b")


def test_base_emitter_voltage_rises_sixty_millivolts_a_decade():
    # F51, computed: 59.5 mV a decade at 300 K.
    assert (base_emitter(1e-2) - base_emitter(1e-3)) * 1e3 == approx(59.5, abs=0.2)


def test_base_emitter_voltage_falls_two_millivolts_a_kelvin():
    # F60, common practice: about -2 mV/K.
    drift = (base_emitter(1e-3, 37) - base_emitter(1e-3, 27)) / 10

    assert -2.3e-3 < drift < -1.6e-3


def test_silicon_drops_about_seven_tenths_and_germanium_about_three_tenths():
    # F58, Kuphaldt and others, Lessons in Electric Circuits, volume III, chapter 3, read.
    def drop(word):
        return operating_point(loads(f"supply v 10V\nR1 1k : v a\nD1 {word} : a gnd")).voltage("a")

    assert drop("diode") == approx(0.7, abs=0.05)
    assert drop("germanium diode") == approx(0.3, abs=0.08)


def test_a_simple_mirror_loses_two_base_currents():
    # F81, R. Wang, E84 lecture notes, equation 129, read: 1 / (1 + 2/beta) = 0.9804.
    point = operating_point(
        loads("""
            supply v 10V
            R1 10k : v a
            Q1 npn hFE=100 : b=a c=a e=gnd
            Q2 npn hFE=100 : b=a c=o e=gnd
            R2 1k : v o
        """)
    )

    assert point.current("Q2") / point.current("R1") == approx(0.98039, rel=1e-4)


def test_a_vbe_multiplier_stands_at_its_ratio_with_base_current_counted():
    # F83, computed: 2 mA, 1.2 k / 1 k, beta 200, IS 2e-15: VBE 0.7033 V, V 1.5551 V.
    point = operating_point(
        loads("""
            V1 source 2GV : far gnd
            R3 1000G : far t
            R1 1.2k : t b
            R2 1k : b gnd
            Q1 npn IS=2e-15 hFE=200 : b=b c=t e=gnd
        """)
    )

    assert (point.voltage("b"), point.voltage("t")) == approx((0.7033, 1.5551), abs=2e-4)


@pytest.mark.parametrize("ratio, share", [(1, 0.462), (2, 0.762), (3, 0.905), (4, 0.964)])
def test_a_differential_pair_steers_its_tail_by_the_hyperbolic_tangent(ratio, share):
    # F80, computed: (I1 - I2)/IT = tanh(Vd / (2 VT)).
    drive = ratio * thermal_voltage(27)
    point = operating_point(
        loads(f"""
            supply v 10V
            V1 source {drive} : in gnd
            V2 source 1GV : gnd far
            R1 1000G : far t
            Q1 npn : b=in c=v e=t
            Q2 npn : b=gnd c=v e=t
        """)
    )
    first, second = point.current("Q1", "e"), point.current("Q2", "e")

    assert (first - second) / (first + second) == approx(share, abs=6e-4)
    assert (first - second) / (first + second) == approx(math.tanh(ratio / 2), rel=1e-5)


def test_a_darlington_follower_multiplies_both_current_gains():
    # F74, Lessons in Electric Circuits, volume III, figures 13021 and 03109, read.
    point = operating_point(
        loads("""
            supply v 10V
            V1 source 5V : in gnd
            Q1 npn hFE=100 : b=in c=v e=m
            Q2 npn hFE=50 : b=m c=v e=out
            R1 100 : out gnd
        """)
    )

    assert point.current("R1") / point.current("Q1", "b") == approx(101 * 51, rel=1e-4)
    assert point.voltage("in", "out") == approx(1.4, abs=0.1)


def test_a_complementary_pair_loses_one_junction_and_multiplies_by_beta_of_the_second_plus_one():
    # F75, from memory: collector current gain beta1 (beta2 + 1), one VBE.
    point = operating_point(
        loads("""
            supply v 10V
            V1 source 5V : in gnd
            Q1 npn hFE=100 : b=in c=m e=out
            Q2 pnp hFE=50 : b=m c=out e=v
            R1 100 : out gnd
        """)
    )

    assert point.current("Q2", "e") / point.current("Q1", "b") == approx(100 * 51, rel=1e-4)
    assert point.voltage("in", "out") == approx(0.7, abs=0.1)


def test_a_jfet_follows_the_published_square_law():
    # F91, Floyd example 7-4, from the solved-examples companion, result recomputed: 0.333 mA, 1.667 mS.
    circuit = loads("""
        supply v 20V
        V1 source -4V : g gnd
        R1 1k : v d
        Q1 njfet IDSS=3mA VP=-6 : g=g d=d s=gnd
        input g
    """)
    graph = normalise(circuit)
    point = operating_point(graph)
    network = linearise(graph, point)
    gain = network.transfer(graph.node_of["g"], graph.node_of["d"], 1e3)

    assert point.current("Q1") == approx(0.333e-3, rel=0.002)
    assert point.current("Q1") == approx(3e-3 * (1 - 4 / 6) ** 2, rel=1e-6)
    assert -gain.real / 1e3 == approx(2 * 3e-3 / 6 * (1 - 4 / 6), rel=1e-6)  # gm = gm0 (1 - VGS/VP), gm0 = 2 IDSS/|VP|


def triode(extra=""):
    circuit = loads(f"""
        supply ht 300V
        R1 100k : ht a
        R2 1M : g gnd
        R3 1.5k : k gnd
        V1 triode : a=a g=g k=k
        input g
        {extra}
    """)
    graph = normalise(circuit)
    return graph, linearise(graph, operating_point(graph))


def valve_constants(graph, network):
    """mu, gm and rp of the valve at its operating point."""
    block = network.blocks[graph.element_of["V1"]]
    gm, slope = block.slopes[0, 1], block.slopes[0, 0]
    return gm / slope, gm, 1 / slope


def test_a_bypassed_triode_stage_has_the_textbook_gain():
    # F116 to F118: mu = gm rp; gain -mu RL / (RL + rp), from memory.
    graph, network = triode("C1 1F : k gnd")
    mu, gm, rp = valve_constants(graph, network)
    gain = network.transfer(graph.node_of["g"], graph.node_of["a"], 1e3).real

    assert mu == approx(gm * rp, rel=1e-9)
    assert gain == approx(-mu * 100e3 / (100e3 + rp), rel=1e-3)


def test_an_unbypassed_cathode_resistor_lowers_the_gain_by_the_textbook_rule():
    # F119: -mu RL / (RL + rp + (mu + 1) RK), formula from memory.
    graph, network = triode()
    mu, _, rp = valve_constants(graph, network)
    gain = network.transfer(graph.node_of["g"], graph.node_of["a"], 1e3).real

    assert gain == approx(-mu * 100e3 / (100e3 + rp + (mu + 1) * 1.5e3), rel=1e-3)
