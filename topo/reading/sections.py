"""The sections of a receiver: to which part of the set each part belongs, found from the circuit alone.

Where the signal changes its band is the frame: what stands before the mixer, between mixer and detector, and behind the
detector. What a pattern says of its own section comes before that; what is left goes with what it hangs on.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence

from topo.errors import Problem
from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit
from topo.quantities import show
from topo.reading.claims import Claim
from topo.reading.flow import is_device
from topo.reading.path import Way
from topo.reading.reading import Section
from topo.views.bands import intermediate_bands
from topo.views.view import Tank, Views

AERIAL, RADIO, MIXER, CONVERTER = "aerial circuit", "RF amplifier", "mixer", "converter"
OSCILLATOR, BEAT, INTERMEDIATE, DETECTOR = "local oscillator", "beat oscillator", "IF amplifier", "detector"
CONTROL_LINE, VOLUME, TONE = "AGC line", "volume control", "tone control"
DRIVER, OUTPUT, SUPPLY = "audio driver", "output", "supply"
ORDER = (
    AERIAL, RADIO, MIXER, CONVERTER, OSCILLATOR, INTERMEDIATE, DETECTOR, BEAT, CONTROL_LINE, VOLUME, TONE, DRIVER,
    OUTPUT, SUPPLY,
)  # fmt: skip
AUDIO = (VOLUME, TONE, DRIVER, OUTPUT)
_CHANGES_FREQUENCY = frozenset({MIXER, CONVERTER})
_LEADS = frozenset({"resistor", "potentiometer", "thermistor", "capacitor"})
# Of several blocks that speak of a part, the one that makes a section by itself has it, in this order.
_BY_ITSELF = (VOLUME, TONE, CONTROL_LINE, DETECTOR, AERIAL)
# Words that people use for these sections in a drawing.
WORDS: Mapping[str, tuple[str, ...]] = {
    "audio": AUDIO,
    "af": AUDIO,
    "amplifier": (RADIO, INTERMEDIATE, DRIVER, OUTPUT),
    "aerial": (AERIAL,),
    "antenna": (AERIAL,),
    "front": (AERIAL, RADIO, MIXER, CONVERTER, OSCILLATOR),
    "input": (AERIAL, RADIO),
    "rf": (AERIAL, RADIO),
    "preselector": (AERIAL, RADIO),
    "mixer": (MIXER, CONVERTER),
    "converter": (CONVERTER, MIXER, OSCILLATOR),
    "changer": (CONVERTER, MIXER, OSCILLATOR),
    "oscillator": (OSCILLATOR, BEAT),
    "lo": (OSCILLATOR,),
    "bfo": (BEAT,),
    "beat": (BEAT,),
    "if": (INTERMEDIATE,),
    "intermediate": (INTERMEDIATE,),
    "detector": (DETECTOR,),
    "demodulator": (DETECTOR,),
    "agc": (CONTROL_LINE,),
    "avc": (CONTROL_LINE,),
    "gain": (CONTROL_LINE, VOLUME),
    "volume": (VOLUME,),
    "tone": (TONE,),
    "driver": (DRIVER,),
    "output": (OUTPUT,),
    "power": (OUTPUT, SUPPLY),
    "loudspeaker": (OUTPUT,),
    "supply": (SUPPLY,),
    "battery": (SUPPLY,),
    "mains": (SUPPLY,),
}


def find_sections(
    circuit: Circuit,
    views: Views,
    claims: Sequence[Claim],
    way: Way | None,
    patterns: Library,
    served: Mapping[int, Sequence[int]],
) -> tuple[Section, ...]:
    """The sections of a receiver in the order of the signal, each part in one; none where the circuit is no receiver.

    A receiver is a circuit in which the signal changes its band on its way.

    Args:
        served: device elements that a claim serves, by `id` of the claim.
    """
    if way is None or len({leg.band for leg in way.legs}) < 2:
        return ()
    made = _Sections(circuit, views, claims, way, patterns, served)
    return made.sections()


class _Sections:
    """Section by element, filled step by step; what was decided first stays."""

    def __init__(
        self,
        circuit: Circuit,
        views: Views,
        claims: Sequence[Claim],
        way: Way,
        patterns: Library,
        served: Mapping[int, Sequence[int]],
    ) -> None:
        self.circuit, self.views, self.graph = circuit, views, views.graph
        self.claims, self.way, self.patterns, self.served = claims, way, patterns, served
        self.of: dict[int, str] = {}
        self.changers = self._sections_of_changers()

    def sections(self) -> tuple[Section, ...]:
        self._devices()
        self._parts_by_claims()
        self._parts_on_the_way()
        self._rest_by_nearness()
        rows: dict[str, list[int]] = {}
        for index, name in self.of.items():
            rows.setdefault(name, []).append(index)
        links = list(self.graph.links)
        found = []
        for name in sorted(rows, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER)):
            refs = {ref for index in rows[name] for ref in self.graph.elements[index].members}
            refs |= {ref for ref in links if name == SUPPLY}
            parts = tuple(part.ref for part in self.circuit.parts if part.ref in refs)
            devices = tuple(ref for ref in parts if self._is_device(ref))
            found.append(Section(name, parts, devices, self._frequency(rows[name])))
        return tuple(found)

    def _is_device(self, ref: str) -> bool:
        return ref in self.graph.element_of and is_device(self.graph.elements[self.graph.element_of[ref]])

    def _said(self, claim: Claim) -> str:
        """The section that a claim's pattern names."""
        return self.patterns.get(claim.pattern).reading.section

    def _sections_of_changers(self) -> list[str]:
        """The section of what ends each leg, "" at the last."""
        found = []
        for leg in self.way.legs:
            own = [
                self._said(claim) for claim in self.claims if leg.changer and set(leg.changer) <= self._elements(claim)
            ]
            found.append(next((name for name in own if name), ""))
        return found

    def _elements(self, claim: Claim) -> set[int]:
        """The elements to which a claim gives a role, and its devices."""
        return {self.graph.element_of[ref] for ref in claim.given if ref in self.graph.element_of} | set(claim.devices)

    def _name_of_leg(self, number: int) -> str:
        """What an amplifying device on a leg belongs to."""
        if number == len(self.way.legs) - 1:
            return DRIVER
        mixed = any(name in _CHANGES_FREQUENCY for name in self.changers[:number])
        between = self.way.legs[number].band in intermediate_bands(self.views.tanks)
        return INTERMEDIATE if mixed or between else RADIO

    def _devices(self) -> None:
        """Devices: changers and oscillators by what their patterns say, others by the leg that they are on."""
        for leg, name in zip(self.way.legs, self.changers, strict=True):
            for index in leg.changer:
                if name:
                    self.of.setdefault(index, name)
        outputs = {index for claim in self.claims if claim.sort == "output" for index in claim.devices}
        for claim in self.claims:
            if claim.kind == "takes over" and self._said(claim):
                name = self._oscillator(claim) if self._said(claim) == OSCILLATOR else self._said(claim)
                for index in sorted(claim.devices):
                    self.of.setdefault(index, name)
        for number, leg in enumerate(self.way.legs):
            for index in leg.elements:
                if is_device(self.graph.elements[index]) or self.graph.elements[index].kind in ("opamp", "ic"):
                    last = number == len(self.way.legs) - 1
                    self.of.setdefault(index, OUTPUT if last and index in outputs else self._name_of_leg(number))
        self._pairs_and_supplies(outputs)

    def _pairs_and_supplies(self, outputs: Iterable[int]) -> None:
        """Devices off the way: those of one claim with one that is on it, output pairs, regulators."""
        for claim in self.claims:
            known = [self.of[index] for index in sorted(claim.devices) if index in self.of]
            for index in sorted(claim.devices):
                if index in outputs and OUTPUT in known:
                    self.of.setdefault(index, OUTPUT)
                elif claim.kind == "stage" and known and claim.sort != "supply":
                    self.of.setdefault(index, known[0])
                elif claim.sort == "supply" and claim.kind == "stage":
                    self.of.setdefault(index, SUPPLY)

    def _oscillator(self, claim: Claim) -> str:
        """Local or beat oscillator: by what it feeds, else by the band that it is tuned in."""
        for other in self.claims:
            if claim.devices & other.witnessed and self.patterns.get(other.pattern).reading.converts:
                return OSCILLATOR if self._said(other) in _CHANGES_FREQUENCY else BEAT
        tanks = self._tanks(self._elements(claim))
        into_detector = [leg.band for leg, name in zip(self.way.legs, self.changers, strict=True) if name == DETECTOR]
        mixed = any(name in _CHANGES_FREQUENCY for name in self.changers)
        if tanks and into_detector and mixed and tanks[0].band == into_detector[0]:
            return BEAT
        return OSCILLATOR

    def _tanks(self, elements: Iterable[int]) -> list[Tank]:
        own = set(elements)
        return [tank for tank in self.views.tanks if tank.element in own or own & set(tank.capacitors)]

    def _parts_by_claims(self) -> None:
        """Passive parts: by the block that makes a section of its own, then by the devices that a block speaks of."""
        by_itself = [claim for claim in self.claims if self._said(claim) in _BY_ITSELF and not claim.devices]
        for claim in sorted(by_itself, key=lambda claim: (_BY_ITSELF.index(self._said(claim)), claim.order)):
            self._give(claim, self._said(claim))
        for rank in range(4):
            for claim in self.claims:
                names = self._names(claim)
                if self._rank(claim) == rank and names:
                    of_one = len(names) == 1
                    if of_one or claim.sort != "supply":
                        self._give(claim, next(iter(names)))
                    elif self._is_on_rails(claim):
                        self._give(claim, SUPPLY)

    def _is_on_rails(self, claim: Claim) -> bool:
        """Whether all ends of a claim's parts lie on ground or on rails, given ones and derived ones."""
        rails = {0, *self.graph.rails, *(rail.node for rail in self.views.derived)}
        return all(node in rails for index in self._elements(claim) for node in self.graph.elements[index].nodes)

    def _rank(self, claim: Claim) -> int:
        """What speaks first of a part: oscillators, stages, then supply filters, then bias and the like."""
        if claim.kind == "takes over":
            return 0
        if claim.kind == "stage" and claim.sort != "supply":
            return 1
        return 2 if claim.sort == "supply" else 3

    def _names(self, claim: Claim) -> dict[str, None]:
        """The sections of the devices that a claim has or speaks of, each once."""
        if claim.sort == "coupling":
            return {}
        spoken_of = sorted(claim.stage or claim.devices or claim.witnessed or self.served.get(id(claim), ()))
        return dict.fromkeys(self.of[index] for index in spoken_of if index in self.of)

    def _give(self, claim: Claim, name: str) -> None:
        for index in sorted(self._elements(claim)):
            element = self.graph.elements[index]
            across_rails = claim.sort != "supply" and set(element.nodes) <= {0, *self.graph.rails}
            if not is_device(element) and not across_rails:
                self.of.setdefault(index, name)

    def _parts_on_the_way(self) -> None:
        """Parts that the signal passes: a coil or transformer goes with what drives it, another part with what it
        drives."""
        for leg in self.way.legs:
            order = [*leg.elements, *leg.changer]
            for place, index in enumerate(order):
                if index in self.of:
                    continue
                after = next((self.of[other] for other in order[place + 1 :] if other in self.of), None)
                before = next((self.of[other] for other in reversed(order[:place]) if other in self.of), None)
                lead = self.graph.elements[index].kind in _LEADS
                name = (after or before) if lead else (before or after)
                if name is not None:
                    self.of[index] = name

    def _rest_by_nearness(self) -> None:
        """All other elements: with the nearest that has a section, not round by ground or a rail; on rails, the supply.

        A part between a rail and one section is that section's.
        """
        fixed = {0, *self.graph.rails, *(rail.node for rail in self.views.derived)}
        queue: list[tuple[float, int, str]] = []
        for index, name in sorted(self.of.items()):
            heapq.heappush(queue, (0.0, index, name))
        done: set[int] = set()
        while queue:
            cost, index, name = heapq.heappop(queue)
            if index in done:
                continue
            done.add(index)
            self.of.setdefault(index, name)
            if self.of[index] != name:
                continue
            for node in self.graph.elements[index].nodes:
                if node in fixed:
                    continue
                for other, _ in self.graph.at_node[node]:
                    if other not in done and other not in self.of:
                        far = self.graph.elements[index].kind == "transformer"
                        heapq.heappush(queue, (cost + 1.0 + 0.5 * far + 0.1 * (name == SUPPLY), other, name))
        for element in self.graph.elements:
            if element.index not in self.of:
                self.of[element.index] = SUPPLY

    def _frequency(self, elements: Iterable[int]) -> float | None:
        """Hertz to which a section is tuned, the sharpest of its tuned circuits; None where it has none."""
        best = max(self._tanks(elements), key=lambda tank: tank.q, default=None)
        return None if best is None else best.frequency


