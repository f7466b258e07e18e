"""The canonical form of a reading: what it is made of, whatever the names, polarities and values of its parts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from typing import Any

from topo.comparison.outline import Item, Outline, outline
from topo.matching.shelf import Library
from topo.matching.shelf import library as shipped_library
from topo.reading.reading import Reading

# How much a feature counts for the likeness of two circuits: a block by its sort, a part within a block, what stands
# about what, and what a circuit is as a whole.
_WEIGHTS = {
    "whole": 4.0,
    "output": 4.0,
    "stage": 4.0,
    "splitter": 3.0,
    "driver": 4.0,
    "bias": 2.0,
    "feedback": 2.0,
    "compound": 2.0,
    "coupling": 1.0,
    "control": 1.0,
    "protection": 0.5,
    "supply": 0.5,
}
_OF_A_PART, _OF_A_NAME, _OF_AN_ORDER = 0.25, 0.5, 1.0
_LONGEST = 400


@dataclass(frozen=True)
class Form:
    """What a circuit is made of.

    `features` counts each feature, a word of three fields such as "block: bias: ..." or "order: ...: ...". `blocks`
    holds the name of each block, and what it has in common with its kin, by its feature. Leftover claims, which a
    reduction leaves out, are none of it.
    """

    title: str
    summary: str
    parts: int
    features: Mapping[str, int] = field(default_factory=dict)
    blocks: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def as_plain(self) -> list[Any]:
        """The form as plain values for a store."""
        return [self.title, self.summary, self.parts, dict(self.features), dict(self.blocks)]


def form_from_plain(plain: Any) -> Form | None:
    """The form that `as_plain` gave, None for anything else."""
    if not isinstance(plain, list) or len(plain) != 5:
        return None
    title, summary, parts, features, blocks = plain
    if not (isinstance(title, str) and isinstance(summary, str) and type(parts) is int):
        return None
    if not (isinstance(features, dict) and all(type(count) is int and count > 0 for count in features.values())):
        return None
    if not (isinstance(blocks, dict) and all(_is_pair_of_names(names) for names in blocks.values())):
        return None
    return Form(title, summary, parts, features, blocks)


def _is_pair_of_names(names: Any) -> bool:
    return isinstance(names, list | tuple) and len(names) == 2 and all(isinstance(name, str) for name in names)


def form_of(reading: Reading, library: Library | None = None) -> Form:
    """The canonical form of a reading."""
    seen = outline(reading, shipped_library() if library is None else library)
    features: Counter[str] = Counter()
    blocks: dict[str, tuple[str, str]] = {}
    for pattern, name in seen.wholes:
        key = f"block: whole: {pattern.kin or pattern.slug}"
        features[key] += 1
        blocks[key] = (name, pattern.kin or name)
    for item in seen.items:
        if item.pattern.reading.claim == "leftover":
            continue
        key = _key(item)
        features[key] += 1
        blocks.setdefault(key, (item.block.name, item.pattern.kin or item.block.name))
        features[f"name: {item.block.sort}: {item.pattern.slug}"] += 1
        for role, refs in item.roles.items():
            features[f"part: {item.kin}: {item.word(role)}"] += len(refs)
        for stage in _stages_about(item, seen):
            features[f"about: {item.kin}: {stage}"] += 1
    for before, after in pairwise(seen.spine):
        features[f"order: {before.kin}: {after.kin}"] += 1
    return Form(
        reading.circuit.title[:_LONGEST],
        reading.summary[:_LONGEST],
        len(reading.circuit.parts),
        dict(sorted(features.items())),
        dict(sorted(blocks.items())),
    )


def _key(item: Item) -> str:
    return f"block: {item.block.sort}: {item.kin}"


def _stages_about(item: Item, seen: Outline) -> list[str]:
    """The kin of the stages that a block is about, itself aside."""
    return sorted({stage.kin for stage in seen.spine if stage is not item and item.about & set(stage.block.devices)})


@lru_cache(maxsize=65536)
def weight(feature: str) -> float:
    """How much a feature counts."""
    sort, _, rest = feature.partition(": ")
    if sort == "block":
        return _WEIGHTS.get(rest.partition(": ")[0], 1.0)
    return {"part": _OF_A_PART, "name": _OF_A_NAME, "about": _OF_A_NAME, "order": _OF_AN_ORDER}.get(sort, 0.0)
