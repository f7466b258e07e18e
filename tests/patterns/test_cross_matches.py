"""Every example against every pattern: what is kept is what was reviewed, and each rival has its reason."""

from __future__ import annotations

import pytest
from cross_matches import claims, section_of, sections

from topo.matching import library

LIBRARY = library()
PATTERNS = [pytest.param(pattern, id=pattern.slug) for pattern in LIBRARY.patterns]
REVIEWED = sections()

# Examples whose own pattern is not kept, since a reading tells of the same parts by a name that says more.
MORE_IS_SAID = {
    "base-feed-resistor": "the bias, the swamping or the leak of the stage already has the resistor",
    "output-load": "the stage already has it as its load",
    "common-emitter": "a loudspeaker on the winding makes it an output stage",
    "tuned-rf-amplifier": "at a declared output with a coil in the drain lead it is a single-ended stage",
    "bypass-capacitor": "the stage already has it as its bypass",
    "rf-choke": "the stage already has it as its feed",
    "stopper-resistor": "with a capacitor behind it, it also keeps what lies above the band out",
}
# Pairs of patterns of one sort that both speak of a part: why both are right.
BOTH_ARE_RIGHT = {
    ("agc-line", "rf-negative-feedback"): "the line of the control voltage also leads from the anode to the grid",
    ("antenna-input", "broadband-transformer"): "the winding of the aerial is coupled over the whole range",
    ("complementary-phase-splitter", "complementary-drive"): "both drivers get one signal, and make two of it",
    ("direct-conversion-receiver", "colpitts-oscillator"): "its oscillator is one",
    ("ring-of-three", "direct-coupled-feedback-pair"): "the first two devices are one by themselves",
    ("filter-coupling", "tuned-coupling"): "the winding before the crystals also loads the stage, tuned",
    ("fm-detector", "if-amplifier"): "the second winding of the last stage is the detector's own",
    ("fm-detector", "tuned-rf-amplifier"): "the second winding of the last stage is the detector's own",
    ("fixed-biased-push-pull", "half-supply-reference"): "the line is half of the negative supply",
    ("global-series-shunt-feedback", "emitter-degeneration"): "the lower resistor of the loop also stands in the lead",
    ("output-transformer-feedback", "emitter-degeneration"): "the lower resistor of the loop also stands in the lead",
    ("half-supply-reference", "divider-bias"): "the reference is the bias of its follower",
    ("ht-supply", "rectifier-and-reservoir"): "the supply begins with a rectifier",
    ("keyed-bias", "resistor-and-diode-bias"): "the switch feeds a bias of that kind",
    ("keyed-bias", "resistor-divider-bias"): "the switch feeds a bias of that kind",
    ("resistive-pad", "input-swamping-and-levelling"): "the last arm of the pad also loads the input",
    ("screen-feed", "supply-decoupling"): "a screen behind a resistor and a capacitor is a decoupled branch",
    ("separate-driver-and-final-bias", "resistor-and-diode-bias"): "it is made of two such biases",
    ("separate-driver-and-final-bias", "trimmer-and-emitter-follower-bias"): "it is made of two such biases",
}


@pytest.mark.parametrize("pattern", PATTERNS)
def test_the_table_is_what_a_reading_keeps(pattern):
    assert section_of(pattern) == REVIEWED.get(pattern.slug), "run `python tests/patterns/cross_matches.py`, review it"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_an_example_is_read_as_its_own_pattern_unless_more_is_said(pattern):
    lost = [
        example.words
        for example in LIBRARY.examples(pattern.slug)
        if example.matches and not any(claim.pattern == pattern.slug for claim in claims(example))
    ]
    assert lost == [] or pattern.slug in MORE_IS_SAID


@pytest.mark.parametrize("pattern", PATTERNS)
def test_what_is_none_is_not_read_as_one(pattern):
    wrong = [
        example.words
        for example in LIBRARY.examples(pattern.slug)
        if not example.matches and any(claim.pattern == pattern.slug for claim in claims(example))
    ]
    assert wrong == []


@pytest.mark.parametrize("pattern", PATTERNS)
def test_rivals_for_a_part_have_their_reason(pattern):
    rivals = set()
    for example in filter(lambda item: item.matches, LIBRARY.examples(pattern.slug)):
        own = [claim.match.claimed for claim in claims(example) if claim.pattern == pattern.slug]
        for claim in claims(example):
            alike = claim.pattern != pattern.slug and claim.sort == pattern.reading.sort
            if alike and any(claim.match.claimed & parts for parts in own):
                rivals.add((pattern.slug, claim.pattern))

    assert rivals <= set(BOTH_ARE_RIGHT)


def test_the_table_has_no_section_too_many():
    assert set(REVIEWED) == {pattern.slug for pattern in LIBRARY.patterns}
