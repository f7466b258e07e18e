from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topo
from topo.graph import normalise
from topo.reduction.rebuilding import rebuilt

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))


def of(text):
    return normalise(topo.loads("supply vcc 9V\n" + text))


def nets_of(circuit, ref):
    return [terminal.net for terminal in circuit.part(ref).terminals]


def test_a_wire_makes_its_two_nets_one():
    made = rebuilt(of("R1 10 : in base\nR2 1k : base gnd\nR3 1k : in vcc"), wires=["R1"], gone=[])

    assert nets_of(made.circuit, "R2") == ["in", "gnd"]
    assert made.moved == {"base": "in"}


def test_of_two_nets_that_become_one_the_rail_keeps_its_name():
    made = rebuilt(of("R1 10 : sub vcc\nR2 1k : sub gnd\nR3 1k : sub gnd"), wires=["R1"], gone=[])

    assert nets_of(made.circuit, "R2") == ["vcc", "gnd"]


def test_a_wire_never_shorts_a_rail():
    made = rebuilt(of("R1 10 : vcc gnd\nR2 1k : vcc gnd"), wires=["R1"], gone=[])

    assert made.moved == {}


def test_resistors_in_series_become_the_first_with_their_sum():
    made = rebuilt(of("R1 1k : vcc mid\nR2 2k2 : mid out\nQ1 npn : b=out c=vcc e=gnd"), wires=[], gone=[])

    assert made.merged == {"R2": "R1"}
    assert made.circuit.part("R1").value == 3200
    assert sorted(nets_of(made.circuit, "R1")) == ["out", "vcc"]


def test_capacitors_in_parallel_become_the_first_with_their_sum():
    made = rebuilt(of("C1 10u : a gnd\nC2 100n : gnd a\nQ1 npn : b=a c=vcc e=gnd"), wires=[], gone=[])

    assert made.merged == {"C2": "C1"}
    assert made.circuit.part("C1").value == pytest.approx(10.1e-6)
    assert nets_of(made.circuit, "C1") == ["a", "gnd"]


def test_a_trimmer_is_never_merged_into_a_fixed_resistor():
    made = rebuilt(of("R1 1k : vcc a\nVR1 trimmer 500 at 50% : a b b\nQ1 npn : b=b c=vcc e=gnd"), wires=[], gone=[])

    assert {"R1", "VR1"} <= set(made.circuit.by_ref)


def test_a_part_across_a_wire_has_nothing_left_to_do():
    made = rebuilt(of("R1 10 : a b\nC1 1n : a b\nR2 1k : vcc a\nQ1 npn : b=b c=vcc e=gnd"), wires=["R1"], gone=[])

    assert "C1" in made.void
    assert "C1" not in made.circuit.by_ref


def test_what_hangs_in_the_air_once_its_partner_is_gone_goes_too():
    made = rebuilt(of("R1 10 : out z\nC1 100n : z gnd\nR2 1k : vcc out\nR3 1k : out gnd"), wires=[], gone=["C1"])

    assert "R1" in made.void


def test_what_was_in_the_air_before_stays():
    made = rebuilt(of("R1 10 : out z\nR2 1k : vcc out\nR3 1k : out gnd"), wires=[], gone=[])

    assert "R1" in made.circuit.by_ref


def test_a_part_that_must_stay_stays_without_use():
    made = rebuilt(
        of("R1 10 : a b\nC1 1n : a b\nR2 1k : vcc a\nQ1 npn : b=b c=vcc e=gnd"), wires=["R1"], gone=[], keep=["C1"]
    )

    assert "C1" in made.circuit.by_ref


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
@given(choice=st.randoms(use_true_random=False))
@settings(max_examples=15, deadline=None)
def test_whatever_is_left_out_every_part_is_accounted_for_once(sample, choice):
    graph = normalise(topo.load(sample))
    wires, gone = [], []
    for element in graph.elements:
        if len(element.nodes) == 2:
            fate = choice.choice(("stays", "stays", "wire", "nothing"))
            {"stays": [], "wire": wires, "nothing": gone}[fate].extend(element.members)

    made = rebuilt(graph, wires, gone)

    standing = set(made.circuit.by_ref)
    assert not standing & set(made.merged) and not standing & set(made.void)
    left = {part.ref for part in graph.circuit.parts} - standing - set(made.merged) - set(made.void)
    assert left <= set(wires) | set(gone)
    assert set(made.merged.values()) <= standing | set(made.void)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_leaving_nothing_out_twice_changes_nothing(sample):
    once = rebuilt(normalise(topo.load(sample)), [], []).circuit
    twice = rebuilt(normalise(once), [], []).circuit

    assert once == twice
