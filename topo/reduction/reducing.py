"""Reduces a circuit: chooses what to leave out, proves it by solving again, and keeps the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from topo.errors import UsageError
from topo.reading.reading import Reading
from topo.reduction.decisions import Proposal, proposals
from topo.reduction.proof import Change, Proof, within_limits
from topo.reduction.rebuilding import Rebuilt, rebuilt
from topo.reduction.reduction import DETAILS, Entry, Reduction

# Two omissions that change this nearly the same are the two sides of one pair.
ALIKE = 0.2


def reduce(reading: Reading, detail: str = "working", *, library=None) -> Reduction:
    """The circuit at one level of detail, with the fate of every part.

    `whole` leaves nothing out and only merges like parts in series and in parallel; `working` leaves out what does
    not matter: the gain at mid band changes by less than 1 dB and every quiescent current by less than 5 %;
    `principle` goes on to what shows the idea, and says how far it is from the original.

    Raises:
        UsageError: no such detail.
    """
    return reductions(reading, (detail,), library=library)[0]


def reductions(reading: Reading, details: Sequence[str] = DETAILS[1:], *, library=None) -> tuple[Reduction, ...]:
    """Several levels of detail of one reading; what they share is computed once."""
    for detail in details:
        if detail not in DETAILS:
            raise UsageError(f"There is no detail {detail!r}.", DETAILS)
    work = _Work(reading, library)
    return tuple(work.reduction(detail) for detail in details)


def with_changes(reduction: Reduction) -> Reduction:
    """The reduction with, for each omitted part, what leaving out this part (and what goes with it) alone changes."""
    work = _Work(reduction.reading, None, decided=())
    alone: dict[tuple[str, ...], Change] = {}
    entries = []
    for entry in reduction.ledger:
        if entry.fate == "omitted" and entry.together:
            if entry.together not in alone:
                becomes = {e.part: e.becomes for e in reduction.ledger if e.part in entry.together}
                alone[entry.together] = work.change(Proposal(entry.detail, becomes, {}))
            entry = replace(entry, changes=alone[entry.together].numbers)
        entries.append(entry)
    return replace(reduction, ledger=tuple(entries))


class _Work:
    """One reading under reduction."""

    def __init__(self, reading: Reading, library, decided: tuple[Proposal, ...] | None = None) -> None:
        self.reading = reading
        self.graph = reading.views.graph
        self.proof = Proof(reading)
        if library is None and decided is None:
            from topo.matching import library as standard_library

            library = standard_library()
        self.library = library
        if decided is None:
            decided = self._without_conflicts(proposals(reading, library))
        self.proposals = decided
        self._settled: tuple[list[Proposal], dict[str, Change]] | None = None

    def reduction(self, detail: str) -> Reduction:
        """The reduction at one level of detail."""
        put_back: dict[str, Change] = {}
        chosen: list[Proposal] = []
        if detail != "whole":
            chosen, put_back = self._working()
        if detail == "principle":
            stays = {id(proposal) for proposal in chosen}
            later = [
                p if p.detail == "principle" else replace(p, detail="principle")
                for p in self._principle()
                if id(p) not in stays
            ]
            chosen, put_back = [*chosen, *later], {}
        made = self._rebuilt(chosen)
        change = self.proof.change(made.circuit, made.moved) if detail != "whole" else Change()
        ledger = self._ledger(detail, chosen, made, put_back)
        return Reduction(
            self.reading,
            detail,
            made.circuit,
            ledger,
            self._sentences(detail, chosen, change, put_back),
            change.numbers,
        )

    def change(self, proposal: Proposal) -> Change:
        """What one proposal alone changes."""
        made = self._rebuilt([proposal])
        return self.proof.change(made.circuit, made.moved)

    def _principle(self) -> tuple[Proposal, ...]:
        """All proposals but those that would stop devices elsewhere: what feeds other stages has to stay."""
        later = [proposal for proposal in self.proposals if proposal.detail == "principle"]
        if not self._stops_others(later):
            return self.proposals
        return tuple(item for item in self.proposals if item not in later or not self._stops_others([item]))

    def _stops_others(self, chosen: Sequence[Proposal]) -> bool:
        """Whether leaving these out stops a device that is in none of the blocks concerned, nor served by one."""
        parts = {ref for proposal in chosen for ref in proposal.parts}
        concerned = {
            ref
            for block in self.reading.blocks
            if parts & set(block.parts) and not block.match.components
            for ref in (*block.parts, *block.devices, *block.serves)
        }
        stopped = set(self.proof.stopped(self._rebuilt(chosen).circuit))
        return any(element.name in stopped and not concerned & set(element.members) for element in self.graph.elements)

    def _rebuilt(self, chosen: Sequence[Proposal]) -> Rebuilt:
        wires = [ref for proposal in chosen for ref, fate in proposal.becomes.items() if fate == "wire"]
        gone = [ref for proposal in chosen for ref, fate in proposal.becomes.items() if fate == "nothing"]
        ports = [net for port in (*self.reading.inputs, *self.reading.outputs) for net in (port.net, port.reference)]
        return rebuilt(self.graph, wires, gone, keep=self.reading.not_recognised, ports=ports)

    def _without_conflicts(self, proposed: tuple[Proposal, ...]) -> tuple[Proposal, ...]:
        """Proposals whose wires do not short a part that was not recognised: that part may be the clue."""
        unknown = [self.reading.circuit.by_ref[ref] for ref in self.reading.not_recognised]
        barred = [{t.net for t in part.terminals} for part in unknown if len(part.terminals) == 2]

        def shorts(proposal: Proposal) -> bool:
            wires = [ref for ref, fate in proposal.becomes.items() if fate == "wire"]
            return any({t.net for t in self.reading.circuit.by_ref[ref].terminals} in barred for ref in wires)

        return tuple(proposal for proposal in proposed if not shorts(proposal))

    def _working(self) -> tuple[list[Proposal], dict[str, Change]]:
        """What goes at `working`, and what was put back because the total went beyond the limits."""
        if self._settled is None:
            chosen = [proposal for proposal in self.proposals if proposal.detail == "working"]
            put_back: dict[str, Change] = {}
            alone: dict[int, Change] = {}
            while chosen:
                made = self._rebuilt(chosen)
                if within_limits(self.proof.change(made.circuit, made.moved)):
                    break
                for proposal in chosen:
                    if id(proposal) not in alone:
                        alone[id(proposal)] = self.change(proposal)
                for proposal in _worst(chosen, alone):
                    chosen.remove(proposal)
                    put_back.update(dict.fromkeys(proposal.parts, alone[id(proposal)]))
            self._settled = (chosen, put_back)
        return self._settled

    def _ledger(
        self, detail: str, chosen: Sequence[Proposal], made: Rebuilt, put_back: dict[str, Change]
    ) -> tuple[Entry, ...]:
        """One entry for every part of the original, in its order."""
        going = {ref: proposal for proposal in chosen for ref in proposal.parts}
        standing = {part.ref for part in made.circuit.parts}
        entries = []
        for part in self.reading.circuit.parts:
            if part.ref in standing:
                entries.append(self._kept(part.ref, put_back))
            elif part.ref in made.merged:
                entries.append(self._merged(part.ref, made.merged[part.ref]))
            elif part.ref in going:
                proposal = going[part.ref]
                rule, reason = proposal.reasons[part.ref]
                becomes = proposal.becomes[part.ref]
                entries.append(
                    Entry(part.ref, "omitted", rule, reason, proposal.detail, becomes=becomes, together=proposal.parts)
                )
            else:
                reason = f"Nothing is left for it to do: {made.void[part.ref]}."
                entries.append(Entry(part.ref, "omitted", "left without use", reason, detail, becomes="nothing"))
        fates = {entry.fate for entry in entries}
        assert fates <= {"kept", "merged", "omitted"} and len(entries) == len(self.reading.circuit.parts)
        assert {entry.part for entry in entries if entry.fate == "kept"} == standing
        return tuple(entries)

    def _kept(self, ref: str, put_back: dict[str, Change]) -> Entry:
        if ref in put_back:
            return Entry(ref, "kept", "put back", f"Without it: {put_back[ref].words}.")
        if ref in self.reading.not_recognised:
            return Entry(ref, "kept", "not recognised", "A part that is not understood is never left out.")
        block = next((block for block in self.reading.blocks if ref in block.parts), None)
        if block is None:
            return Entry(ref, "kept", "needed", "It belongs to the circuit.")
        role = next((role for role, refs in block.roles.items() if ref in refs), "")
        known = self.library.get(block.pattern).roles.get(role)
        word = known.word if known is not None and known.word else role
        said = block.name if not word or word == block.name else f"{word} of the {block.name}"
        return Entry(ref, "kept", "needed", f"{said[:1].upper()}{said[1:]}.")

    def _merged(self, ref: str, into: str) -> Entry:
        merge = next(
            (m for m in reversed(self.graph.merges) if ref in m.parts and m.rule in ("series", "parallel")), None
        )
        rule = f"in {merge.rule}" if merge is not None else "merged"
        reason = merge.reason if merge is not None else f"It is one with {into}."
        return Entry(ref, "merged", rule, reason[:1].upper() + reason[1:].rstrip(".") + ".", "whole", into=into)

    def _sentences(
        self, detail: str, chosen: Sequence[Proposal], change: Change, put_back: dict[str, Change]
    ) -> tuple[str, ...]:
        """What solving the reduced circuit again gave."""
        if detail == "whole" or not chosen:
            return ()
        said = [f"Solved again without them: {change.words}."] if change.numbers else []
        if change.missing:
            said.append(f"Not proved: {change.missing}.")
        if put_back:
            named = [part.ref for part in self.reading.circuit.parts if part.ref in put_back]
            said.append(f"Put back, because too much changed without: {', '.join(named)}.")
        return tuple(said)


def _worst(chosen: Sequence[Proposal], alone: dict[int, Change]) -> list[Proposal]:
    """The proposal that alone changes most, with those of its rule that change as much: the two sides of a pair."""
    worst = max(chosen, key=lambda proposal: alone[id(proposal)].weight)
    least = (1 - ALIKE) * alone[id(worst)].weight
    rules = {rule for rule, _ in worst.reasons.values()}
    return [
        proposal
        for proposal in chosen
        if proposal is worst
        or (alone[id(proposal)].weight >= least and rules == {rule for rule, _ in proposal.reasons.values()})
    ]
