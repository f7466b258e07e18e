"""Near misses: sub-circuits that would be there but for one slip.

Two ways. One join of a pattern of several devices is dropped, and what then matches is looked at: it finds a lead
that ends in the air. And the slips of typing and drawing are undone one at a time (see `edits`), the circuit read
again, and the edit suggested if a stage appears for a device that has none, and nothing is lost.
Only devices without a kept stage are looked at, so that a circuit that is all understood costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from topo.graph.graph import Graph
from topo.matching.engine import droppable_joins, indexes, matches_without
from topo.matching.match import Device
from topo.matching.pattern import Join, Spot
from topo.matching.shelf import Library
from topo.netlist.circuit import Part, Terminal
from topo.netlist.kinds import in_group
from topo.reading.claims import Claim, claim_of, devices_of, file_positions
from topo.reading.edits import (
    Edit,
    connections,
    device_designators,
    edits,
    exchanged_taps,
    joined_nets,
    terminal_words,
    turned_round,
    turned_windings,
)
from topo.reading.lone_stages import Mended, lone_mends
from topo.reading.path import Way
from topo.reading.reading import NearMiss
from topo.reading.summary import capital, joined, with_article

if TYPE_CHECKING:
    from topo.reading.interpretation import Settled

# How many edits are tried: more suspects than that are no slip but another circuit; and how many parts are read
# again for them all, since reading takes the longer the more parts there are.
_MOST_EDITS, _MOST_READ_AGAIN = 40, 1_500
# Rank from which a claim fixes what its devices do; below, a stage is taken from its connections alone and an
# edit that yields it has to explain the whole circuit.
_TELLING_RANK = 45
_NOT_ACTING = frozenset({"off", "saturated", "reversed"})


@dataclass(frozen=True)
class Trial:
    """An edit that was read again: the claims that are new, whether the path arrives only by it, and its worth."""

    edit: Edit
    gained: tuple[Claim, ...]
    worth: tuple[float, ...]
    mended: bool = False


def near_misses(settled: Settled, patterns: Library, way: Way | None) -> tuple[NearMiss, ...]:
    """The near misses of a circuit, in file order; none where every device has a stage and the path arrives."""
    suspects = suspects_of(settled)
    vacant = without_pair(settled)
    broken = way is not None and not way.arrives and bool(settled.circuit.outputs)
    ends = [settled.views.graph.nets[way.end]] if broken and way is not None else []
    most = _most_edits(settled)
    worth_trying = _edits_worth_trying(settled, suspects, vacant, ends)
    found = list(_by_edits(settled, patterns, worth_trying, broken))
    found += _by_turning(settled, patterns)
    found += _by_turning_windings(settled, patterns)
    if suspects:
        told = {ref for miss in found for ref in miss.parts}
        lone = [ref for ref in suspects if ref not in told]
        found += [_told_alone(item, settled, patterns) for item in lone_mends(settled, patterns, lone, most)]
        told = {ref for miss in found for ref in miss.parts}
        found += [miss for miss in _by_dropped_joins(settled, patterns, suspects) if not told & set(miss.parts)]
    positions = file_positions(settled.circuit)
    return tuple(sorted(found, key=lambda miss: (positions.get(miss.ref, 0), miss.pattern)))


def suspects_of(settled: Settled) -> tuple[str, ...]:
    """Devices of which no kept stage says what they do, in file order."""
    return _not_held(settled, [claim for claim in settled.claims if claim.kind in ("stage", "takes over")])


def without_pair(settled: Settled) -> tuple[str, ...]:
    """Devices that no kept stage of several devices holds, in file order."""
    held = [claim for claim in settled.claims if claim.kind in ("stage", "takes over") and len(claim.stage) > 1]
    return _not_held(settled, held)


def _not_held(settled: Settled, claims: Iterable[Claim]) -> tuple[str, ...]:
    """Devices of which none of the claims speaks."""
    held = {index for claim in claims for index in (claim.stage or claim.devices)}
    element_of = settled.views.graph.element_of
    return tuple(ref for ref in device_designators(settled.views) if element_of[ref] not in held)


def _edits_worth_trying(
    settled: Settled, suspects: Sequence[str], vacant: Sequence[str], ends: Sequence[str]
) -> Iterator[Edit]:
    """Edits, as many as are tried: all of them where a device has no stage, else those of the matter at hand.

    `ends` is the net at which the path breaks off, if it does.
    """
    most = _most_edits(settled)
    if suspects:
        yield from islice(edits(settled.views, suspects, vacant), most)
    elif ends:
        yield from islice(joined_nets(settled.views.graph.circuit, ends), most)
    else:
        yield from islice(exchanged_taps(settled.views.graph.circuit, vacant), most)


def _most_edits(settled: Settled) -> int:
    """How many edits of this circuit are tried."""
    return min(_MOST_EDITS, _MOST_READ_AGAIN // max(1, len(settled.circuit.parts)))


def _by_edits(settled: Settled, patterns: Library, worth_trying: Iterable[Edit], broken: bool) -> Iterator[NearMiss]:
    """The best edit for each group of devices that it explains."""
    trials = [trial for edit in worth_trying if (trial := _try(edit, settled, patterns, broken)) is not None]
    explained: set[str] = set()
    for trial in sorted(trials, key=lambda item: item.worth, reverse=True):
        devices = {ref for claim in trial.gained for ref in claim.given}
        if not devices & explained:
            explained |= devices
            yield _told(trial, settled, patterns)


def _by_turning(settled: Settled, patterns: Library) -> Iterator[NearMiss]:
    """Diodes of no known use that do not conduct, where turned round they have one and no stage is lost by it."""
    from topo.reading.interpretation import settle

    known = {ref for claim in settled.claims for ref in claim.match.claimed}
    states, element_of = settled.views.point.states, settled.views.graph.element_of
    diodes = [part.ref for part in settled.circuit.parts if in_group(part.kind, "diode") and part.ref not in known]
    blocking = [ref for ref in diodes if states.get(element_of.get(ref, -1)) == "off"]
    stages = {_identity(claim) for claim in settled.claims if claim.kind == "stage"}
    for edit in islice(turned_round(settled.circuit, blocking), _most_edits(settled)):
        after = settle(edit.circuit, patterns)
        now = [claim for claim in after.claims if claim.kind == "stage"]
        gained = tuple(claim for claim in _new_about(edit.ref, settled, after) if claim.kind != "leftover")
        if gained and after.views.point.solved and all(_is_covered(identity, now) for identity in stages):
            yield _told(Trial(edit, gained, ()), settled, patterns)


def _by_turning_windings(settled: Settled, patterns: Library) -> Iterator[NearMiss]:
    """Resistors of no known use from a winding, where that winding turned round makes feedback of them: as typed, what
    they bring back adds to the signal."""
    from topo.reading.interpretation import settle

    circuit = settled.circuit
    known = {ref for claim in settled.claims for ref in claim.match.claimed}
    idle = [part for part in circuit.parts if part.kind == "resistor" and part.ref not in known]
    stages = {_identity(claim) for claim in settled.claims if claim.kind == "stage"}
    for edit in islice(turned_windings(circuit, idle), _most_edits(settled)):
        after = settle(edit.circuit, patterns)
        now = [claim for claim in after.claims if claim.kind == "stage"]
        gained = [
            claim
            for resistor in sorted(edit.touches - {edit.ref})
            for claim in _new_about(resistor, settled, after)
            if claim.sort == "feedback" and edit.ref in claim.match.claimed | _witnessed_parts(claim)
        ]
        if gained and after.views.point.solved and all(_is_covered(identity, now) for identity in stages):
            yield _told(Trial(edit, tuple(gained), ()), settled, patterns)


def _witnessed_parts(claim: Claim) -> frozenset[str]:
    """The designators of all roles of a claim, those among them that it does not claim."""
    return frozenset(ref for refs in claim.match.roles.values() for ref in refs)


def _try(edit: Edit, settled: Settled, patterns: Library, broken: bool) -> Trial | None:
    """Reads an edited circuit; None if nothing is gained or something is lost."""
    from topo.reading.interpretation import find_path, settle

    ported = replace(edit.circuit, inputs=settled.circuit.inputs, outputs=settled.circuit.outputs)
    after = settle(ported, patterns)
    if settled.views.point.solved and not after.views.point.solved:
        return None
    before = {_identity(claim) for claim in settled.claims if claim.kind == "stage"}
    now = [claim for claim in after.claims if claim.kind == "stage"]
    mended = False
    if broken and edit.joins:
        way = find_path(after, patterns)
        mended = way is not None and way.arrives
    gained = tuple(claim for claim in now if _identity(claim) not in before)
    if not gained and mended:
        gained = _new_about(edit.ref, settled, after)
    if not gained:
        return None
    lost = [identity for identity in before if not _is_covered(identity, now)]
    if lost and not (mended and all(_is_held(identity, now) for identity in lost)):
        return None
    if not mended and not _is_telling(edit, gained, settled):
        return None
    left, idle = suspects_of(after), _idle(gained, after)
    doubts = sum(len(claim.match.undecided) for claim in gained)
    worth = (float(mended), max(claim.rank for claim in gained), -len(left), -len(idle), -doubts)
    return Trial(edit, gained, worth, mended)


def _is_telling(edit: Edit, gained: Iterable[Claim], settled: Settled) -> bool:
    """Whether an edit yields a stage of several devices that holds what was edited, one of which had none before."""
    vacant = set(without_pair(settled))
    return any(
        len(claim.stage) > 1 and claim.given & vacant and (edit.joins or edit.ref in claim.given) for claim in gained
    )


def _new_about(ref: str, before: Settled, after: Settled) -> tuple[Claim, ...]:
    """Claims on a part that were not there before the edit."""
    known = {(claim.pattern, claim.given) for claim in before.claims}
    return tuple(
        claim
        for claim in after.claims
        if ref in claim.given and claim.sort != "whole" and (claim.pattern, claim.given) not in known
    )


def _idle(claims: Iterable[Claim], settled: Settled) -> list[str]:
    """Devices of the claims that do not act."""
    states, element_of = settled.views.point.states, settled.views.graph.element_of
    return [ref for claim in claims for ref in claim.given if states.get(element_of.get(ref, -1)) in _NOT_ACTING]


def _identity(claim: Claim) -> tuple[str, frozenset[str]]:
    """A stage claim up to everything but its pattern and the devices it speaks of."""
    return claim.pattern, frozenset(ref for device in devices_of(claim.match) for ref in device.parts)


def _is_covered(identity: tuple[str, frozenset[str]], claims: Iterable[Claim]) -> bool:
    """Whether a stage claim from before is there again, or a telling one holds all its devices."""
    pattern, devices = identity
    for claim in claims:
        other = _identity(claim)
        if devices <= other[1] and (claim.pattern == pattern or claim.rank >= _TELLING_RANK):
            return True
    return False


def _is_held(identity: tuple[str, frozenset[str]], claims: Iterable[Claim]) -> bool:
    """Whether each device of a stage claim from before has some stage."""
    held = {ref for claim in claims for ref in _identity(claim)[1]}
    return identity[1] <= held


def _told(trial: Trial, settled: Settled, patterns: Library) -> NearMiss:
    """A near miss in words, from the edit that mends it."""
    claim = max(trial.gained, key=lambda item: (item.rank, len(item.stage)))
    edit = trial.edit
    name = _name(claim, patterns)
    order = file_positions(settled.circuit)
    parts = tuple(sorted(claim.match.claimed & set(order), key=order.__getitem__))
    devices = [ref for ref in parts if ref in set(device_designators(settled.views))]
    opening = f"Nearly {with_article(name)}: {joined(devices or list(parts))}."
    if trial.mended and len(claim.stage) < 2:
        opening = "The signal path breaks off."
    return NearMiss(
        pattern=claim.pattern,
        name=name,
        parts=parts,
        message=f"{opening} {capital(edit.words)}.",
        ref=edit.ref,
        line=edit.place.line,
        source=edit.source,
        mark=(edit.place.column, edit.place.length),
        suggestion=edit.suggestion,
    )


def _told_alone(item: Mended, settled: Settled, patterns: Library) -> NearMiss:
    """A near miss of a stage of one device in words."""
    edit, claim = item.edit, item.claim
    name = _name(claim, patterns)
    order = file_positions(settled.circuit)
    parts = tuple(sorted(claim.match.claimed & set(order), key=order.__getitem__))
    devices = [ref for ref in parts if ref in set(device_designators(settled.views))]
    return NearMiss(
        pattern=claim.pattern,
        name=name,
        parts=parts,
        message=f"Nearly {with_article(name)}: {joined(devices)}. {capital(edit.words)}.",
        ref=edit.ref,
        line=edit.place.line,
        source=edit.source,
        mark=(edit.place.column, edit.place.length),
        suggestion=edit.suggestion,
    )


def _name(claim: Claim, patterns: Library) -> str:
    """The pattern's name for the family of the claim's devices."""
    from topo.reading.blocks import family_of

    return patterns.get(claim.pattern).shown_name(family_of(devices_of(claim.match)))


def _by_dropped_joins(settled: Settled, patterns: Library, suspects: Sequence[str]) -> Iterable[NearMiss]:
    """Patterns of several devices that match once one of their joins is dropped."""
    graph = settled.views.graph
    wanted = {graph.element_of[ref] for ref in suspects}
    prepared = indexes(settled.views, patterns)
    found: dict[frozenset[str], tuple[Claim, Join]] = {}
    for pattern in patterns.patterns:
        if pattern.reading.claim != "stage" or len(pattern.reading.stage) < 2 or pattern.reading.rank < _TELLING_RANK:
            continue
        for shape, place in droppable_joins(pattern):
            for match in matches_without(settled.views, pattern, place, patterns, shape, prepared):
                claim = claim_of(match, patterns, graph)
                if claim.stage and claim.stage <= wanted and len(claim.stage) >= 2:
                    found.setdefault(frozenset(claim.given), (claim, pattern.shapes[shape].joins[place]))
    best: dict[frozenset[int], tuple[Claim, Join]] = {}
    for claim, join in sorted(found.values(), key=lambda item: (-item[0].rank, -len(item[0].given), item[0].order)):
        if not any(claim.stage & other for other in best):
            best[claim.stage] = (claim, join)
    for claim, join in best.values():
        miss = _missing_join(claim, join, settled, patterns)
        if miss is not None:
            yield miss


def _missing_join(claim: Claim, join: Join, settled: Settled, patterns: Library) -> NearMiss | None:
    """A near miss in words, from the join that does not hold, and the lead that ends in the air; None without one."""
    circuit = settled.circuit
    name = _name(claim, patterns)
    parts = tuple(part.ref for part in circuit.parts if part.ref in claim.given)
    loose = _loose_end(settled, parts)
    if loose is None:
        return None
    part, terminal = loose
    lead = capital(terminal_words(part, terminal))
    missing = _join_in_words(join, claim, settled.views.graph)
    place = terminal.place if terminal.place.line else part.place
    return NearMiss(
        pattern=claim.pattern,
        name=name,
        parts=parts,
        message=(
            f"Nearly {with_article(name)}: {joined(list(parts))}. What is missing: {missing}. "
            f"{lead} is on net {terminal.net}, which nothing else is on."
        ),
        ref=part.ref,
        line=place.line,
        source=part.source,
        mark=(place.column, place.length),
        suggestion="is this line right?",
    )


def _loose_end(settled: Settled, parts: Sequence[str]) -> tuple[Part, Terminal] | None:
    """Of the parts, the first with a terminal on a net that nothing else is on."""
    circuit = settled.circuit
    table = connections(circuit)
    ported = {port.net for port in (*circuit.inputs, *circuit.outputs)}
    ported |= {circuit.ground, *(supply.net for supply in circuit.supplies)}
    for part in (circuit.part(ref) for ref in parts):
        for terminal in part.terminals:
            if len(table[terminal.net]) == 1 and terminal.net not in ported:
                return part, terminal
    return None


def _join_in_words(join: Join, claim: Claim, graph: Graph) -> str:
    """A pattern's join with the parts and nets that are bound, as one would say it."""
    how = {"signal": "joined for the signal", "dc": "joined for direct current"}.get(join.view, "joined")
    words = [_spot_in_words(join.spots[0], claim, graph)]
    for link, spot in zip(join.links, join.spots[1:], strict=True):
        through = joined(list(claim.match.roles.get(link.role, ())))
        words.append(f"{how} through {through} to" if through else f"{how} to")
        words.append(_spot_in_words(spot, claim, graph))
    return " ".join(words)


def _spot_in_words(spot: Spot, claim: Claim, graph: Graph) -> str:
    """One end of a join: a part's terminal, a net by its name in the circuit, or ground and rails."""
    refs = claim.match.roles.get(spot.name, ())
    if spot.sort == "terminal" and refs:
        handle = claim.match.handles[spot.name][0]
        family = handle.family if isinstance(handle, Device) else ""
        return f"{joined(list(refs))}'s {_ELECTRODES.get(family, {}).get(spot.terminal, spot.terminal)}"
    if spot.sort == "net" and spot.name in claim.match.nets:
        return f"net {graph.nets[claim.match.nets[spot.name][1]]}"
    return _LITERALS.get(spot.name, f"its {spot.name}")


_ELECTRODES = {
    "bipolar": {"ctl": "base", "emt": "emitter", "col": "collector"},
    "fet": {"ctl": "gate", "emt": "source", "col": "drain"},
    "valve": {"ctl": "grid", "emt": "cathode", "col": "anode"},
}
_LITERALS = {"0": "ground or a rail", "gnd": "ground", "rail": "a rail", "supply": "the supply"}
