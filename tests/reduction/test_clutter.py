"""Cluttered variants of the samples: what was added goes by the right rule, nothing else does, and the proof holds.

60 variants run ordinarily; `CLUTTER=300 pytest tests/reduction/test_clutter.py` runs so many.
"""

import os
from functools import cache
from pathlib import Path

import pytest
from clutter import SORTS, Generator

import topo
from topo.matching import library
from topo.reading import read
from topo.reduction import comments, reduce

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))
COUNT = int(os.environ.get("CLUTTER", "60"))
# No sample feeds a stage for radio frequencies from a rail through a resistor.
SELDOM: tuple[str, ...] = ("feed_choke",)


@cache
def reading_of(sample):
    return read(topo.load(sample), library())


@cache
def fates_of(sample):
    return {entry.part: entry.fate for entry in reduce(reading_of(sample), library=library()).ledger}


def variant(seed):
    """A sample, chosen in turn, with one to four additions of different sorts."""
    sample = SAMPLES[seed % len(SAMPLES)]
    omitted = frozenset(ref for ref, fate in fates_of(sample).items() if fate != "kept")
    made = Generator(reading_of(sample), seed, omitted).clutter(1 + seed // len(SAMPLES) % 4)
    return sample, made, topo.loads(topo.write(made.circuit), file=f"variant {seed}")


@pytest.mark.parametrize("seed", range(COUNT))
def test_what_was_added_goes_by_its_rule_and_nothing_else_does(seed):
    sample, made, circuit = variant(seed)
    reduced = reduce(read(circuit, library()), library=library())
    found = {entry.part: entry for entry in reduced.ledger}

    added = {ref: (found[ref].fate, found[ref].number) for ref in made.expected}
    assert added == made.expected, (sample.stem, made.what)
    others = {ref: found[ref].fate for ref in fates_of(sample)}
    assert others == fates_of(sample), (sample.stem, made.what)
    assert len(reduced.ledger) == len(circuit.parts)
    assert abs(reduced.totals.get("gain dB", 0.0)) < 1
    assert all(abs(row["current %"]) < 5 for row in reduced.devices.values())
    assert all(abs(reduced.totals.get(f"{edge} edge octaves", 0.0)) < 1 for edge in ("low", "high"))


@pytest.mark.parametrize("seed", range(0, COUNT, 5))
def test_a_reduced_variant_reads_back_and_reduces_no_further(seed):
    _, _, circuit = variant(seed)
    once = reduce(read(circuit, library()), library=library())
    again = reduce(read(topo.loads(topo.write(once.circuit, comments(once))), library()), library=library())

    assert again.fates("omitted") == again.fates("merged") == ()


@pytest.mark.parametrize("sort", [sort for sort in SORTS if sort not in SELDOM])
def test_the_generator_finds_a_place_for_every_sort(sort):
    assert any(getattr(Generator(reading_of(sample), 1), sort)() for sample in SAMPLES)
