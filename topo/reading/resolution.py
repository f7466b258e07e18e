"""Resolution: which claims stay where several patterns claim the same parts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from topo.reading.claims import Claim

# Sorts of companion that go with a device when an oscillator or a multivibrator takes it over; what feeds
# or couples it stays true whatever the device does.
_GOES_WITH_THE_DEVICE = frozenset({"stage", "driver", "splitter", "output", "compound", "feedback", "control"})


def resolve(claims: Iterable[Claim]) -> tuple[Claim, ...]:
    """The claims that are kept, in file order.

    In this order: one claim for the same parts; claims that take over; stage claims by rank, then by the number
    of devices; what a claim supposes; companions; leftovers for parts without another role.
    The result does not depend on the order of the claims, but for ties, which file order breaks.
    """
    pool = without_subsets(without_doubles(claims, supposed_apart=True))
    owners = _settle_owners([claim for claim in pool if claim.kind == "takes over"])
    taken = frozenset[int]().union(*(claim.devices for claim in owners))
    inside = frozenset[str]().union(*(claim.given for claim in owners))
    pool = [claim for claim in pool if claim.kind != "takes over" and not _is_taken(claim, taken, inside)]
    stages = _settle_stages([claim for claim in pool if claim.kind == "stage"])
    pool = _without_stilled_exits(pool, [*owners, *stages])
    beside = without_doubles(claim for claim in pool if claim.kind == "beside" and supposition_holds(claim, stages))
    beside = [claim for claim in beside if _compound_is_used(claim, stages)]
    beside = _one_bias_a_device(_without_lesser_bias(beside))
    beside = [claim for claim in beside if not _is_part_of_a_pair(claim, stages)]
    beside = [claim for claim in beside if not _is_inside_a_bias(claim, stages)]
    kept = [*owners, *stages, *beside]
    kept += _settle_leftovers([claim for claim in pool if claim.kind == "leftover"], kept, stages)
    return tuple(sorted(kept, key=lambda claim: (claim.order, -claim.rank, claim.pattern)))


def preference(claim: Claim) -> tuple:
    """Sorts the better of two claims first: rank, devices, parts with a role, fewer doubts, band, file order."""
    match = claim.match
    return (
        -claim.rank,
        -len(claim.stage),
        -len(claim.given),
        len(match.undecided),
        -len(match.evidence),
        match.band,
        claim.order,
        claim.pattern,
    )


def without_doubles(claims: Iterable[Claim], supposed_apart: bool = False) -> list[Claim]:
    """One claim where a pattern claims the same devices or the same parts more than once, the best.

    With `supposed_apart`, companions that suppose something of different devices are told apart: one of them may fall.
    """
    best: dict[tuple, Claim] = {}
    for claim in sorted(claims, key=preference):
        same_by: frozenset[object] = frozenset(claim.stage or claim.given)
        apart = tuple(elements for elements, _ in claim.supposes) if supposed_apart and claim.kind == "beside" else ()
        best.setdefault((claim.pattern, bool(claim.stage), same_by, apart), claim)
    return list(best.values())


def without_subsets(claims: Iterable[Claim]) -> list[Claim]:
    """Drops each claim whose devices, or whose parts if it has none, are a proper subset of a fellow's."""
    fellows: dict[str, list[Claim]] = {}
    for claim in claims:
        fellows.setdefault(claim.pattern, []).append(claim)
    return [claim for group in fellows.values() for claim in group if not any(_is_within(claim, o) for o in group)]


def _is_within(claim: Claim, other: Claim) -> bool:
    """Whether a claim says less of the same parts than another of the same pattern."""
    if claim.stage or other.stage:
        return claim.stage < other.stage
    return claim.given < other.given and claim.devices <= other.devices


def _without_stilled_exits(claims: list[Claim], stages: Iterable[Claim]) -> list[Claim]:
    """Drops supply claims on parts of the net from which a frequency changer's product goes on: what is still for one
    band there carries the signal of the next."""
    exits = frozenset[str]().union(*(claim.exits for claim in stages))
    return [claim for claim in claims if claim.sort != "supply" or not claim.given & exits]


def _settle_owners(claims: list[Claim]) -> list[Claim]:
    """Claims that take over, the higher rank first; none shares a device with a better one."""
    kept: list[Claim] = []
    for claim in sorted(claims, key=preference):
        if not any(claim.devices & other.devices for other in kept):
            kept.append(claim)
    return kept


def _is_taken(claim: Claim, taken: frozenset[int], inside: frozenset[str]) -> bool:
    """Whether a claim speaks of a device that an oscillator or the like has taken over.

    `inside` are the designators of all that it is made of: what is said of these alone is said by its own name.
    """
    spoken_of = claim.devices | claim.witnessed
    if claim.kind == "stage":
        return bool((claim.stage or claim.devices) & taken)
    if spoken_of and spoken_of <= taken and claim.given <= inside:
        return True
    return claim.sort in _GOES_WITH_THE_DEVICE and bool((claim.devices | claim.witnessed) & taken)


