"""Mutated inputs: a few in every run, as many as FUZZ says by hand (FUZZ=100000 FUZZ_SEED=7 pytest tests/fuzz)."""

import os
import random

import pytest

from tests.fuzz.mutating import Mutator
from tests.fuzz.running import MEMORY, run
from tests.fuzz.seeding import seeds

COUNT = int(os.environ.get("FUZZ", "150"))
SEED = int(os.environ.get("FUZZ_SEED", "1"))


@pytest.fixture(scope="module")
def tally():
    """The run, once."""
    return run(SEED, COUNT, step=1 if COUNT > 1_000 else 40)


def test_no_mutated_input_brings_a_traceback_a_hang_or_half_a_result(tally):
    shown = "\n\n".join(f"input {fault['input']}:\n{fault['trace'][-1500:]}" for fault in tally.faults[:5])

    assert not tally.faults, f"{len(tally.faults)} faults; python -m tests.fuzz.running 1 {SEED} NUMBER\n{shown}"
    assert tally.inputs == COUNT


def test_no_mutated_input_takes_much_memory(tally):
    assert tally.peak * 1024 < MEMORY


def test_a_fair_share_of_mutated_inputs_still_are_circuits(tally):
    assert tally.read > COUNT / 10


def test_the_same_seed_gives_the_same_input():
    texts = seeds(80).netlists

    one, other = (Mutator(random.Random("3 5"), texts).mutate(texts[0]) for _ in range(2))

    assert one == other
