"""What holds of every reduction: all parts are accounted for, and reducing again changes nothing."""

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from clutter import Generator
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import topo
from topo.matching import library
from topo.reading import read
from topo.reduction import DETAILS, comments, reduce, reducing
from topo.reduction.decisions import proposals

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))
ordinary = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@cache
def reading_of(sample):
    return read(topo.load(sample), library())


@st.composite
def readings(draw):
    """Readings of the samples with clutter, and with some lines missing."""
    found = reading_of(draw(st.sampled_from(SAMPLES)))
    made = Generator(found, draw(st.integers(0, 10_000))).clutter(draw(st.integers(0, 4))).circuit
    lines = topo.write(made).splitlines()
    gone = draw(st.sets(st.integers(0, 200), max_size=2))
    kept = [
        line
        for place, line in enumerate(lines)
        if place not in gone or not line.startswith(("R", "C", "Q", "D")) or "supply" in line
    ]
    return read(topo.loads("\n".join(kept) + "\n"), library())


@ordinary
@given(readings(), st.sampled_from(DETAILS))
def test_kept_and_merged_and_omitted_are_all_parts(reading, detail):
    made = reduce(reading, detail, library=library())

    assert [entry.part for entry in made.ledger] == [part.ref for part in reading.circuit.parts]
    assert sum(len(made.fates(fate)) for fate in ("kept", "merged", "omitted")) == len(reading.circuit.parts)
    assert made.fates("kept") == tuple(part.ref for part in made.circuit.parts)


@ordinary
@given(readings(), st.sampled_from(("whole", "working")))
def test_reducing_a_reduced_circuit_changes_nothing(reading, detail):
    once = reduce(reading, detail, library=library())
    text = topo.write(once.circuit, comments(once))
    again = reduce(read(topo.loads(text), library()), detail, library=library())

    assert again.fates("omitted") == again.fates("merged") == ()


@ordinary
@given(readings())
def test_working_keeps_within_its_limits_or_says_why_nothing_is_proved(reading):
    made = reduce(reading, library=library())

    assert made.totals or made.missing or not made.fates("omitted")
    assert abs(made.totals.get("gain dB", 0)) < 1
    assert abs(made.totals.get("current %", 0)) < 5
    assert max(abs(made.totals.get(f"{edge} edge octaves", 0)) for edge in ("low", "high")) < 1


few = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@few
@given(st.sampled_from(SAMPLES), st.integers(0, 10_000), st.sampled_from(("working", "principle")))
def test_the_order_of_lines_does_not_change_what_becomes_of_a_part(sample, seed, detail):
    circuit = Generator(reading_of(sample), seed).clutter(3).circuit
    shuffled = replace(circuit, parts=tuple(random.Random(seed).sample(circuit.parts, len(circuit.parts))))

    made, other = (reduce(read(item, library()), detail, library=library()) for item in (circuit, shuffled))

    assert fates(made) == fates(other)


@few
@given(st.sampled_from(SAMPLES), st.randoms(use_true_random=False), st.sampled_from(("working", "principle")))
def test_the_order_in_which_omissions_are_considered_does_not_change_the_ledger(sample, choice, detail):
    reading = reading_of(sample)
    plain = reduce(reading, detail, library=library())

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reducing, "proposals", lambda *given: shuffled(proposals(*given), choice))
        other = reduce(reading, detail, library=library())

    assert fates(plain) == fates(other)


def shuffled(items, choice):
    return tuple(choice.sample(items, len(items)))


def fates(reduction):
    """For each part its fate, and the rule by which it goes; merged parts by the set that has become one."""
    sets = {}
    for entry in reduction.ledger:
        sets.setdefault(entry.into or entry.part, set()).add(entry.part)
    return {
        **{
            entry.part: (entry.fate, "" if entry.fate == "kept" else entry.rule)
            for entry in reduction.ledger
            if len(sets[entry.into or entry.part]) == 1
        },
        "sets": sorted(sorted(names) for names in sets.values() if len(names) > 1),
    }


@pytest.mark.parametrize("detail", DETAILS)
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_the_reduced_file_of_a_sample_is_reduced_no_further(sample, detail):
    once = reduce(reading_of(sample), detail, library=library())
    text = topo.write(once.circuit, comments(once))
    again = reduce(read(topo.loads(text), library()), detail, library=library())

    assert again.fates("omitted") == again.fates("merged") == ()
