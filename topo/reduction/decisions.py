"""What may be left out, from which level of detail on, by which rule: judged on the circuit as it is, part by part.

What a part is needed for is said by the patterns of the blocks that claim it (their `omit`); what is provably
without effect (a link, a capacitor across an ideal rail, a stopper that drops nothing) is decided by the classes of
`topo.reduction.classes` and their numbers. A part that no block claims goes only by such a class, and what the user
orders to go is not asked for reasons.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from topo.graph.graph import Element
from topo.matching.match import Match
from topo.reading.reading import Block, Reading
from topo.reduction.asking import Steering
from topo.reduction.classes import NAMES, Classes, Judged
from topo.reduction.measures import Measures
from topo.reduction.naming import role_word
from topo.reduction.replacing import Replacement
from topo.reduction.severed import Severed
from topo.reduction.surroundings import NEUTRALISING_SHARE, Surroundings
from topo.reduction.swing import Swing

if TYPE_CHECKING:
    from topo.reduction.bias_sources import BiasSource

# Kinds that no figure may lose in silence: see the pattern catalogue, section 14.3, points 1, 5 and 6.
NEVER = frozenset(
    {
        *("relay", "ic", "other", "transformer", "speaker", "headphones", "microphone", "antenna", "regulator"),
        *("battery", "current"),
    }
)
BY_ORDER = "left out by order"
# Blocks for which a resistor that drops next to nothing at rest may be what tells them a current.
_BY_CURRENT = frozenset({"protection", "supply", "bias", "feedback", "control"})


@dataclass(frozen=True)
class Proposal:
    """Parts that go together, at one level of detail.

    `becomes` maps each designator to "wire" or "nothing"; `reasons` maps it to its rule and the reason with numbers.
    `classes` maps it to the number of its class (see `topo.reduction.classes`), 0 for none, and `tests` to the numbers
    of the test. `ordered` says that the user asked for it, so that it is never put back. `source` is what a bias
    network becomes.
    """

    detail: str
    becomes: Mapping[str, str]
    reasons: Mapping[str, tuple[str, str]]
    classes: Mapping[str, int] = field(default_factory=dict)
    tests: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    ordered: bool = False
    source: BiasSource | None = None

    @property
    def parts(self) -> tuple[str, ...]:
        """The designators that go."""
        return tuple(self.becomes)

    @property
    def touched(self) -> tuple[str, ...]:
        """All designators that it concerns, what a source stands for among them."""
        return (*self.becomes, *((self.source.stands, *self.source.others) if self.source is not None else ()))


def proposals(reading: Reading, library, asked: Steering | None = None) -> tuple[Proposal, ...]:
    """Everything that may be left out at `working` or `principle`, in the order of the file."""
    return _Judge(reading, library, asked or Steering()).proposals()


class _Judge:
    def __init__(self, reading: Reading, library, asked: Steering) -> None:
        self.reading = reading
        self.asked = asked
        self.graph = reading.views.graph
        self.measures = Measures(reading)
        self.replacement = Replacement(reading, self.measures)
        self.classes = Classes(reading, self.measures)
        self.surroundings = Surroundings(reading, self.measures, self.classes)
        self.swing = Swing(reading)
        self.severed: set[str] = set()
        self.library = library
        self.order = {part.ref: place for place, part in enumerate(reading.circuit.parts)}
        self.ports = {net for port in (*reading.inputs, *reading.outputs) for net in (port.net, port.reference)}

    def proposals(self) -> tuple[Proposal, ...]:
        allowed = self._allowed()
        made = [*self._ordered(), *self._by_number(allowed), *self._links(), *self._by_pattern(allowed)]
        seen: set[str] = set(self.asked.held)
        kept = []
        for proposal in made:
            fresh = [ref for ref in proposal.parts if ref not in seen]
            if fresh:
                seen.update(fresh)
                kept.append(replace(proposal, becomes={ref: proposal.becomes[ref] for ref in fresh}))
        return tuple(
            sorted(kept, key=lambda item: (item.detail != "working", min(map(self.order.__getitem__, item.parts))))
        )

    def _ordered(self) -> list[Proposal]:
        """What the user asks to leave out: by its place, not by its numbers."""
        made = []
        for ref in self.asked.omit:
            index = self.graph.element_of.get(ref)
            element = self.graph.elements[index] if index is not None else None
            fate = "nothing"
            if ref in self.graph.links and len(self.reading.circuit.by_ref[ref].terminals) == 2:
                fate = "wire"
            elif element is not None:
                fate = self.replacement.of(element) or "nothing"
            alone = element is not None and element.members == (ref,)
            numbers = self.measures.numbers(element, fate) if element is not None and alone else ""
            words = _sentence(numbers, "left out because it was asked for, not because a test allows it")
            number = self.classes.number(element, fate) if element is not None and alone else 0
            made.append(Proposal("working", {ref: fate}, {ref: (BY_ORDER, words)}, {ref: number}, ordered=True))
        return made

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
                if not entry[0]:
                    inner = self._of_component(block.match, role)
                    entry = inner if inner[0] and all(self._acts_above(ref) for ref in refs) else entry
                rule = _rule(block, role, role_word(block.match, role, self.library))
                for ref in refs:
                    said = allowed.setdefault(ref, {})
                    said[block.number] = _stricter(said.get(block.number), (entry[0], rule, entry[1]))
        return allowed

    def _of_component(self, match: Match, role: str) -> tuple[str, str]:
        """What the pattern of a composite's component leaves out of its own, as in "drive.damping"; ("", "") else."""
        component, _, rest = role.partition(".")
        inner = match.components.get(component)
        if inner is None or not rest:
            return "", ""
        entry = _entry(self.library.get(inner.pattern).omit, rest)
        return ("principle", entry[1]) if entry[0] else self._of_component(inner, rest)

    def _acts_above(self, ref: str) -> bool:
        """Whether a part does nothing up to the top of the band, by the numbers of its class."""
        element = self._element(ref)
        fate = self.replacement.of(element) if element is not None else None
        return element is not None and fate is not None and self.classes.promoted(element, fate) is not None

    def _by_pattern(self, allowed: Mapping[str, Mapping[int, tuple[str, str, str]]]) -> list[Proposal]:
        """One proposal for each block and detail; a part goes only as far as all the blocks that use it agree.

        What numbers allow goes at `working` already.
        """
        made: dict[tuple[int, str], dict[str, tuple[str, str]]] = {}
        for ref, said in allowed.items():
            if any(not detail for detail, _, _ in said.values()):
                continue
            detail = "principle" if any(entry[0] == "principle" for entry in said.values()) else "working"
            number, (_, rule, why) = next((n, e) for n, e in sorted(said.items()) if e[0] == detail)
            made.setdefault((number, detail), {})[ref] = (rule, why)
        found = []
        blocks = {block.number: block for block in self.reading.blocks}
        for (number, detail), words in sorted(made.items()):
            whole = self._proposal(detail, words)
            if whole is not None:
                found += (
                    self._promoted(whole, blocks[number]) if detail == "principle" else [self._at_full_swing(whole)]
                )
        return found

    def _at_full_swing(self, proposal: Proposal) -> Proposal:
        """A proposal for `working` with what its junctions see at full swing; where one of them conducts then, the
        parts go for the principle alone."""
        reasons, tests, detail = dict(proposal.reasons), dict(proposal.tests), proposal.detail
        for ref, fate in proposal.becomes.items():
            crest = self.swing.of_part(ref) if fate == "nothing" else None
            if crest is None or crest.swing is None:
                continue
            if self.swing.stays_off(ref) is None:
                detail = "principle"
            rule, words = reasons[ref]
            reasons[ref] = (rule, f"{_capital(crest.words)}. {words}")
            tests[ref] = {**tests.get(ref, {}), **crest.test}
        return replace(proposal, detail=detail, reasons=reasons, tests=tests)

    def _promoted(self, proposal: Proposal, block: Block) -> list[Proposal]:
        """A proposal for the principle, as far as numbers allow its parts to go at `working` already."""
        elements = {ref: self.graph.elements[self.graph.element_of[ref]] for ref in proposal.parts}
        feeds = [element for ref, element in elements.items() if proposal.classes[ref] in (4, 5)]
        rails = {rail.node for rail in self.reading.views.derived}
        if (
            feeds
            and block.sort == "supply"
            and all(proposal.classes[ref] in (1, 4, 5) for ref in proposal.parts)
            and all(set(item.nodes) <= self.classes.held | rails and self.classes.may_feed(item) for item in feeds)
        ):
            return [replace(proposal, detail="working")]
        early = {
            ref: judged
            for ref, element in elements.items()
            if (judged := self.classes.promoted(element, proposal.becomes[ref], block.match.band)) is not None
            and all(self._can_spare(name, proposal.parts) for name in element.members)
        }
        found = [
            self._of_class(judged, proposal.reasons[ref][0])
            for ref, judged in early.items()
            if ref == elements[ref].members[0]
        ]
        late = {ref: fate for ref, fate in proposal.becomes.items() if ref not in early}
        return [*found, replace(proposal, becomes=late)] if late else found

    def _can_spare(self, ref: str, going: tuple[str, ...]) -> bool:
        """Whether each block that claims a part is what it is without it, or has nothing left.

        No part of a feedback can be spared: what acts above the band there keeps the loop from oscillating, which no
        gain at mid band tells.
        """
        for block in self.reading.blocks:
            if ref in block.parts and block.sort == "feedback":
                return False
            if ref not in block.parts or block.match.components:
                continue
            roles = self.library.get(block.pattern).roles
            needed = {
                item
                for role, refs in block.roles.items()
                if (known := roles.get(role)) is not None and not known.optional and not known.witness
                for item in refs
            }
            if ref in needed and not needed <= set(going):
                return False
        return True

    def _of_class(self, judged: Judged, rule: str) -> Proposal:
        """The proposal to leave out what meets a class's criterion."""
        reason = (rule, _sentence(judged.words, ""))
        refs = judged.becomes
        return Proposal(
            "working",
            refs,
            dict.fromkeys(refs, reason),
            dict.fromkeys(refs, judged.number),
            dict.fromkeys(refs, judged.test),
        )

    def _proposal(self, detail: str, said: Mapping[str, tuple[str, str]]) -> Proposal | None:
        becomes, reasons, classes, tests = {}, {}, {}, {}
        for ref, (rule, words) in sorted(said.items(), key=lambda item: self.order[item[0]]):
            element = self._element(ref)
            fate = self.replacement.of(element) if element is not None else None
            if element is not None and fate == "wire" and self._hangs(element, said):
                fate = "nothing"
            if element is None or fate is None or (self.surroundings.neutralises(element) or 0.0) > NEUTRALISING_SHARE:
                continue
            becomes[ref] = fate
            reasons[ref] = (rule, _sentence(self.measures.numbers(element, fate), words))
            classes[ref] = self.classes.number(element, fate)
            tests[ref] = self.measures.test(element)
        return Proposal(detail, becomes, reasons, classes, tests) if becomes else None

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
        unknown = {
            ref for ref in self.reading.not_recognised if self.reading.circuit.by_ref[ref].kind not in _LINK_RULES
        }
        for ref in self.graph.links:
            part = self.reading.circuit.by_ref[ref]
            if len(part.terminals) == 2 and ref not in unknown and part.kind not in NEVER:
                words = _LINK_WORDS.get(part.kind, "its impedance is next to nothing")
                reason = (_LINK_RULES.get(part.kind, "link"), _capital(words) + ".")
                made.append(Proposal("working", {ref: "wire"}, {ref: reason}, {ref: 8 if part.kind == "bead" else 21}))
        return made

    def _by_number(self, allowed: Mapping[str, Mapping[int, tuple[str, str, str]]]) -> list[Proposal]:
        """What meets a class's criterion. Parts that a block needs go only where the class holds whatever it is for."""
        made = []
        done: set[str] = set()
        claimed = {ref: block for block in reversed(self.reading.blocks) for ref in block.parts}
        for group in Severed(self.reading).judged():
            if not done.intersection(group.becomes):
                done.update(group.becomes)
                self.severed.update(group.becomes)
                made.append(self._of_class(group, NAMES[group.number]))
        for element in self.graph.elements:
            if done.intersection(element.members) or self._element(element.members[0]) is None:
                continue
            judged = self.classes.judged(element)
            if judged is None or not self._agrees(judged, allowed, claimed):
                continue
            done.update(judged.becomes)
            block = claimed.get(element.members[0])
            named = judged.number == 1 and block is not None and block.sort == "supply"
            made.append(self._of_class(judged, block.name if named and block is not None else NAMES[judged.number]))
        for found in self.surroundings.judged():
            if not done.intersection(found.becomes) and self._agrees(found, allowed, claimed):
                done.update(found.becomes)
                proposal = self._of_class(found, self._name(found, claimed))
                made.append(replace(proposal, detail="principle") if found.number == 17 else proposal)
        return made

    def _name(self, judged: Judged, claimed: Mapping[str, Block]) -> str:
        """What a ledger calls a class; a resistor that seems to sense is called so where a meter shows it."""
        if judged.number != 9:
            return NAMES[judged.number]
        block = next((claimed[ref] for ref in judged.becomes if ref in claimed), None)
        nets = [{t.net for t in self.reading.circuit.by_ref[ref].terminals} for ref in judged.becomes]
        meters = [part for part in self.reading.circuit.parts if part.kind == "meter"]
        if any({terminal.net for terminal in meter.terminals} in nets for meter in meters):
            return NAMES[9]
        return block.name if block is not None else "small resistor in a feed"

    def _agrees(self, judged: Judged, allowed: Mapping[str, object], claimed: Mapping[str, Block]) -> bool:
        """Whether what the blocks say of the parts leaves them to a class of numbers."""
        refs = judged.becomes
        if judged.sure:
            return True
        if judged.number == 9:
            return not any(self._needed(ref, allowed, _BY_CURRENT) for ref in refs)
        if judged.number in (7, 8):
            loose = [ref for ref in refs if ref not in claimed]
            return not any(ref in allowed for ref in refs) and (not loose or judged.number == 8)
        if judged.number == 1:
            return all(ref in claimed and self._can_spare(ref, self._still(claimed[ref])) for ref in refs)
        return not any(self._needed(ref, allowed) for ref in refs)

    def _still(self, block: Block) -> tuple[str, ...]:
        """The parts of a block that lie across ideal rails, or go since the rest of the circuit does not feel them."""
        elements = {ref: self.graph.element_of.get(ref) for ref in block.parts}
        return tuple(
            ref
            for ref, index in elements.items()
            if ref in self.severed
            or (index is not None and self.measures.fate(self.graph.elements[index]) == "no effect")
        )

    def _needed(self, ref: str, allowed: Mapping[str, object], sorts: frozenset[str] = frozenset()) -> bool:
        """Whether a block, or one of some sorts, needs a part at every detail."""
        said = allowed.get(ref)
        sort = {block.number: block.sort for block in self.reading.blocks}
        return isinstance(said, Mapping) and any(
            not entry[0] and (not sorts or sort[number] in sorts) for number, entry in said.items()
        )


_LINK_RULES = {"fuse": "fuse", "switch": "closed switch", "meter": "meter", "bead": "bead", "resistor": "link"}
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