def sections_of_words(words: str) -> tuple[str, ...]:
    """The sections that a drawing's or a user's words may mean, in the order of the signal; none where none is known.

    >>> sections_of_words("Local oscillator"), sections_of_words("I.F. amplifier"), sections_of_words("audio")[-1]
    (('local oscillator',), ('IF amplifier',), 'output')
    """
    said = words.casefold().replace(".", "")
    exact = [name for name in ORDER if name.casefold() == said]
    if exact:
        return tuple(exact)
    tokens = ["".join(c for c in token if c.isalnum()) for token in said.replace("-", " ").replace("/", " ").split()]
    meant = [set(WORDS[token]) for token in tokens if token in WORDS]
    if not meant:
        return ()
    narrowed = set.intersection(*meant) or set.union(*meant)
    return tuple(name for name in ORDER if name in narrowed)


def section_warnings(circuit: Circuit, sections: Sequence[Section], views: Views) -> list[Problem]:
    """Devices, and detectors' diodes, that the drawing puts into another section than the one that they work in."""
    if not sections:
        return []
    home = {ref: section.name for section in sections for ref in section.parts}
    found = []
    for part in circuit.parts:
        element = views.graph.element_of.get(part.ref)
        if part.section is None or element is None or part.ref not in home:
            continue
        if not is_device(views.graph.elements[element]):
            continue
        meant = _meant(circuit, part.section, home, views)
        if meant and home[part.ref] not in meant:
            message = f"{part.ref} is drawn in the section {part.section}, but works as part of the {home[part.ref]}."
            found.append(
                Problem(part.place, message, source=part.source, severity="warning", code="section",
                        mend="Is its line in the right section, and are its connections right?")
            )  # fmt: skip
    return found


