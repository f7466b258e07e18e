"""A circuit and its renamed, reordered or turned-over self are the same, part for part; each part is told once."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import topo
from topo.comparison import compare

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "properties"))

from variations import can_turn_over, renamed, reordered, turned_over  # noqa: E402

NAMES = sorted(path.stem for path in (ROOT / "samples").glob("*.net"))
few = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@cache
def sample(name):
    return topo.load(ROOT / "samples" / f"{name}.net")


@cache
def reading_of(name):
    return topo.read(sample(name))


def is_the_same(name, variant):
    """Compares a sample with a variant of it, part for part."""
    found = compare(reading_of(name), topo.read(variant.circuit))
    assert found.likeness == "same", found.sentences
    assert sorted(pair.first for pair in found.pairs) == sorted(part.ref for part in sample(name).parts)
    assert sorted(pair.second for pair in found.pairs) == sorted(part.ref for part in variant.circuit.parts)
    kinds = sample(name).by_ref
    assert all(len(kinds[p.first].terminals) == len(variant.circuit.by_ref[p.second].terminals) for p in found.pairs)


@few
@given(st.sampled_from(NAMES), st.integers(0, 10_000))
def test_a_circuit_with_other_names_is_the_same(name, seed):
    is_the_same(name, renamed(sample(name), seed))


@few
@given(st.sampled_from(NAMES), st.integers(0, 10_000))
def test_a_circuit_with_its_lines_in_another_order_is_the_same(name, seed):
    is_the_same(name, reordered(sample(name), seed))


@pytest.mark.parametrize("name", [name for name in NAMES if can_turn_over(sample(name))])
def test_a_circuit_turned_over_is_the_same(name):
    is_the_same(name, turned_over(sample(name)))


@pytest.mark.parametrize("first", NAMES)
def test_each_part_of_two_circuits_is_told_exactly_once(first):
    for second in NAMES:
        found = compare(reading_of(first), reading_of(second))
        for place, (name, side) in enumerate(((first, found.first), (second, found.second))):
            told = [(pair.first, pair.second)[place] for pair in found.pairs]
            for block in found.blocks:
                told += (block.first_only, block.second_only)[place]
            told += [ref for member in side.extra for ref in member.parts]
            told += [*side.outside, *side.alone]
            assert sorted(told) == sorted(part.ref for part in sample(name).parts), f"{first} and {second}"


def test_a_comparison_is_the_same_from_either_side():
    for first in NAMES:
        for second in NAMES:
            there = compare(reading_of(first), reading_of(second))
            back = compare(reading_of(second), reading_of(first))
            assert there.likeness == back.likeness, f"{first} and {second}"
            assert len(there.pairs) == len(back.pairs), f"{first} and {second}"
