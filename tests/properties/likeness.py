"""What a reading says, up to the names of nets and parts."""

from __future__ import annotations

from collections import Counter

from variations import Variant

from topo.matching.shelf import library
from topo.reading.reading import Reading


def essence(reading: Reading, variant: Variant | None = None, *, by_role: bool = True) -> dict[str, object]:
    """Blocks, path, classes and summary with the original's designators, sides of pairs and mirrored roles alike.

    Parts that the variant has added are left out, and so are blocks of nothing else. `by_role` false compares the
    parts of each block alone (for a variant that exchanges upper and lower).
    """
    original = variant.original if variant else {}
    added = variant.added if variant else frozenset()

    def names(refs) -> frozenset[str]:
        return frozenset(original.get(ref, ref) for ref in refs if ref not in added)

    blocks: Counter = Counter()
    for block in reading.blocks:
        parts = names(ref for refs in block.roles.values() for ref in refs)
        if not parts:
            continue
        alike = _alike_roles(block.pattern)
        roles: dict[str, set[str]] = {}
        for role, refs in block.roles.items():
            if names(refs):
                roles.setdefault(alike.get(role, role), set()).update(names(refs))
        shown = frozenset((role, frozenset(refs)) for role, refs in roles.items()) if by_role else parts
        blocks[(block.pattern, block.name, shown)] += 1
    path = [frozenset(names(side) for side in step.sides if names(side)) for step in reading.path]
    return {
        "blocks": blocks,
        "path": [step for step in path if step],
        "classes": {names(item.devices): item.letter for item in reading.classes},
        "trimmers": {original.get(ref, ref): names(refs) for ref, refs in reading.bias_trimmers.items()},
        "summary": reading.summary,
        "near misses": len(reading.near_misses),
        "not recognised": names(reading.not_recognised),
    }


def _alike_roles(slug: str) -> dict[str, str]:
    """Roles that a pattern's symmetry exchanges, under one name."""
    groups: dict[str, str] = {}
    for group in library().get(slug).symmetry:
        for role in group:
            groups[role] = "|".join(sorted(group))
    return groups
