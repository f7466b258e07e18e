"""A reading does not change with names, order of lines, polarity, or parts that do nothing for the signal."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from likeness import essence
from variations import (
    CONTROL,
    Variant,
    can_turn_over,
    renamed,
    reordered,
    split_in_parallel,
    split_in_series,
    turned_over,
    with_rail_capacitor,
    with_stopper,
    with_windings_turned,
)

import topo

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = sorted(path.stem for path in SAMPLES.glob("*.net"))
# One ampere of drive, a few ohms at the base: what a stopper may be where the band is one of radio frequency.
RADIO_FREQUENCY, RADIO_STOPPER, AUDIO_STOPPER = 100e3, 0.47, 10.0

few = settings(max_examples=16, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
names = st.sampled_from(NAMES)
seeds = st.integers(0, 10_000)


@cache
def sample(name):
    return topo.load(SAMPLES / f"{name}.net")


@cache
def plain(name, by_role=True):
    return essence(topo.read(sample(name)), by_role=by_role)


def check(name: str, variant: Variant, *, by_role: bool = True) -> None:
    """The variant's reading is the sample's."""
    found = essence(topo.read(variant.circuit), variant, by_role=by_role)
    for key, value in plain(name, by_role).items():
        assert found[key] == value, f"{name}: {key}"


@few
@given(names, seeds)
def test_names_do_not_matter(name, seed):
    check(name, renamed(sample(name), seed))


@few
@given(names, seeds)
def test_the_order_of_lines_does_not_matter(name, seed):
    check(name, reordered(sample(name), seed))


@pytest.mark.parametrize("name", NAMES)
def test_polarity_does_not_matter(name):
    if not can_turn_over(sample(name)):
        pytest.skip("has parts of one polarity only")
    check(name, turned_over(sample(name)), by_role=False)


@few
@given(names, st.data())
def test_a_resistor_in_two_halves_reads_as_one(name, data):
    refs = [part.ref for part in sample(name).parts if part.kind == "resistor"]
    check(name, split_in_series(sample(name), data.draw(st.sampled_from(refs))))


@few
@given(names, st.data())
def test_two_resistors_side_by_side_read_as_one(name, data):
    refs = [part.ref for part in sample(name).parts if part.kind == "resistor"]
    check(name, split_in_parallel(sample(name), data.draw(st.sampled_from(refs))))


@few
@given(names, st.booleans(), st.data())
def test_a_stopper_or_a_bead_in_a_control_lead_does_not_matter(name, bead, data):
    circuit = sample(name)
    on_path = {ref for step in topo.read(circuit).path for ref in step.refs}
    devices = [part.ref for part in circuit.parts if part.kind in CONTROL]
    refs = [ref for ref in devices if ref in on_path] or devices
    radio = circuit.band is not None and circuit.band[0] >= RADIO_FREQUENCY
    ohms = RADIO_STOPPER if radio else AUDIO_STOPPER
    check(name, with_stopper(circuit, data.draw(st.sampled_from(refs)), bead=bead, ohms=ohms))


@pytest.mark.parametrize("name", NAMES)
def test_one_more_capacitor_across_a_rail_does_not_matter(name):
    check(name, with_rail_capacitor(sample(name), 0))


@pytest.mark.parametrize("name", NAMES)
def test_all_windings_of_a_core_may_be_turned_end_for_end(name):
    circuit = sample(name)
    for part in circuit.parts:
        if part.kind == "transformer":
            check(name, with_windings_turned(circuit, part.ref))
