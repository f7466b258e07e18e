"""A receiver told section by section: which headings belong to which section, and what is said of each by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from topo.errors import CircuitError
from topo.explanation.statements import BlockText, Explanation, SectionText
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reading.sections import sections_of_words


def section_texts(reading: Reading, blocks: Sequence[BlockText]) -> tuple[SectionText, ...]:
    """The sections of a receiver with the places of their headings among the blocks; none for other circuits.

    A heading stands in the section of its devices, or else of most of its parts.
    """
    home = {ref: section.name for section in reading.sections for ref in section.parts}
    rows: dict[str, list[int]] = {section.name: [] for section in reading.sections}
    for place, text in enumerate(blocks):
        devices = text.block.devices if text.block is not None else ()
        own = text.block.parts if text.block is not None else text.parts
        voters = [home[ref] for ref in (devices or own or text.parts) if ref in home]
        if voters:
            rows[max(dict.fromkeys(voters), key=voters.count)].append(place)
    return tuple(
        SectionText(
            section.name,
            section.parts,
            "" if section.frequency is None else f"tuned to {show(section.frequency, 'Hz', 4)}",
            tuple(rows[section.name]),
        )
        for section in reading.sections
    )


def wanted_sections(reading: Reading, words: str) -> tuple[str, ...]:
    """The names of the sections that a user's word means: a section's own name, or one such as "audio".

    Raises:
        CircuitError: the circuit has no sections, or none of that name.
    """
    if not reading.sections:
        message = f"{reading.circuit.file}: no sections of a receiver were found in this circuit."
        raise CircuitError(message, mend="Leave --section out.")
    there = [section.name for section in reading.sections]
    meant = [name for name in sections_of_words(words) if name in there]
    if not meant:
        drawn = {part.ref for part in reading.circuit.parts if (part.section or "").casefold() == words.casefold()}
        meant = [section.name for section in reading.sections if drawn & set(section.devices or section.parts)]
    if not meant:
        message = f"{reading.circuit.file}: there is no section {words} in this circuit."
        raise CircuitError(message, mend=f"Its sections are: {', '.join(there)}; audio for all behind the detector.")
    return tuple(meant)


def only(explanation: Explanation, words: str) -> Explanation:
    """The explanation of some sections alone: their headings, and the path as far as it leads through them."""
    names = wanted_sections(explanation.reading, words)
    kept = [section for section in explanation.sections if section.name in names]
    refs = {ref for section in kept for ref in section.parts}
    places = sorted(place for section in kept for place in section.blocks)
    steps = [step for step in explanation.reading.path if set(step.refs) & refs]
    path = " → ".join(" | ".join("+".join(side) for side in step.sides) for step in steps)
    moved = {place: number for number, place in enumerate(places)}
    return replace(
        explanation,
        title=f"{explanation.title}: {', '.join(names)}",
        summary=(),
        counts=f"{len(refs)} of {len(explanation.reading.circuit.parts)} parts",
        path=path,
        blocks=tuple(explanation.blocks[place] for place in places),
        sections=tuple(replace(s, blocks=tuple(moved[place] for place in s.blocks)) for s in kept),
        omitted=(),
        proof=(),
        not_recognised=tuple(ref for ref in explanation.not_recognised if ref in refs),
        parts=tuple(line for line in explanation.parts if line.ref in refs),
        near_misses=(),
        only_sections=names,
    )
