"""What a reading says, up to the names of nets and parts."""

from __future__ import annotations

from collections import Counter

from variations import Variant

from topo.matching.match import Match
from topo.matching.shelf import library
from topo.reading.reading import Reading


def essence(reading: Reading, variant: Variant | None = None, *, by_role: bool = True) -> dict[str, object]:
    """Blocks, path, classes and summary with the original's designators, sides of pairs and mirrored roles alike.

    Parts that the variant has added are left out, and so are blocks of nothing else; of leftover patterns the parts
    count, however they are grouped. `by_role` false compares the
    parts of each block alone (for a variant that exchanges upper and lower).
    """
    original = variant.original if variant else {}
    added = variant.added if variant else frozenset()

    def names(refs) -> frozenset[str]:
        return frozenset(original.get(ref, ref) for ref in refs if ref not in added)

    blocks: Counter = Counter()
    leftovers: dict[str, frozenset[str]] = {}
    for block in reading.blocks:
        parts = names(block.parts)
        if not parts:
            continue
        if library().get(block.pattern).reading.claim == "leftover":
            leftovers[block.pattern] = leftovers.get(block.pattern, frozenset()) | parts
            continue
        alike = _alike_roles(block.match)
        roles: dict[str, set[str]] = {}
        witnesses = _witnesses(block.match)
        for role, refs in block.roles.items():
            if names(refs) and role not in witnesses:
                roles.setdefault(alike.get(role, role), set()).update(names(refs))
        shown = frozenset((role, frozenset(refs)) for role, refs in roles.items()) if by_role else parts
        blocks[(block.pattern, block.name, shown)] += 1
    path = [frozenset(names(side) for side in step.sides if names(side)) for step in reading.path]
    return {
        "blocks": blocks,
        "leftovers": leftovers,
        "path": [step for step in path if step],
        "classes": {names(item.devices): item.letter for item in reading.classes},
        "trimmers": {original.get(ref, ref): names(refs) for ref, refs in reading.bias_trimmers.items()},
        "summary": reading.summary,
        "near misses": len(reading.near_misses),
        "not recognised": names(reading.not_recognised),
    }


def _alike_roles(match: Match, prefix: str = "") -> dict[str, str]:
    """Roles that a pattern's symmetry exchanges, under one name; of a composite, those of its components."""
    found = _exchanged(match.pattern, prefix)
    for name, component in match.components.items():
        found |= _alike_roles(component, f"{prefix}{name}.")
    return found


def _witnesses(match: Match, prefix: str = "") -> set[str]:
    """Roles that only have to exist: of several that would do, any may be named."""
    found = {f"{prefix}{name}" for name, role in library().get(match.pattern).roles.items() if role.witness}
    for name, component in match.components.items():
        found |= _witnesses(component, f"{prefix}{name}.")
    return found


def _exchanged(slug: str, prefix: str) -> dict[str, str]:
    """The roles of each symmetry of a pattern, under the names of all of them."""
    groups: dict[str, str] = {}
    for group in library().get(slug).symmetry:
        for role in group:
            groups[f"{prefix}{role}"] = prefix + "|".join(sorted(group))
    return groups
