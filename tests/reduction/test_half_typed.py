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
