"""Which blocks get a heading of their own, and which are told with the stage that they serve."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from topo.reading.reading import Block, Reading

HEADED = frozenset({"stage", "driver", "splitter", "output", "control", "whole"})
"""Sorts that carry the signal on: under a heading of their own."""


@dataclass(frozen=True)
class Group:
    """A headed block with the small blocks that are told with it.

    `block` is None for what belongs to no stage: the supply and its filters (`sort` "supply"), or the rest ("rest").
    """

    block: Block | None
    companions: tuple[Block, ...] = ()
    sort: str = ""

    @property
    def parts(self) -> tuple[str, ...]:
        """All designators of the group, the headed block's first."""
        small = [block for block in self.companions if not is_composite(block)]
        blocks = [self.block, *small] if self.block is not None else small
        return tuple(dict.fromkeys(ref for block in blocks for ref in block.parts))


def is_composite(block: Block) -> bool:
    """Whether a block is made of others: it names the whole, and its parts are told with those others."""
    return bool(block.match.components)


def grouped(reading: Reading) -> tuple[Group, ...]:
    """The blocks of a reading under their headings, in signal order, composites aside; the supply last."""
    blocks = [block for block in reading.blocks if not is_composite(block)]
    near = Neighbours(reading)
    headed = [block for block in blocks if _stands_alone(block, blocks, reading)]
    headed += [block for block in blocks if block not in headed and _spans(block, headed, near)]
    headed.sort(key=lambda block: block.number)
    told: dict[int, list[Block]] = {block.number: [] for block in headed}
    others: dict[str, list[Block]] = {"supply": [], "rest": []}
    for block in blocks:
        if block.number in told:
            continue
        home = _home(block, headed, near) or _next_on_path(block, headed, reading)
        if home is not None:
            told[home.number].append(block)
        else:
            others["supply" if block.sort in ("supply", "protection") else "rest"].append(block)
    for block in reading.blocks:
        if is_composite(block) and block.sort != "whole":
            last = _last_component(block, headed)
            if last is not None:
                told[last.number].append(block)
    groups = [Group(block, tuple(told[block.number])) for block in headed]
    return (*groups, *(Group(None, tuple(found), sort) for sort, found in others.items() if found))


def _last_component(block: Block, headed: list[Block]) -> Block | None:
    """Of the headed blocks of its sort that a composite is made of, the last."""
    claimed = [match.claimed for match in block.match.components.values()]
    inside = [other for other in headed if other.sort == block.sort and other.match.claimed in claimed]
    return inside[-1] if inside else None


def _stands_alone(block: Block, blocks: Sequence[Block], reading: Reading) -> bool:
    """Whether a block carries the signal, or is a bias or supply circuit that serves more than one device."""
    if block.sort == "splitter" and not block.devices:
        return True
    if block.sort in HEADED:
        if any(reading.circuit.part(ref).kind == "opamp" for ref in block.parts):
            return True
        if not block.devices and _is_on_one_side(block, reading):
            return False
        return bool(block.devices or len(block.parts) > 1) and not _is_within_another(block, blocks)
    if block.sort == "bias":
        return _has_own_devices(block, blocks) or len(block.serves) > 1
    if block.sort == "supply":
        return bool(block.devices)
    if block.sort == "compound":
        return not _is_within_another(block, blocks) and bool(block.devices)
    return False


def _is_on_one_side(block: Block, reading: Reading) -> bool:
    """Whether a block has parts on one side of a pair: a detail of the pair, told twice by nature."""
    return any(set(block.parts) & set(side) for step in reading.path if len(step.sides) > 1 for side in step.sides)


def _has_own_devices(block: Block, blocks: Sequence[Block]) -> bool:
    """Whether a bias circuit has a device that is no stage of its own."""
    stages = {ref for other in blocks if other.sort in HEADED for ref in other.devices}
    return bool(set(block.devices) - stages)


def _is_within_another(block: Block, blocks: Sequence[Block]) -> bool:
    """Whether all that a block holds and serves belongs to another headed block, which says more."""
    mine = {*block.devices} if block.sort == "compound" else {*block.parts, *block.devices, *block.serves}
    for other in blocks:
        theirs = {*other.parts, *other.devices}
        if other is not block and other.sort in HEADED and mine <= theirs:
            smaller = len(block.parts) < len(other.parts) or block.sort in ("splitter", "compound")
            if smaller and (mine != theirs or other.sort == "output"):
                return True
    return False


def _spans(block: Block, headed: list[Block], near: Neighbours) -> bool:
    """Whether a feedback block leads from one stage to another, with devices of its own."""
    if block.sort != "feedback":
        return False
    met = [other for other in headed if other.sort in HEADED and other.devices and near.shared(block, other)]
    if any(near.covers(other, block) for other in met):
        return False
    return any(not set(a.devices) & set(b.devices) for a in met for b in met)


def _home(block: Block, headed: list[Block], near: Neighbours) -> Block | None:
    """The headed block that a small block is told with: the one whose parts it shares, then serves, then touches."""
    if block.sort == "supply":
        served = [other for other in headed if set(block.serves) & {*other.devices, *other.serves}]
        nearest = near.nearest(block, served) or near.nearest(block, headed)
        if nearest is not None:
            return nearest
    if block.sort == "supply" and near.on_rails_alone(block):
        return None
    by_service = [other for other in headed if set(block.serves or block.devices) & set(other.devices)]
    by_parts = [other for other in headed if set(block.parts) & set(other.parts)]
    if by_service or by_parts:
        return (by_service or by_parts)[0]
    return near.nearest(block, headed)


def _next_on_path(block: Block, headed: list[Block], reading: Reading) -> Block | None:
    """The first headed block that the signal meets behind a small block."""
    passed = False
    for step in reading.path:
        passed = passed or bool(set(step.refs) & set(block.parts))
        if passed:
            for other in headed:
                if set(step.refs) & set(other.devices):
                    return other
    return None


class Neighbours:
    """Counts the nets that the parts of two blocks share; ground and the given rails count for nothing."""

    def __init__(self, reading: Reading) -> None:
        graph = reading.views.graph
        given = {0, *graph.rails}
        self._derived = {rail.node for rail in reading.views.derived}
        self._nodes: dict[str, set[int]] = {}
        for part in reading.circuit.parts:
            nodes = {graph.node_of[t.net] for t in part.terminals if t.net in graph.node_of}
            self._nodes[part.ref] = nodes - given

    def shared(self, block: Block, other: Block) -> int:
        """How many nets two blocks share, derived rails aside."""
        return len((self._of(block.parts) & self._of(other.parts)) - self._derived)

    def covers(self, other: Block, block: Block) -> bool:
        """Whether one block is on every net by which another touches the rest of the circuit."""
        mine = self._of(block.parts)
        outside = {node for ref, nodes in self._nodes.items() if ref not in block.parts for node in nodes}
        return mine & outside <= self._of(other.parts)

    def on_rails_alone(self, block: Block) -> bool:
        """Whether a block lies between ground and given rails."""
        return not self._of(block.parts)

    def nearest(self, block: Block, others: Sequence[Block]) -> Block | None:
        """The block that shares most nets with one, then most derived rails, the first of equals; None if none does."""
        counted = [
            (self.shared(block, other), len(self._of(block.parts) & self._of(other.parts)), -other.number, other)
            for other in others
        ]
        best = max(counted, key=lambda item: item[:3], default=None)
        return best[3] if best is not None and best[1] else None

    def _of(self, refs: Iterable[str]) -> set[int]:
        nodes: set[int] = set()
        for ref in refs:
            nodes |= self._nodes.get(ref, set())
        return nodes
