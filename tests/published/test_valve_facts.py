"""Facts with numbers about valves: textbook formulas from memory, fed with the slopes of the valve at hand."""

import pytest
from pytest import approx

from topo.analysis import apply_signal, operating_point
from topo.netlist import loads


def constants(stage, ref="V1"):
    """mu, gm and rp of a valve at its operating point."""
    network = stage.network
    index = network.graph.element_of[ref]
    names = network.graph.elements[index].terminals
    spots = [names[at] for at in network.blocks[index].terminals]
    slopes = dict(zip(spots, network.blocks[index].slopes[spots.index("a")], strict=True))
    gm = slopes["g1" if "g1" in slopes else "g"]
    return gm / slopes["a"], gm, 1 / slopes["a"]


def test_a_cathode_follower_has_the_textbook_gain_and_output_resistance():
    # F120, from memory: output resistance rp / (mu + 1), gain mu RK / (rp + (mu + 1) RK).
    stage = apply_signal(
        loads("supply ht 250V\nV2 source 60V : g gnd\nV1 ECC82 : a=ht g=g k=k\nR1 10k : k gnd\ninput g")
    )
    mu, _, rp = constants(stage)
    bare = rp / (mu + 1)

    assert stage.gain("k").real == approx(mu * 10e3 / (rp + (mu + 1) * 10e3), rel=1e-6)
    assert stage.output_impedance("k").real == approx(bare * 10e3 / (bare + 10e3), rel=1e-6)


def test_a_pentode_stage_has_slope_times_load():
    # F121, from memory: -gm RL where rp is large.
    text = "supply ht 250V\nsupply s 140V\nsupply g -2V\nR1 22k : ht a\nV1 EF86 : a=a g1=g g2=s g3=gnd k=gnd\ninput g"
    stage = apply_signal(loads(text))
    _, gm, rp = constants(stage)

    assert rp > 20 * 22e3
    assert stage.gain("a").real == approx(-gm * 22e3, rel=0.05)


@pytest.mark.parametrize("anode, grid", [(100, 0), (200, -4), (250, -8)])
def test_a_triode_follows_the_three_halves_law_in_the_limit(anode, grid):
    # F123, from memory: IA = K (VG + VA/mu)^1.5; the fit has it as its limit at large KP, with K = 2/KG1.
    fit = "MU=20 EX=1.5 KG1=1000 KP=20000 KVB=1e-6"
    text = f"supply a {anode}V\nV2 source {grid}V : g gnd\nV1 triode {fit} : a=a g=g k=gnd"
    point = operating_point(loads(text))

    assert point.current("V1") == approx(2 / 1000 * (grid + anode / 20) ** 1.5, rel=1e-4)


def test_a_push_pull_pair_shares_its_cathode_resistor():
    # F125, common practice: the resistor carries the sum of both currents, 2 IK RK.
    point = operating_point(
        loads("""
            supply ht 250V
            R1 1k : g1 gnd
            R2 1k : g2 gnd
            V1 6V6 : a=ht g1=g1 g2=ht k=k
            V2 6V6 : a=ht g1=g2 g2=ht k=k
            R3 250 : k gnd
        """)
    )

    assert point.voltage("k") == approx(2 * 250 * -point.current("V1", "k"), rel=1e-9)
    assert 8 < point.voltage("k") < 18
