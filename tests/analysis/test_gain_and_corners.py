"""Gain, impedances and corners, against networks worked out by hand and by scipy."""

import math

import numpy as np
import pytest
from pytest import approx

from topo.analysis import apply_signal, operating_point
from topo.errors import CircuitError, UsageError
from topo.netlist import loads

signal = pytest.importorskip("scipy.signal")

STAGE = """
    supply vcc 12V
    input in
    output out
    signal 300Hz to 3kHz
    R1 47k : vcc b
    R2 10k : b gnd
    R3 4.7k : vcc c
    R4 1k : e gnd
    C1 1u : in b
    C2 22u : e gnd
    C3 2.2u : c out
    R5 10k : out gnd
    Q1 npn IS=2e-15 hFE=150 VA=80 : b=b c=c e=e
"""


def by_hand(circuit, frequency, generator=0.0):
    """The stage's nodal equations written out: volts of in, b, c, e, out for 1 V behind the generator."""
    point = operating_point(circuit)
    volts = {net: point.voltage(net) for net in ("b", "c", "e")}
    vt = 0.025864926
    forward = 2e-15 * math.exp((volts["b"] - volts["e"]) / vt)
    width = 1 - (volts["b"] - volts["c"]) / 80
    gm, go, gpi = forward / vt * width, forward / 80, forward / vt / 150
    s = 2j * math.pi * frequency
    drive = 1.0 / max(generator, 1e-6)
    a = np.zeros((5, 5), dtype=complex)
    labels = {"in": 0, "b": 1, "c": 2, "e": 3, "out": 4}

    def y(first, second, amount):
        i, j = labels.get(first), labels.get(second)
        for m, n, sign in ((i, i, 1), (j, j, 1), (i, j, -1), (j, i, -1)):
            if m is not None and n is not None:
                a[m, n] += sign * amount

    for first, second, amount in (
        ("in", "gnd", drive), ("b", "gnd", 1 / 47e3 + 1 / 10e3), ("c", "gnd", 1 / 4.7e3),
        ("e", "gnd", 1e-3 + s * 22e-6),
        ("in", "b", s * 1e-6), ("c", "out", s * 2.2e-6), ("out", "gnd", 1e-4), ("b", "e", gpi), ("c", "e", go),
    ):  # fmt: skip
        y(first, second, amount)
    for row, sign in ((2, 1), (3, -1)):
        a[row, 1] += sign * (gm - go)  # VBC moves the width of the base, so VBE does too
        a[row, 3] -= sign * (gm - go)
    return np.linalg.solve(a, np.array([drive, 0, 0, 0, 0]))


@pytest.mark.parametrize("frequency", [10.0, 100.0, 1e3, 1e5])
@pytest.mark.parametrize("generator", [0.0, 600.0])
def test_gain_agrees_with_nodal_equations_by_hand(frequency, generator):
    circuit = loads(STAGE)
    stage = apply_signal(circuit, generator_ohms=generator)
    wanted = by_hand(circuit, frequency, generator)

    assert stage.gain("out", frequency) == approx(wanted[4], rel=1e-4)
    assert stage.gain("c", frequency, of="b") == approx(wanted[2] / wanted[1], rel=1e-4)
    assert stage.gain(("c", "e"), frequency) == approx(wanted[2] - wanted[3], rel=1e-4)


LADDER = "input in\nR1 1k : in a\nC1 100n : a gnd\nR2 10k : a b\nC2 10n : b gnd\nR3 22k : b c\nC3 1n : c gnd\noutput c"


def ladder():
    """State equations of the ladder: poles, and the transfer from `in` to `c`."""
    r, c = (1e3, 10e3, 22e3), (100e-9, 10e-9, 1e-9)
    a = np.array(
        [
            [-(1 / r[0] + 1 / r[1]) / c[0], 1 / (r[1] * c[0]), 0],
            [1 / (r[1] * c[1]), -(1 / r[1] + 1 / r[2]) / c[1], 1 / (r[2] * c[1])],
            [0, 1 / (r[2] * c[2]), -1 / (r[2] * c[2])],
        ]
    )
    return signal.StateSpace(a, np.array([[1 / (r[0] * c[0])], [0], [0]]), np.array([[0, 0, 1.0]]), np.zeros((1, 1)))


@pytest.mark.filterwarnings("ignore")
def test_a_ladder_has_the_response_of_its_state_equations():
    frequencies = np.geomspace(1, 1e6, 60)
    _, wanted = signal.freqresp(ladder(), 2 * math.pi * frequencies)

    assert apply_signal(loads(LADDER)).gains("c", frequencies) == approx(wanted, rel=1e-5, abs=1e-9)


