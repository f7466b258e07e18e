"""What may be left out, from which level of detail on, by which rule: judged on the circuit as it is, part by part.

What a part is needed for is said by the patterns of the blocks that claim it (their `omit`); what is provably
without effect (a link, a capacitor across an ideal rail, a stopper that drops nothing) is decided by numbers. A part
that no block claims is never proposed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from topo.graph.graph import Element, Graph
from topo.reading.reading import Block, Reading
from topo.reduction.measures import Measures
from topo.reduction.replacing import Replacement
from topo.views.kinds import DEVICES, electrodes
from topo.views.view import Verdict

# Kinds that no figure may lose in silence: see the pattern catalogue, section 14.3, points 1, 5 and 6.
NEVER = frozenset(
    {"relay", "ic", "other", "transformer", "speaker", "headphones", "microphone", "antenna", "regulator", "battery"}
)
# A stopper: catalogue 14.2, class 7.
STOPPER_DROP = 5e-3
STOPPER_SHARE = 0.05


@dataclass(frozen=True)
class Proposal:
    """Parts that go together, at one level of detail.

    `becomes` maps each designator to "wire" or "nothing"; `reasons` maps it to its rule and the reason with numbers.
    """

    detail: str
    becomes: Mapping[str, str]
    reasons: Mapping[str, tuple[str, str]]

    @property
    def parts(self) -> tuple[str, ...]:
        """The designators."""
        return tuple(self.becomes)


def proposals(reading: Reading, library) -> tuple[Proposal, ...]:
    """Everything that may be left out at `working` or `principle`, in the order of the file."""
    return _Judge(reading, library).proposals()


class _Judge:
    def __init__(self, reading: Reading, library) -> None:
        self.reading = reading
        self.graph = reading.views.graph
        self.measures = Measures(reading)
        self.replacement = Replacement(reading, self.measures)
        self.library = library
        self.order = {part.ref: place for place, part in enumerate(reading.circuit.parts)}
        self.ports = {net for port in (*reading.inputs, *reading.outputs) for net in (port.net, port.reference)}

    def proposals(self) -> tuple[Proposal, ...]:
        allowed = self._allowed()
        made = [*self._links(), *self._by_number(allowed), *self._by_pattern(allowed)]
        seen: set[str] = set()
        kept = []
        for proposal in made:
            fresh = [ref for ref in proposal.parts if ref not in seen]
            if fresh:
                seen.update(fresh)
                kept.append(replace(proposal, becomes={ref: proposal.becomes[ref] for ref in fresh}))
        return tuple(
            sorted(kept, key=lambda item: (item.detail != "working", min(map(self.order.__getitem__, item.parts))))
        )

    # What the patterns allow.

    def _allowed(self) -> dict[str, dict[int, tuple[str, str, str]]]:
        """For each part: block number -> (detail, rule, words), "" as detail where that block needs the part."""
        allowed: dict[str, dict[int, tuple[str, str, str]]] = {}
        for block in self.reading.blocks:
            pattern = self.library.get(block.pattern)
            for role, refs in block.roles.items():
                known = pattern.roles.get(role)
                if known is not None and known.witness:
                    continue
                entry = _entry(pattern.omit, role)
                rule = _rule(block, role, known.word if known is not None else role)
                for ref in refs:
                    said = allowed.setdefault(ref, {})
                    said[block.number] = _stricter(said.get(block.number), (entry[0], rule, entry[1]))
        return allowed

    def _by_pattern(self, allowed: Mapping[str, Mapping[int, tuple[str, str, str]]]) -> list[Proposal]:
        """One proposal for each block and detail; a part goes only as far as all the blocks that use it agree."""
        made: dict[tuple[int, str], dict[str, tuple[str, str]]] = {}
        for ref, said in allowed.items():
            if any(not detail for detail, _, _ in said.values()):
                continue
            detail = "principle" if any(entry[0] == "principle" for entry in said.values()) else "working"
            number, (_, rule, words) = next((n, e) for n, e in sorted(said.items()) if e[0] == detail)
            made.setdefault((number, detail), {})[ref] = (rule, words)
        return [
            proposal
            for (_, detail), said in sorted(made.items())
            if (proposal := self._proposal(detail, said)) is not None
        ]

    def _proposal(self, detail: str, said: Mapping[str, tuple[str, str]]) -> Proposal | None:
        becomes, reasons = {}, {}
        for ref, (rule, words) in sorted(said.items(), key=lambda item: self.order[item[0]]):
            element = self._element(ref)
            fate = self.replacement.of(element) if element is not None else None
            if element is not None and fate == "wire" and self._hangs(element, said):
                fate = "nothing"
            if element is None or fate is None:
                continue
            becomes[ref] = fate
            reasons[ref] = (rule, _sentence(self.measures.numbers(element, fate), words))
        return Proposal(detail, becomes, reasons) if becomes else None

    def _hangs(self, element: Element, said: Mapping[str, object]) -> bool:
        """Whether an end of an element lies on nothing but parts that go with it: it would be in the air."""
        going = {self.graph.element_of[ref] for ref in said if ref in self.graph.element_of}
        fixed = {0, *self.graph.rails, *(self.graph.node_of.get(net) for net in self.ports)}
        free = [node for node in element.nodes if node not in fixed]
        return any({index for index, _ in self.graph.at_node[node]} <= going for node in free)

    def _element(self, ref: str) -> Element | None:
        """The element of a part that may be left out at all, or None."""
        index = self.graph.element_of.get(ref)
        if index is None:
            return None
        element = self.graph.elements[index]
        if element.kind in NEVER or (element.value is None and element.kind in ("resistor", "capacitor", "inductor")):
            return None
        return element

    # What numbers alone decide.

    def _links(self) -> list[Proposal]:
        made = []
        unknown = set(self.reading.not_recognised)
        for ref in self.graph.links:
            part = self.reading.circuit.by_ref[ref]
            if len(part.terminals) == 2 and ref not in unknown and part.kind not in NEVER:
                words = _LINK_WORDS.get(part.kind, "its impedance is next to nothing")
                made.append(
                    Proposal(
                        "working", {ref: "wire"}, {ref: (_LINK_RULES.get(part.kind, "link"), _capital(words) + ".")}
                    )
                )
        return made

    def _by_number(self, allowed: Mapping[str, Mapping[int, tuple[str, str, str]]]) -> list[Proposal]:
        made = []
        claimed = {ref: block for block in reversed(self.reading.blocks) for ref in block.parts}
        for element in self.graph.elements:
            if not all(ref in claimed for ref in element.members) or self._element(element.members[0]) is None:
                continue
            passed = not any(ref in allowed for ref in element.members)
            rule = self._rule_by_number(element, passed)
            if rule is not None:
                fate = "nothing" if rule == "across a rail" else "wire"
                words = _sentence(self.measures.numbers(element, fate), "")
                block = claimed[element.members[0]]
                name = block.name if rule == "across a rail" and block.sort == "supply" else rule
                made.append(
                    Proposal(
                        "working", dict.fromkeys(element.members, fate), dict.fromkeys(element.members, (name, words))
                    )
                )
        return made

    def _rule_by_number(self, element: Element, passed: bool) -> str | None:
        """The class of the catalogue's section 14.2 whose criterion an element meets by numbers alone."""
        verdict = self.reading.views.signal.verdicts.get(element.index, Verdict("kept"))
        if element.kind == "capacitor" and verdict.fate == "no effect":
            return "across a rail"
        if not passed or len(element.nodes) != 2:
            return None
        if element.kind in ("bead", "inductor") and verdict.fate == "short":
            return "bead in a lead"
        drop, share = self.measures.drop(element), self.measures.rho(element)
        small = drop is not None and drop <= STOPPER_DROP and share is not None and share <= STOPPER_SHARE
        return "stopper" if element.kind == "resistor" and small and not _in_emitter_lead(self.graph, element) else None


