"""Reduces a circuit: chooses what to leave out, proves it by solving again, and keeps the ledger."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from topo.errors import UsageError
from topo.reading.reading import Reading
from topo.reduction.asking import Steering
from topo.reduction.bias_sources import with_bias_sources
from topo.reduction.decisions import Proposal, proposals
from topo.reduction.entries import Writer
from topo.reduction.joining import Joined, joined, not_adjusted
from topo.reduction.measures import Measures
from topo.reduction.proof import NOTHING_TO_COMPARE, Change, Proof
from topo.reduction.rebuilding import Rebuilt, rebuilt
from topo.reduction.reduction import DETAILS, Entry, Reduction

# Two omissions that change this nearly the same are the two sides of one pair.
ALIKE = 0.2


def reduce(reading: Reading, detail: str = "working", *, library=None, asked: Steering | None = None) -> Reduction:
    """The circuit at one level of detail, with the fate of every part.

    `whole` leaves nothing out and only merges like parts in series and in parallel; `working` leaves out what does
    not matter: the gain at mid band changes by less than 1 dB, every quiescent current by less than 5 %, each edge of
    the band by less than an octave; `principle` goes on to what shows the idea, in a circuit in which every device
    still carries its current (see `Change.strain`), and says how far it is from the original.

    Args:
        reading: of the whole circuit.
        detail: one of the three.
        library: the patterns of the reading; the shipped ones where none are given.
        asked: what the user wants kept, left out, or shown whole.

    Raises:
        UsageError: no such detail.
    """
    return reductions(reading, (detail,), library=library, asked=asked)[0]


def reductions(
    reading: Reading, details: Sequence[str] = DETAILS[1:], *, library=None, asked: Steering | None = None
) -> tuple[Reduction, ...]:
    """Several levels of detail of one reading; what they share is computed once."""
    for detail in details:
        if detail not in DETAILS:
            raise UsageError(f"There is no detail {detail!r}.", DETAILS)
    work = _Work(reading, library, asked)
    return tuple(work.reduction(detail) for detail in details)


def with_changes(reduction: Reduction, progress: Callable[[int, int], None] | None = None) -> Reduction:
    """The reduction with, for each part that goes, what leaving out this part alone changes.

    Args:
        reduction: as `reduce` gives it.
        progress: called with how many parts are done, and of how many.
    """
    work = _Work(reduction.reading, None, None, decided=())
    graph = reduction.reading.views.graph
    going = [entry for entry in reduction.ledger if entry.fate != "kept"]
    alone: dict[tuple[str, ...], Change] = {}
    joint: dict[tuple[str, ...], Change] = {}
    steps = {step.touched: step for step in reduction.steps}
    entries = {}
    for done, entry in enumerate(going):
        if progress is not None:
            progress(done, len(going))
        step = steps.get(entry.together)
        if step is not None and len(step.touched) > 1 and step.touched not in joint:
            joint[step.touched] = work.change(step)
        index = graph.element_of.get(entry.part)
        members = graph.elements[index].members if index is not None else (entry.part,)
        if entry.fate == "merged":
            members = ()
        if entry.fate == "merged" and step is not None:
            members = step.touched
            alone.setdefault(members, joint[members])
        elif members not in alone:
            becomes = dict.fromkeys(members, entry.becomes)
            alone[members] = work.change(Proposal(entry.detail, becomes, {}))
        others = set(entry.together) - set(members)
        entries[entry.part] = _with_change(entry, alone[members], joint[entry.together].words if others else "")
    if progress is not None:
        progress(len(going), len(going))
    return replace(reduction, ledger=tuple(entries.get(entry.part, entry) for entry in reduction.ledger))


def _with_change(entry: Entry, change: Change, joint: str) -> Entry:
    return replace(
        entry,
        changes=change.numbers,
        devices=change.devices,
        beyond=change.beyond,
        words=change.words if change.solved and change.words != NOTHING_TO_COMPARE else "",
        missing=change.missing,
        joint=joint,
    )


class _Work:
    """One reading under reduction."""

    def __init__(
        self, reading: Reading, library, asked: Steering | None, decided: tuple[Proposal, ...] | None = None
    ) -> None:
        self.reading = reading
        self.graph = reading.views.graph
        self.asked = asked or Steering()
        self.proof = Proof(reading)
        if library is None and decided is None:
            from topo.matching import library as standard_library

            library = standard_library()
        self.wipers = () if library is None else not_adjusted(reading, library)
        self.writer = Writer(reading, library, self.asked)
        if decided is None:
            decided = self._without_conflicts(proposals(reading, library, self.asked))
        self.proposals = decided
        self._alone: dict[int, tuple[Proposal, Change]] = {}
        self._settled: tuple[list[Proposal], dict[str, Change]] | None = None

    def reduction(self, detail: str) -> Reduction:
        """The reduction at one level of detail."""
        put_back: dict[str, Change] = {}
        chosen: list[Proposal] = []
        if detail != "whole":
            chosen, put_back = self._working()
        if detail == "principle":
            chosen, put_back = self._principle(chosen)
        made = self._joined(detail, chosen)
        unlike = detail != "whole" or made.merged
        change = self.proof.change(made.circuit, made.moved, made.devices, _the_like(chosen)) if unlike else Change()
        return Reduction(
            self.reading,
            detail,
            made.circuit,
            self.writer.entries(detail, chosen, made, put_back, self._early(detail, made)),
            self._sentences(detail, chosen, made, change, put_back),
            change.numbers,
            change.devices,
            change.missing,
            tuple(proposal.source for proposal in chosen if proposal.source is not None),
            tuple(chosen),
        )

    def change(self, proposal: Proposal) -> Change:
        """What one proposal alone changes."""
        quick = self.proof.quick_change(proposal.becomes) if proposal.source is None else None
        if quick is not None:
            return quick
        made = self._rebuilt([proposal])
        return self.proof.change(made.circuit, made.moved, absent=_the_like([proposal]))

    def _rebuilt(self, chosen: Sequence[Proposal]) -> Rebuilt:
        wires = [ref for proposal in chosen for ref, fate in proposal.becomes.items() if fate == "wire"]
        gone = [ref for proposal in chosen for ref, fate in proposal.becomes.items() if fate == "nothing"]
        ports = [net for port in (*self.reading.inputs, *self.reading.outputs) for net in (port.net, port.reference)]
        return rebuilt(
            self.graph,
            wires,
            gone,
            keep={*self.reading.not_recognised, *self.asked.held},
            ports=ports,
            apart=self.asked.held,
            sources=[proposal.source for proposal in chosen if proposal.source is not None],
        )

    def _joined(self, detail: str, chosen: Sequence[Proposal]) -> Joined:
        """The circuit without the chosen, and what is exactly the same with fewer parts."""
        drawn = {item.source.stands for item in chosen if item.source is not None}
        ports = [net for port in (*self.reading.inputs, *self.reading.outputs) for net in (port.net, port.reference)]
        wipers = () if detail == "whole" else self.wipers
        return joined(self._rebuilt(chosen), self.asked.held | drawn, ports, wipers)

    def _early(self, detail: str, made: Joined) -> dict[str, str]:
        """The first detail at which what is merged in the end is merged already."""
        found: dict[str, str] = {}
        for less in DETAILS[: DETAILS.index(detail)] if made.how else ():
            before = self._joined(less, [] if less == "whole" else self._working()[0])
            found.update({ref: less for ref in before.merged if ref not in found})
        return found

    def _without_conflicts(self, proposed: tuple[Proposal, ...]) -> tuple[Proposal, ...]:
        """Proposals whose wires do not short a part that was not recognised and stays: it may be the clue."""
        going = {ref for proposal in proposed for ref in proposal.parts}
        unknown = [self.reading.circuit.by_ref[ref] for ref in self.reading.not_recognised if ref not in going]
        barred = [{t.net for t in part.terminals} for part in unknown if len(part.terminals) == 2]

        def shorts(proposal: Proposal) -> bool:
            wires = [ref for ref, fate in proposal.becomes.items() if fate == "wire"]
            return any({t.net for t in self.reading.circuit.by_ref[ref].terminals} in barred for ref in wires)

        return tuple(proposal for proposal in proposed if proposal.ordered or not shorts(proposal))

    def _working(self) -> tuple[list[Proposal], dict[str, Change]]:
        """What goes at `working`, and what was put back because the total went beyond the limits."""
        if self._settled is None:
            ordered = [proposal for proposal in self.proposals if proposal.ordered]
            free = [item for item in self.proposals if item.detail == "working" and not item.ordered]
            chosen, put_back = self._within(free, [], lambda change: change.weight)
            self._settled = ([*ordered, *chosen], put_back)
        return self._settled

    def _principle(self, working: Sequence[Proposal]) -> tuple[list[Proposal], dict[str, Change]]:
        """What goes at `principle`, and what was put back because the circuit would no longer work."""
        stays = {id(proposal) for proposal in working}
        later = [replace(item, detail="principle") for item in self.proposals if id(item) not in stays]
        wires = frozenset(ref for item in working for ref, fate in item.becomes.items() if fate == "wire")
        later = with_bias_sources(self.reading, Measures(self.reading), later, self.asked.held, wires)
        chosen, put_back = self._within(later, working, lambda change: change.strain)
        return [*working, *chosen], put_back

    def _within(
        self, chosen: Sequence[Proposal], with_these: Sequence[Proposal], measure: Callable[[Change], float]
    ) -> tuple[list[Proposal], dict[str, Change]]:
        """As many of the chosen as keep the total within the limits, the worst offender being put back each time.

        The order of the chosen has no part in it: what offends alike is put back together.
        """
        chosen = list(chosen)
        put_back: dict[str, Change] = {}
        while chosen:
            made = self._rebuilt([*with_these, *chosen])
            absent = _the_like([*with_these, *chosen])
            if measure(self.proof.change(made.circuit, made.moved, absent=absent)) < 1.0:
                break
            for proposal in self._worst(chosen, measure):
                chosen.remove(proposal)
                put_back.update(dict.fromkeys(proposal.touched, self._change_alone(proposal)))
        return chosen, put_back

    def _change_alone(self, proposal: Proposal) -> Change:
        known = self._alone.get(id(proposal))
        if known is None:
            known = self._alone[id(proposal)] = (proposal, self.change(proposal))
        return known[1]

    def _worst(self, chosen: Sequence[Proposal], measure: Callable[[Change], float]) -> list[Proposal]:
        """What alone changes most, with those of its rules that change as much: the two sides of a pair."""
        weights = {id(proposal): measure(self._change_alone(proposal)) for proposal in chosen}
        most = max(weights.values())
        worst = [item for item in chosen if weights[id(item)] >= most * (1 - 1e-9)]
        rules = [{rule for rule, _ in item.reasons.values()} for item in worst]
        return [
            item
            for item in chosen
            if item in worst
            or (
                math.isfinite(most)
                and weights[id(item)] >= (1 - ALIKE) * most
                and {rule for rule, _ in item.reasons.values()} in rules
            )
        ]

    def _sentences(
        self, detail: str, chosen: Sequence[Proposal], made: Joined, change: Change, put_back: dict[str, Change]
    ) -> tuple[str, ...]:
        """What solving the reduced circuit again gave."""
        said = []
        if chosen and change.solved and (change.numbers or change.words != NOTHING_TO_COMPARE):
            said.append(f"Solved again without them: {change.words}.")
        if change.missing and (chosen or made.merged):
            said.append(f"Not proved: {change.missing}.")
        if detail == "principle" and chosen and change.solved and change.weight >= 1.0:
            most = self._most_of_it(chosen)
            if most:
                said.append(most)
        ordered = [ref for proposal in chosen if proposal.ordered for ref in proposal.parts]
        if detail == "working" and ordered and change.weight >= 1.0:
            said.append(f"More than `working` allows, by what was left out by order: {', '.join(ordered)}.")
        if put_back:
            named = [part.ref for part in self.reading.circuit.parts if part.ref in put_back]
            why = "because too much changed without" if detail == "working" else "to keep it a circuit that works"
            tested = all(item.solved for item in put_back.values())
            said.append(f"Put back, {why if tested else 'since nothing can be tested'}: {', '.join(named)}.")
        return tuple(said)

    def _most_of_it(self, chosen: Sequence[Proposal]) -> str:
        """Through which parts the most of a change comes: of those that go for the principle alone, where there are
        any, since all others together stay within the limits of `working`."""
        free = [item for item in chosen if item.detail == "principle" or item.ordered] or chosen
        weights = [(self._change_alone(proposal).weight, proposal) for proposal in free]
        most = max(weight for weight, _ in weights)
        if not math.isfinite(most) or most <= 0:
            return ""
        worst = next(proposal for weight, proposal in weights if weight == most)
        refs = [part.ref for part in self.reading.circuit.parts if part.ref in worst.touched]
        return f"Most of it through {', '.join(refs)}, which alone would make: {self._change_alone(worst).words}."


def _the_like(chosen: Sequence[Proposal]) -> frozenset[str]:
    """Parts that are left out since others are alike, part for part: class 25."""
    return frozenset(ref for item in chosen for ref, number in item.classes.items() if number == 25)