def _meant(circuit: Circuit, title: str, home: Mapping[str, str], views: Views) -> tuple[str, ...]:
    """The sections that a drawing's section stands for: by its words, else by where most of its devices work."""
    by_words = sections_of_words(title)
    if by_words:
        return by_words
    own = [home[part.ref] for part in circuit.parts if part.section == title and part.ref in home
           and is_device(views.graph.elements[views.graph.element_of[part.ref]])]  # fmt: skip
    return (max(dict.fromkeys(own), key=own.count),) if own else ()


def band_words(sections: Sequence[Section]) -> str:
    """One sentence on how the tuned frequencies hang together; "" where they do not.

    The oscillator less (or plus) the signal is the intermediate frequency, as nearly as the circuits are tuned.
    """
    tuned = {section.name: section.frequency for section in sections if section.frequency}
    signal = tuned.get(RADIO) or tuned.get(AERIAL)
    oscillator, between = tuned.get(OSCILLATOR), tuned.get(INTERMEDIATE)
    if not signal or not oscillator or not between:
        return ""
    beat = abs(oscillator - signal)
    missed = abs(beat - between)
    end = "." if missed <= 0.05 * between else f" only to {show(missed, 'Hz', 2)}: align."
    heard = f"Signal {show(signal, 'Hz', 4)}, oscillator {show(oscillator, 'Hz', 4)}"
    meets = f"their difference {show(beat, 'Hz', 3)} meets the intermediate frequency of {show(between, 'Hz', 3)}"
    return f"{heard}: {meets}{end}"
