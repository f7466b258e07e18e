"""The drawings that patterns give of the blocks of a reading, with the designators drawn for their roles."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

from topo.drawing.schematic.grouping import Template
from topo.reading.reading import Block, Reading

if TYPE_CHECKING:
    from topo.matching.shelf import Library


def templates_of(reading: Reading, names: Mapping[str, str], library: Library | None = None) -> list[Template]:
    """A template for each block whose pattern has a drawing, in the order of the blocks.

    Args:
        reading: the reading.
        names: the designator drawn for each original one.
        library: the patterns of the reading, the shipped ones when None.
    """
    if library is None:
        from topo.matching.shelf import library as shipped_library

        library = shipped_library()
    found = []
    for block in reading.blocks:
        if block.pattern not in library:
            continue
        drawing = library.get(block.pattern).drawing
        places = {role: place for role, place in drawing.items() if isinstance(place, dict)}
        refs = {role: names[ref] for role in places if (ref := _drawn_for(block, role, places, reading)) in names}
        refs = {role: ref for role, ref in refs.items() if places[role].get("instead of") not in refs}
        if len(refs) > 1:
            nearer = {role: _shortened(place, refs) for role, place in places.items()}
            found.append(Template(nearer, refs, drawing.get("mirror", ()) if "axis" in drawing else ()))
    return found


def _shortened(place: Mapping[str, Any], refs: Mapping[str, str]) -> Mapping[str, Any]:
    """A role's place, or the nearer one that it has where the role that it makes room for is not drawn."""
    if "short" in place and place.get("over") not in refs:
        return {**place, "at": place["short"]}
    return place


def _drawn_for(block: Block, role: str, places: Collection[str], reading: Reading) -> str:
    """The designator that stands for a role: the only one, or one device of a compound.

    That is the device that most of the other drawn parts are joined to; of equal ones the last, which carries the
    current.
    """
    refs = block.roles.get(role, ())
    if len(refs) == 1:
        return refs[0]
    if not refs or not set(refs) <= set(block.devices):
        return ""
    circuit = reading.circuit
    fixed = {circuit.ground, *(supply.net for supply in circuit.supplies)}
    others = [found[0] for other in places if other != role and len(found := block.roles.get(other, ())) == 1]

    def nets(ref: str) -> set[str]:
        return {terminal.net for terminal in circuit.by_ref[ref].terminals} - fixed

    joined = [sum(bool(nets(ref) & nets(other)) for other in others) for ref in refs]
    return max(zip(joined, range(len(refs)), refs, strict=True))[2]
