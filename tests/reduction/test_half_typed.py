"""Circuits that lack some of their lines: all that follows the reading has to bear them."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topo
from topo.drawing import block_map
from topo.reduction import comments, reductions
from topo.report.envelope import as_json, envelope
from topo.report.markdown import markdown
from topo.report.terminal import text

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
@given(choice=st.randoms(use_true_random=False), share=st.sampled_from((0.02, 0.1, 0.3, 0.6)))
@settings(max_examples=6, deadline=None)
def test_a_sample_without_some_of_its_lines_is_reduced_and_told(sample, choice, share):
    lines = sample.read_text().splitlines()
    kept = [line for line in lines if line.startswith(("device", "supply", "section", "#")) or choice.random() >= share]
    circuit = topo.loads("\n".join(kept) + "\n")
    reading = topo.read(circuit)

    made = reductions(reading, ("whole", "working", "principle"))

    for reduction in made:
        assert [entry.part for entry in reduction.ledger] == [part.ref for part in circuit.parts]
        written = topo.write(reduction.circuit, comments(reduction))
        assert topo.loads(written).by_ref.keys() == reduction.circuit.by_ref.keys()
    explanation = topo.explain(reading, made)
    assert all(ref in text(explanation) for ref in circuit.by_ref)
    assert "NaN" not in as_json(envelope(explanation))
    assert markdown(explanation)
    assert block_map(reading).title


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
@given(choice=st.randoms(use_true_random=False))
@settings(max_examples=5, deadline=None)
def test_a_sample_with_unread_values_is_reduced_and_told(sample, choice):
    lines = []
    for line in sample.read_text().splitlines():
        head, colon, where = line.partition(" : ")
        words = head.split()
        if colon and len(words) > 1 and words[0][0] in "RC" and choice.random() < 0.3:
            line = f"{words[0]} ? : {where}"
        lines.append(line)
    circuit = topo.loads("\n".join(lines) + "\n")

    explanation = topo.explain(topo.read(circuit), voice="student")

    assert all(ref in text(explanation) for ref in circuit.by_ref)
    assert "NaN" not in as_json(envelope(explanation))


def test_a_resistor_and_a_capacitor_between_two_rails_damp_no_output():
    circuit = topo.loads("""
        supply vcc 9V
        input in
        output out
        signal 300Hz to 3.4kHz
        R1 1k : vcc joint
        C1 100u : joint gnd
        C2 1u : in base
        R2 470k : vcc base
        Q1 npn : b=base c=col e=gnd
        R3 1k : vcc col
        C3 1u : col out
        R4 10k : out gnd
    """)

    ledger = topo.reduce(topo.read(circuit), detail="working").ledger

    assert [entry.part for entry in ledger if "damping" in entry.rule] == []


BRANCH = """
supply vcc 9V
supply vdd 5V
input in
output out
signal 300Hz to 3.4kHz
R9 {resistor} : vcc joint
C6 {capacitor} : joint {end}
C2 1u : in base
R2 470k : {feed} base
Q1 npn : b=base c=col e=gnd
R3 1k : {feed} col
C3 1u : col out
R4 10k : out gnd
"""


def branch(**typed):
    """Fates of the resistor and the capacitor of a branch, with their reasons."""
    ledger = topo.reduce(topo.read(topo.loads(BRANCH.format(**typed)))).ledger
    return {entry.part: entry for entry in ledger if entry.part in ("R9", "C6")}


@pytest.mark.parametrize(
    ("resistor", "capacitor", "blank"), [("?", "220u", "R9"), ("330", "?", "C6"), ("?", "?", "R9 and C6")]
)
def test_a_branch_between_two_rails_of_which_a_value_is_missing_is_assumed(resistor, capacitor, blank):
    found = branch(resistor=resistor, capacitor=capacitor, end="vdd", feed="vcc")

    assert "ssumed" in found["R9"].reason
    assert f"since the value of {blank} is not known" in found["R9"].reason


def test_the_capacitor_of_a_branch_without_value_makes_its_supply_an_assumption():
    found = branch(resistor="330", capacitor="?", end="gnd", feed="joint")

    assert "assumed by its place, since the value of C6 is not known" in found["R9"].reason


def test_a_resistor_without_value_that_feeds_a_stage_is_not_tested():
    found = branch(resistor="?", capacitor="220u", end="gnd", feed="joint")

    assert (found["R9"].fate, found["R9"].rule) == ("kept", "not recognised")


def test_a_branch_with_both_values_is_not_assumed():
    found = branch(resistor="330", capacitor="220u", end="vdd", feed="vcc")

    assert "ssumed" not in found["R9"].reason + found["C6"].reason
