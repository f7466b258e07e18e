"""Which block of one circuit corresponds to which block of another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.comparison.outline import Item, Outline

# Sorts whose patterns are means to an end, so that one may stand in for another; and the end in words.
ENDS = {
    "bias": "bias",
    "splitter": "phase splitting",
    "output": "output",
    "driver": "driving the output",
    "coupling": "coupling",
}
# Where two blocks of one kin may stand to be paired: each less strict than the one before.
LEAVES = ("about corresponding devices", "about none that correspond", "anywhere")
# Sorts of which it says little at which of several devices on one net a block stands.
_ROAMING = frozenset({"supply", "protection"})
_SAME, _KIN, _MEANS = 10.0, 8.0, 3.0


def relation(first: Item, second: Item) -> str:
    """How two blocks are related by their patterns' own data: "same", "kin", "other means", or "" for not at all."""
    if first.pattern.slug == second.pattern.slug:
        return "same"
    if first.kin == second.kin:
        return "kin"
    if first.block.sort == second.block.sort and first.block.sort in ENDS:
        return "other means"
    return ""


def aligned_stages(first: Outline, second: Outline) -> list[tuple[Item, Item]]:
    """Pairs of corresponding stages: the most and the likest that keep the order of the signal, and then the rest."""
    rows, columns = first.spine, second.spine
    worth = [[_stage_worth(a, b, first, second) for b in columns] for a in rows]
    best = [[0.0] * (len(columns) + 1) for _ in range(len(rows) + 1)]
    for i, row in enumerate(worth, 1):
        for j, value in enumerate(row, 1):
            paired = best[i - 1][j - 1] + value if value else 0.0
            best[i][j] = max(best[i - 1][j], best[i][j - 1], paired)
    found = []
    i, j = len(rows), len(columns)
    while i and j:
        value = worth[i - 1][j - 1]
        if value and best[i][j] == best[i - 1][j - 1] + value:
            i, j = i - 1, j - 1
            found.append((rows[i], columns[j]))
        elif best[i][j] == best[i - 1][j]:
            i -= 1
        else:
            j -= 1
    found.reverse()
    return found + _out_of_order(first, second, found, worth)


def _out_of_order(
    first: Outline, second: Outline, found: list[tuple[Item, Item]], worth: list[list[float]]
) -> list[tuple[Item, Item]]:
    """Further pairs of one kin among the stages that are left: stages beside the path have no order."""
    mine = [i for i, item in enumerate(first.spine) if all(item is not a for a, _ in found)]
    theirs = [j for j, item in enumerate(second.spine) if all(item is not b for _, b in found)]
    open_pairs = sorted((-worth[i][j], i, j) for i in mine for j in theirs if worth[i][j] >= _KIN)
    added = []
    for _, i, j in open_pairs:
        if i in mine and j in theirs:
            mine.remove(i)
            theirs.remove(j)
            added.append((first.spine[i], second.spine[j]))
    return added


def _stage_worth(a: Item, b: Item, first: Outline, second: Outline) -> float:
    """How well two stages correspond; 0 where they do not."""
    found = relation(a, b)
    if not found or (found == "other means" and a.block.sort == "coupling"):
        return 0.0
    base = {"same": _SAME, "kin": _KIN, "other means": _MEANS}[found]
    return base + _overlap(set(a.roles), set(b.roles)) + _overlap(_about(a, first), _about(b, second))


def _about(item: Item, seen: Outline) -> set[str]:
    """What stands about a stage: the kin of the blocks that have to do with its devices, and in which role."""
    mine = set(item.block.devices)
    found = set()
    for other in seen.items:
        if other is not item and other.about & mine:
            found.add(other.kin)
            found |= {f"{other.kin}: {role}" for role, refs in other.witnessed.items() if set(refs) & mine}
    return found


def _overlap(one: set[str], other: set[str]) -> float:
    """The share of what two sets have in common, 0 to 1; 1 for two empty ones."""
    return len(one & other) / len(one | other) if one | other else 1.0


def aligned_besides(
    first: Sequence[Item], second: Sequence[Item], known: Mapping[str, str], leave: str
) -> list[tuple[Item, Item]]:
    """Pairs of further blocks that stand about corresponding devices, the likest first; each block once.

    Args:
        known: the part of B for each part of A that has a counterpart already.
        leave: how far two blocks may stand from corresponding devices, one of `LEAVES`.
    """
    counterparts = set(known.values())
    ranked = []
    for i, a in enumerate(first):
        for j, b in enumerate(second):
            value = _beside_worth(a, b, known, counterparts, leave)
            if value:
                ranked.append((-value, i, j))
    mine, theirs = set(range(len(first))), set(range(len(second)))
    found = []
    for _, i, j in sorted(ranked):
        if i in mine and j in theirs:
            mine.discard(i)
            theirs.discard(j)
            found.append((first[i], second[j]))
    return found


def _may_stand_apart(item: Item, known_apart: bool, leave: str) -> bool:
    """Whether a block may be paired with one of its own kin that stands about no corresponding device; `known_apart`
    says that both stand about devices that have a counterpart, but not about one in common."""
    return leave == "anywhere" if item.block.sort in _ROAMING else leave != LEAVES[0] and not known_apart


def _beside_worth(a: Item, b: Item, known: Mapping[str, str], counterparts: set[str], leave: str) -> float:
    found = relation(a, b)
    if not found:
        return 0.0
    mine = {known[ref] for ref in a.about if ref in known}
    theirs = {ref for ref in b.about if ref in counterparts}
    here = _overlap(mine, theirs) if mine or theirs else 0.0
    if found == "other means":
        if here < 0.5:
            return 0.0
    elif (not here or a.block.sort in _ROAMING) and not _may_stand_apart(a, bool(mine and theirs), leave):
        return 0.0
    base = {"same": _SAME, "kin": _KIN, "other means": _MEANS}[found]
    shared = sum(known.get(ref) in b.parts for ref in a.parts)
    return base + 3 * here + shared + 3 * _overlap(set(a.roles), set(b.roles))
