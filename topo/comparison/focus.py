"""A focus on a part of a circuit: the stages that are meant, and what stands about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from topo.comparison.outline import Item, Outline, outline, stage_parts
from topo.errors import UsageError
from topo.matching.shelf import Library
from topo.matching.shelf import library as shipped_library
from topo.reading.reading import Reading


@dataclass(frozen=True)
class Focus:
    """What of a circuit is meant: words for it, and the devices of its stages."""

    words: str
    devices: frozenset[str]


def focus_of(
    reading: Reading,
    *,
    section: str | None = None,
    parts: Iterable[str] = (),
    words: str = "",
    library: Library | None = None,
) -> Focus:
    """The focus on the stages of a section of the file, or on those that hold any of some parts.

    Raises:
        UsageError: there is no such section or part, or no stage in it; it names what there is.
    """
    seen = outline(reading, shipped_library() if library is None else library)
    if section is not None:
        return _of_section(seen, section)
    wanted = [_shown(reading, ref) for ref in parts]
    found = [item for item in seen.spine if set(wanted) & set(stage_parts(item, reading))]
    found = found or [item for item in seen.spine if set(wanted) & set(item.parts)]
    if not found:
        about = {ref for item in seen.items if set(wanted) & set(item.parts) for ref in item.about}
        found = [item for item in seen.spine if about & set(stage_parts(item, reading))]
    if not found:
        raise UsageError(f"{', '.join(wanted)}: no stage that is recognised holds it. {_stages(seen)}")
    return Focus(words or ", ".join(wanted), _devices(found, reading))


def _of_section(seen: Outline, name: str) -> Focus:
    circuit = seen.reading.circuit
    known = [section for section in circuit.sections if section.casefold() == name.casefold()]
    if not known:
        there = ", ".join(circuit.sections) or "none"
        raise UsageError(f"{circuit.file} has no section {name!r}. Its sections: {there}.")
    inside = {part.ref for part in circuit.parts if part.section == known[0]}
    found = [item for item in seen.spine if inside & set(stage_parts(item, seen.reading))]
    if not found:
        raise UsageError(f"{circuit.file}: no stage that is recognised has its devices in section {known[0]!r}.")
    return Focus(known[0], _devices(found, seen.reading))


def _devices(items: Iterable[Item], reading: Reading) -> frozenset[str]:
    return frozenset(ref for item in items for ref in stage_parts(item, reading))


def _shown(reading: Reading, ref: str) -> str:
    try:
        return reading.circuit.part(ref).ref
    except KeyError:
        raise UsageError(f"{reading.circuit.file} has no part {ref!r}.") from None


def _stages(seen: Outline) -> str:
    named = [f"{item.block.name} ({', '.join(stage_parts(item, seen.reading))})" for item in seen.spine]
    return f"Its stages: {'; '.join(named)}." if named else "No stage is recognised in it."


def narrowed(seen: Outline, focus: Focus | None) -> Outline:
    """The part of an outline that a focus means: its stages, and the blocks about them and what serves them."""
    if focus is None:
        return seen
    core = focus.devices
    spine = [item for item in seen.spine if set(stage_parts(item, seen.reading)) & core]
    far = [item for item in seen.spine if item not in spine]
    serving = {
        ref for item in seen.items if item not in far and set(item.block.serves) & core for ref in item.block.devices
    }
    others = {ref for item in far for ref in stage_parts(item, seen.reading)}
    wide = core | (serving - others)
    items = [item for item in seen.items if item in spine or (item not in far and _belongs(item, core, wide))]
    return replace(seen, items=tuple(items), spine=tuple(spine), wholes=())


def _belongs(item: Item, core: frozenset[str], wide: frozenset[str]) -> bool:
    return bool(item.about & core) or bool(item.about and item.about <= wide)
