"""Circuits that are no amplifier are called none, and yield no pair."""

from __future__ import annotations

import pytest
from circuits import BRIDGE_OF_SWITCHES, MULTIVIBRATOR, RECTIFIER_SUPPLY, TWO_SINGLE_STAGES

CIRCUITS = {
    "a rectifier supply with a centre-tapped secondary": RECTIFIER_SUPPLY,
    "a multivibrator": MULTIVIBRATOR,
    "a bridge of switches": BRIDGE_OF_SWITCHES,
    "two single stages on one rail": TWO_SINGLE_STAGES,
}


@pytest.mark.parametrize("text", CIRCUITS.values(), ids=CIRCUITS)
def test_no_pair_is_claimed(reading, text):
    assert not [block.name for block in reading(text).blocks if block.sort == "output"]


@pytest.mark.parametrize("text", [RECTIFIER_SUPPLY, MULTIVIBRATOR, BRIDGE_OF_SWITCHES])
def test_it_is_not_called_an_amplifier(reading, text):
    assert "amplifier" not in reading(text).summary


@pytest.mark.parametrize("text", CIRCUITS.values(), ids=CIRCUITS)
def test_no_near_miss_is_invented(reading, text):
    assert reading(text).near_misses == ()