def _in_emitter_lead(graph: Graph, element: Element) -> bool:
    """Whether an end lies on an emitter, source or cathode."""
    return any(
        graph.elements[index].kind in DEVICES and electrodes(graph.elements[index])[1] == terminal
        for node in element.nodes
        if node
        for index, terminal in graph.at_node[node]
    )


_LINK_RULES = {"fuse": "fuse", "switch": "closed switch", "meter": "meter", "bead": "bead"}
_LINK_WORDS = {
    "fuse": "a fuse that is whole is a wire; put it back in what is built",
    "switch": "drawn closed, it is a wire",
    "meter": "a meter in series is a wire for what the circuit does",
    "bead": "a wire over the whole band",
}


def _entry(omit: Mapping[str, Mapping[str, str]], role: str) -> tuple[str, str]:
    """The first detail at which a pattern leaves a role out, and why; ("", "") where it needs it."""
    for detail in ("working", "principle"):
        if role in omit.get(detail, {}):
            return detail, omit[detail][role]
    return "", ""


def _stricter(a: tuple[str, str, str] | None, b: tuple[str, str, str]) -> tuple[str, str, str]:
    """Of two roles of one part in one block, the one that keeps it longer."""
    rank = {"working": 0, "principle": 1, "": 2}
    return b if a is None or rank[b[0]] > rank[a[0]] else a


def _rule(block: Block, role: str, word: str) -> str:
    """What a ledger calls the omission: the block where it is this part's own, else the part's role in it."""
    return block.name if len(block.parts) <= len(block.roles.get(role, ())) or block.sort == "supply" else word


def _sentence(numbers: str, words: str) -> str:
    """Numbers and words as sentences."""
    said = [_capital(text).rstrip(".") + "." for text in (numbers, words) if text]
    return " ".join(said)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
