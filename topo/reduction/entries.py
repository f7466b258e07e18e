"""Writes the ledger: one entry for every part of the original, in its order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from topo.graph.graph import Graph
from topo.matching.shelf import Library
from topo.quantities import show
from topo.reading.reading import Block, Reading
from topo.reading.summary import joined
from topo.reduction.asking import Steering
from topo.reduction.bias_sources import RULE
from topo.reduction.decisions import Proposal
from topo.reduction.joining import How, Joined
from topo.reduction.naming import place_of
from topo.reduction.proof import Change
from topo.reduction.reduction import Entry

# Parts that are nothing certain without their value.
VALUED = ("resistor", "capacitor", "inductor", "choke")


@dataclass(frozen=True)
class Writer:
    """Knows the reading and what was asked; `entries` writes the ledger of one detail."""

    reading: Reading
    library: Library
    asked: Steering = field(default_factory=Steering)

    def entries(
        self,
        detail: str,
        chosen: Sequence[Proposal],
        made: Joined,
        put_back: Mapping[str, Change],
        early: Mapping[str, str],
    ) -> tuple[Entry, ...]:
        """The fate of every part; raises AssertionError where they are not all there, exactly once.

        `early` says at which detail a part goes that is merged since something else has gone.
        """
        going = {ref: proposal for proposal in chosen for ref in proposal.parts}
        drawn = {ref: proposal for proposal in chosen for ref in proposal.touched if ref not in proposal.becomes}
        standing = {part.ref for part in made.circuit.parts}
        found = []
        for part in self.reading.circuit.parts:
            ref = part.ref
            if ref in drawn:
                found.append(self._drawn(ref, drawn[ref]))
            elif ref in made.fixed:
                how = made.fixed[ref]
                found.append(
                    Entry(ref, "kept", how.rule, how.reason)
                    if ref in standing
                    else self._merged(ref, made.merged[ref], early.get(ref, detail), made.how.get(ref))
                )
            elif ref in made.links:
                how = made.links[ref]
                found.append(Entry(ref, "omitted", how.rule, how.reason, "working", becomes="wire", number=how.number))
            elif ref in standing:
                found.append(self._kept(ref, detail, put_back))
            elif ref in made.merged:
                found.append(self._merged(ref, made.merged[ref], early.get(ref, detail), made.how.get(ref)))
            elif ref in going:
                found.append(self._omitted(ref, going[ref]))
            else:
                reason = f"Nothing is left for it to do: {made.void[ref]}."
                number = self._beside(ref, going)
                found.append(
                    Entry(ref, "omitted", "left without use", reason, detail, becomes="nothing", number=number)
                )
        assert {entry.fate for entry in found} <= {"kept", "merged", "omitted"}
        assert [entry.part for entry in found] == [part.ref for part in self.reading.circuit.parts]
        assert {entry.part for entry in found if entry.fate == "kept"} == standing
        return tuple(found)

    def _beside(self, ref: str, going: Mapping[str, Proposal]) -> int:
        """The class of a part on the same two nets that has become a wire: that of a coil with its resistor; or 0."""
        parts = self.reading.circuit.by_ref
        nets = {terminal.net for terminal in parts[ref].terminals}
        wires = [other for other, proposal in going.items() if proposal.becomes[other] == "wire"]
        same = [other for other in wires if {terminal.net for terminal in parts[other].terminals} == nets]
        return going[same[0]].classes.get(same[0], 0) if same else 0

    def _kept(self, ref: str, detail: str, put_back: Mapping[str, Change]) -> Entry:
        if ref in self.asked.keep:
            return Entry(ref, "kept", "kept by order", "It was asked for.")
        if ref in self.asked.whole:
            return Entry(ref, "kept", "shown whole", "It belongs to a block that was asked for whole.")
        if ref in put_back:
            change = put_back[ref]
            why = f"not tested: {change.missing}" if not change.solved else change.words
            return Entry(ref, "kept", "put back", f"Without it: {why}.")
        if ref in self.reading.not_recognised:
            part = self.reading.circuit.by_ref[ref]
            if part.value is None and part.kind in VALUED:
                return Entry(ref, "kept", "not recognised", "Its value is not known, so that nothing can be tested.")
            return Entry(ref, "kept", "not recognised", "A part that is not understood is never left out.")
        block, word = place_of(ref, self.reading.blocks, self.library)
        if block is None:
            return Entry(ref, "kept", "needed", "It belongs to the circuit.")
        if not word and len(block.parts) > 1:
            said = f"in a lead of the {block.name}"
        elif not word or block.name.endswith(word):
            said = block.name
        else:
            said = f"{word} of the {block.name}"
        return Entry(ref, "kept", "needed", f"{said[:1].upper()}{said[1:]}{self._assumed(block)}.")

    def _assumed(self, block: Block) -> str:
        """That a block which is kept rests on values that are not known, "" where it does not."""
        blank = self._without_value(block.parts)
        return f"; assumed by its place, since the value of {joined(blank)} is not known" if blank else ""

    def _without_value(self, refs: Sequence[str]) -> list[str]:
        known = self.reading.circuit.by_ref
        return [ref for ref in refs if known[ref].value is None and known[ref].kind in VALUED]

    def _omitted(self, ref: str, proposal: Proposal) -> Entry:
        rule, reason = proposal.reasons[ref]
        block = next((block.parts for block in self.reading.blocks if ref in block.parts), ())
        blank = self._without_value(tuple(dict.fromkeys((*proposal.touched, *block))))
        if blank:
            reason += f" Assumed, since the value of {joined(blank)} is not known."
        return Entry(
            ref,
            "omitted",
            rule,
            reason,
            proposal.detail,
            becomes=proposal.becomes[ref],
            together=proposal.touched,
            number=proposal.classes.get(ref, 0),
            test=dict(proposal.tests.get(ref, {})),
        )

    def _merged(self, ref: str, into: str, detail: str, how: How | None) -> Entry:
        if how is not None:
            return Entry(
                ref, "merged", how.rule, how.reason, detail, into=into, number=how.number, test=self._share(ref, into)
            )
        graph: Graph = self.reading.views.graph
        merge = next((m for m in reversed(graph.merges) if ref in m.parts and m.rule in ("series", "parallel")), None)
        rule = f"in {merge.rule}" if merge is not None else "merged"
        reason = merge.reason if merge is not None else f"It is one with {into}."
        return Entry(
            ref,
            "merged",
            rule,
            reason[:1].upper() + reason[1:].rstrip(".") + ".",
            "whole",
            into=into,
            number=18 if self.reading.circuit.by_ref[ref].kind == "capacitor" and rule == "in parallel" else 0,
            test=self._share(ref, into),
        )

    def _share(self, ref: str, into: str) -> dict[str, float]:
        """How much a merged capacitor is of the one that it is merged into, or that of it."""
        part, other = (self.reading.circuit.by_ref[name] for name in (ref, into))
        if part.kind != "capacitor" or not part.value or not other.value:
            return {}
        return {"share": min(part.value, other.value) / max(part.value, other.value)}

    def _drawn(self, ref: str, proposal: Proposal) -> Entry:
        """A resistor of a bias network that is drawn as a source."""
        source = proposal.source
        assert source is not None
        others = [name for name in (source.stands, *source.others) if name != ref]
        what = f"{show(source.volts, 'V', 3)} behind {show(source.ohms, 'ohm', 3)} at {source.net}"
        together = proposal.touched
        if ref == source.stands:
            words = f"Drawn with {', '.join(others)} as one ideal source: {what}."
            return Entry(ref, "kept", RULE, words, "principle", together=together, number=28)
        words = f"Drawn with {', '.join(others)} as one ideal source: {what}; exact by Thevenin's theorem."
        return Entry(ref, "merged", RULE, words, "principle", into=source.stands, together=together, number=28)