@pytest.mark.filterwarnings("ignore")
def test_the_corner_of_a_ladder_is_where_its_state_equations_fall_three_decibels():
    from scipy.optimize import brentq

    def excess(logarithm):
        return abs(signal.freqresp(ladder(), [2 * math.pi * math.exp(logarithm)])[1][0]) - math.sqrt(0.5)

    wanted = math.exp(brentq(excess, math.log(10), math.log(1e5)))
    found = apply_signal(loads(LADDER)).corners("c", reference=0.01)

    assert [corner.falling for corner in found] == [True]
    assert found[0].hertz == approx(wanted, rel=1e-4)


def test_a_coupled_and_shunted_path_has_a_lower_and_an_upper_corner():
    text = "input in\nsignal 300Hz to 3kHz\nC1 100u : in a\nR1 1k : a gnd\nR2 1k : a out\nC2 1n : out gnd"
    low, high = apply_signal(loads(text)).corners("out")

    assert (low.falling, high.falling) == (False, True)
    assert low.hertz == approx(1 / (2 * math.pi * 1e3 * 100e-6), rel=2e-3)
    assert high.hertz == approx(1 / (2 * math.pi * 1e3 * 1e-9), rel=2e-3)


@pytest.mark.parametrize("quality", [3.0, 30.0, 3000.0])
def test_a_resonance_has_a_corner_on_either_side_however_narrow(quality):
    inductance, capacitance = 100e-6, 253.303e-12
    middle = 1 / (2 * math.pi * math.sqrt(inductance * capacitance))
    ohms = quality * math.sqrt(inductance / capacitance)
    text = f"input in\nR1 {ohms:.9g} : in t\nL1 100u rdc=1e-6 : t gnd\nC1 253.303p : t gnd"
    low, high = apply_signal(loads(text)).corners("t", reference=middle)

    assert high.hertz - low.hertz == approx(middle / quality, rel=5e-3)
    assert math.sqrt(low.hertz * high.hertz) == approx(middle, rel=1e-4)


def test_a_dip_narrower_than_the_first_look_is_found():
    text = "input in\nR1 10 : in t\nL1 100u rdc=10m : t m\nC1 253.303p : m gnd"
    first, second = apply_signal(loads(text)).corners("t", reference=10e3)

    assert (first.falling, second.falling) == (True, False)
    assert second.hertz - first.hertz == approx(10 / (2 * math.pi * 100e-6), rel=0.01)


def test_input_resistance_is_what_the_generator_sees_with_the_load_in_place():
    text = "input in\noutput out\nR1 1k : in out\nR2 3k : out gnd"
    bare, loaded = apply_signal(loads(text), generator_ohms=50), apply_signal(loads(text), load=("out", 1.5e3))

    assert bare.input_impedance() == approx(4e3, rel=1e-6)
    assert loaded.input_impedance() == approx(2e3, rel=1e-6)
    assert loaded.gain("out") == approx(0.5, rel=1e-6)


def test_output_resistance_has_the_generator_in_place_and_the_load_away():
    text = "input in\nR1 1k : in out\nR2 4k : out gnd\nLS1 speaker 8 : out gnd"
    stage = apply_signal(loads(text), generator_ohms=3e3, load=("out", 100.0))

    assert stage.output_impedance("out", without=["LS1"]) == approx(2e3, rel=1e-6)
    assert stage.impedance("out") == approx(1 / (1 / 2e3 + 1 / 8 + 1 / 100), rel=1e-6)


def test_output_resistance_of_a_follower_is_re_and_the_source_over_beta_plus_one():
    # Fact F68 of R. Wang, E84 lecture notes, equation 122, read: RE || (rbe + RS) / (beta + 1).
    circuit = loads("supply v 10V\ninput b\nV1 source 5V : b gnd\nQ1 npn hFE=100 : b=b c=v e=e\nR1 1k : e gnd")
    stage, point = apply_signal(circuit, generator_ohms=1e3), operating_point(circuit)
    rbe = 0.025864926 / point.current("Q1", "b")
    behind = (rbe + 1e3) / 101

    assert stage.output_impedance("e") == approx(1e3 * behind / (1e3 + behind), rel=1e-4)
    assert stage.input_impedance() == approx(rbe + 101 * 1e3, rel=1e-4)


def test_a_floating_pair_of_nets_can_be_driven_and_measured():
    text = "input p n\nR1 1k : p gnd\nR2 1k : n gnd\nR3 2k : p n"
    stage = apply_signal(loads(text))

    assert stage.input_impedance() == approx(1e3, rel=1e-6)
    assert stage.gain("p") == approx(0.5, rel=1e-6)


def test_a_net_that_is_not_there_is_answered_with_those_that_are():
    with pytest.raises(UsageError, match="nowhere"):
        apply_signal(loads(LADDER)).gain("nowhere")
    with pytest.raises(UsageError, match="states no input"):
        apply_signal(loads("R1 1k : a b"))


def test_a_part_without_a_value_leaves_no_gain_to_be_known():
    with pytest.raises(CircuitError, match="C2 has no value"):
        apply_signal(loads(STAGE.replace("C2 22u", "C2 ?")))