def _settle_stages(claims: list[Claim]) -> list[Claim]:
    """Stage claims by rank; repeated without each claim that supposes what was not kept."""
    remaining = list(claims)
    while True:
        kept = _by_rank(remaining)
        fallen = [claim for claim in kept if not supposition_holds(claim, kept)]
        if not fallen:
            return kept
        remaining = [claim for claim in remaining if claim.match is not fallen[0].match]


def _by_rank(claims: list[Claim]) -> list[Claim]:
    """Each device keeps the claims of the highest rank that names it as its stage; a tie is noted, not hushed up."""
    kept: list[Claim] = []
    for claim in sorted(claims, key=preference):
        rivals = [place for place, other in enumerate(kept) if other.stage & claim.stage]
        if not rivals or all(_may_share(claim, kept[place]) for place in rivals):
            kept.append(claim)
            continue
        for place in rivals:
            other = kept[place]
            if other.rank == claim.rank and other.stage == claim.stage and other.pattern != claim.pattern:
                kept[place] = replace(other, also=tuple(dict.fromkeys((*other.also, claim.pattern))))
    return kept


def _may_share(claim: Claim, other: Claim) -> bool:
    """Two claims of one pattern may share a device (one reference, two mirrored currents); no others may."""
    alike = claim.pattern == other.pattern and claim.rank == other.rank
    return alike and not claim.stage <= other.stage and not other.stage <= claim.stage


def supposition_holds(claim: Claim, stages: Iterable[Claim]) -> bool:
    """Whether each device that a claim supposes to be something is kept as that, or as nothing."""
    for elements, wanted in claim.supposes:
        held = [other for other in stages if other is not claim and other.stage & elements]
        if held and not any(other.pattern in wanted for other in held):
            return False
    return True


def _compound_is_used(claim: Claim, stages: Iterable[Claim]) -> bool:
    """Whether a compound still is one device after the stages are settled, and not two stages of their own."""
    if not claim.acts_as_one:
        return True
    inside = [other for other in stages if other.stage & claim.devices]
    if any(claim.devices <= elements for other in inside for elements in other.compounds.values()):
        return True
    parted = [other for other in inside if not claim.devices <= other.stage]
    return len(parted) < 2


def _without_lesser_bias(claims: list[Claim]) -> list[Claim]:
    """Drops a bias claim whose parts another bias claim holds with more beside them, for the same device."""
    bias = [claim for claim in claims if claim.sort == "bias"]

    def is_lesser(claim: Claim) -> bool:
        served = claim.devices | claim.witnessed
        return any(claim.given < other.given and served <= (other.devices | other.witnessed) for other in bias)

    return [claim for claim in claims if claim.sort != "bias" or not is_lesser(claim)]


def _one_bias_a_device(claims: list[Claim]) -> list[Claim]:
    """Of two claims of one bias pattern for one device that share parts, the one that lies on ground and rails by wire.

    A feedback resistor from a winding lies on ground for direct current as well as the lower bias resistor does.
    """
    dropped: list[Claim] = []
    bias = sorted((c for c in claims if c.sort == "bias"), key=lambda c: (-c.anchored, *preference(c)))
    for place, claim in enumerate(bias):
        for other in bias[:place]:
            same = claim.pattern == other.pattern and claim.witnessed == other.witnessed and claim.witnessed
            if same and other not in dropped and claim.given & other.given:
                dropped.append(claim)
                break
    return [claim for claim in claims if not any(claim is other for other in dropped)]


def _is_part_of_a_pair(claim: Claim, stages: Iterable[Claim]) -> bool:
    """Whether a feedback claim tells only of parts to which a stage of several devices already gives a role."""
    spoken_of = claim.devices | claim.witnessed
    if claim.sort != "feedback" or not spoken_of:
        return False
    return any(len(other.stage) > 1 and claim.given <= other.given and spoken_of & other.stage for other in stages)


def _is_inside_a_bias(claim: Claim, stages: Iterable[Claim]) -> bool:
    """Whether a claim tells only of a bias generator's own device: its feedback, its coupling, or parts it has."""
    spoken_of = claim.devices | claim.witnessed
    if claim.sort not in ("feedback", "coupling", "bias") or not spoken_of:
        return False
    own = [other for other in stages if other.sort == "bias" and spoken_of <= other.stage]
    return any(claim.sort != "bias" or claim.given <= other.given for other in own)


def _settle_leftovers(claims: list[Claim], kept: Iterable[Claim], stages: list[Claim]) -> list[Claim]:
    """Leftover claims that give a role to at least one part that has none."""
    explained = {ref for claim in kept for ref in claim.given}
    found: list[Claim] = []
    for claim in sorted(claims, key=preference):
        if supposition_holds(claim, stages) and not claim.given <= explained:
            found.append(claim)
            explained |= claim.given
    return found
