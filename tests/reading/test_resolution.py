"""Which claims stay: each rule of resolution on claims made by hand."""

from __future__ import annotations

from topo.matching.match import Match
from topo.reading.claims import Claim
from topo.reading.resolution import resolve


def claim(pattern, kind="stage", *, rank=20.0, sort="stage", stage=(), devices=None, given=(), **more):
    """A claim with the devices and parts named; devices are those of the stage where not said."""
    band = more.pop("band", 0)
    match = Match(pattern, {}, {}, {}, frozenset(given), band=band)
    return Claim(
        match,
        kind,
        rank,
        sort,
        frozenset(stage),
        frozenset(stage if devices is None else devices),
        given=frozenset(given),
        order=tuple(sorted(int(ref.strip("QRCDLT")) for ref in given)),
        **more,
    )


def names(claims):
    return [item.pattern for item in claims]


def test_the_higher_rank_keeps_the_device():
    pair = claim("pair", rank=90, stage=(1, 2), given=("Q1", "Q2"))
    single = claim("single", rank=20, stage=(1,), given=("Q1",))

    assert names(resolve([single, pair])) == ["pair"]


def test_a_stage_of_part_of_the_devices_gives_way_to_the_whole_of_them():
    both = claim("stage", stage=(1, 2), given=("Q1", "Q2", "R3"))
    one = claim("stage", stage=(1,), given=("Q1", "R3"))

    assert resolve([one, both]) == (both,)


def test_of_two_equal_ranks_the_claim_of_more_devices_stays():
    compound = claim("as one device", rank=20, stage=(1, 2), given=("Q1", "Q2"))
    single = claim("alone", rank=20, stage=(1,), given=("Q1",))

    assert names(resolve([single, compound])) == ["as one device"]


def test_one_reference_may_serve_two_claims_of_one_pattern():
    first = claim("mirror", rank=78, stage=(1, 2), given=("Q1", "Q2"))
    second = claim("mirror", rank=78, stage=(1, 3), given=("Q1", "Q3"))

    assert len(resolve([first, second])) == 2


def test_what_takes_over_drops_every_stage_and_compound_on_its_devices():
    owner = claim("oscillator", "takes over", rank=96, stage=(1, 2), given=("Q1", "Q2", "C3"))
    stage = claim("stage", rank=20, stage=(1,), given=("Q1",))
    compound = claim("compound", "beside", sort="compound", devices=(1, 2), given=("Q1", "Q2"))
    elsewhere = claim("stage", rank=20, stage=(4,), given=("Q4",))

    assert names(resolve([stage, compound, elsewhere, owner])) == ["oscillator", "stage"]


def test_what_feeds_a_device_stays_when_something_takes_it_over():
    owner = claim("oscillator", "takes over", rank=96, stage=(1,), given=("Q1",))
    bias = claim("bias", "beside", sort="bias", given=("R2", "R3"), witnessed=frozenset({1}))

    assert names(resolve([owner, bias])) == ["oscillator", "bias"]


def test_a_claim_falls_when_its_device_is_kept_as_something_else():
    follower = claim("follower", stage=(1,), given=("Q1",))
    helped = claim("helper", "beside", given=("R2", "C3"), supposes=((frozenset({1}), ("amplifier",)),))

    assert names(resolve([follower, helped])) == ["follower"]


def test_a_claim_stands_when_nothing_is_kept_of_the_device_it_supposes():
    helped = claim("helper", "beside", given=("R2", "C3"), supposes=((frozenset({1}), ("amplifier",)),))

    assert names(resolve([helped])) == ["helper"]


def test_a_stage_that_supposes_another_falls_with_it_and_leaves_its_device_to_the_next():
    wrong = claim("needs the other", rank=80, stage=(1,), given=("Q1",), supposes=((frozenset({2}), ("other",)),))
    kept = claim("kept", rank=20, stage=(2,), given=("Q2",))
    next_best = claim("next best", rank=20, stage=(1,), given=("Q1",))

    assert names(resolve([wrong, kept, next_best])) == ["next best", "kept"]


def test_a_leftover_is_kept_only_for_a_part_without_another_role():
    stage = claim("stage", stage=(1,), given=("Q1", "C2"))
    used = claim("leftover", "leftover", sort="coupling", given=("C2",))
    free = claim("leftover", "leftover", sort="coupling", given=("C3",))

    assert [item.given for item in resolve([used, free, stage])] == [{"Q1", "C2"}, {"C3"}]


def test_the_same_parts_in_two_bands_are_one_claim():
    low = claim("coupling", "leftover", given=("C1", "R2"), band=0)
    high = claim("coupling", "leftover", given=("C1", "R2"), band=1)

    assert resolve([high, low]) == (low,)


def test_a_companion_stands_beside_a_stage():
    pair = claim("pair", rank=90, stage=(1, 2), given=("Q1", "Q2"))
    bias = claim("bias", "beside", sort="bias", given=("R3", "D4"), witnessed=frozenset({1, 2}))

    assert names(resolve([bias, pair])) == ["pair", "bias"]


def test_a_compound_falls_when_its_devices_are_kept_as_two_stages():
    compound = claim("compound", "beside", sort="compound", devices=(1, 2), given=("Q1", "Q2"), acts_as_one=True)
    first = claim("follower", stage=(1,), given=("Q1",))
    second = claim("amplifier", stage=(2,), given=("Q2",))

    assert names(resolve([compound, first, second])) == ["follower", "amplifier"]


def test_two_stages_that_belong_together_keep_their_companion():
    together = claim("two as a team", "beside", sort="compound", devices=(1, 2), given=("Q1", "Q2"))
    first = claim("amplifier", stage=(1,), given=("Q1",))
    second = claim("grounded base", stage=(2,), given=("Q2",))

    assert len(resolve([together, first, second])) == 3


def test_a_compound_stays_when_a_stage_takes_it_for_one_device():
    compound = claim("compound", "beside", sort="compound", devices=(1, 2), given=("Q1", "Q2"), acts_as_one=True)
    stage = claim("follower", stage=(1, 2), given=("Q1", "Q2"), compounds={0: frozenset({1, 2})})

    assert sorted(names(resolve([compound, stage]))) == ["compound", "follower"]


def test_the_lesser_of_two_biases_of_one_device_falls():
    divider = claim("divider", "beside", sort="bias", given=("R1", "R2"), witnessed=frozenset({1}))
    single = claim("resistor", "beside", sort="bias", given=("R1",), witnessed=frozenset({1}))

    assert names(resolve([single, divider])) == ["divider"]


def test_the_order_of_the_claims_does_not_matter():
    claims = [
        claim("pair", rank=90, stage=(1, 2), given=("Q1", "Q2")),
        claim("single", rank=20, stage=(1,), given=("Q1",)),
        claim("single", rank=20, stage=(3,), given=("Q3",)),
        claim("bias", "beside", sort="bias", given=("R4", "R5")),
        claim("coupling", "leftover", given=("C6",)),
    ]

    assert resolve(claims) == resolve(reversed(claims))


def test_a_tie_between_two_patterns_is_noted():
    first = claim("grounded base", stage=(1,), given=("Q1", "R2"))
    second = claim("amplifier", stage=(1,), given=("Q1",))

    assert [(item.pattern, item.also) for item in resolve([second, first])] == [("grounded base", ("amplifier",))]
