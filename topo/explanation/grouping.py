"""Which blocks get a heading of their own, and which are told with the stage that they serve."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from topo.reading.reading import Block, Reading

HEADED = frozenset({"stage", "driver", "splitter", "output", "control", "whole"})
"""Sorts that carry the signal on: always under a heading of their own."""


@dataclass(frozen=True)
class Group:
    """A headed block with the small blocks that are told with it; `block` is None for the supply and its filters."""

    block: Block | None
    companions: tuple[Block, ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """All designators of the group, the headed block's first."""
        blocks = (self.block, *self.companions) if self.block is not None else self.companions
        return tuple(dict.fromkeys(ref for block in blocks for ref in block.parts))


def grouped(reading: Reading) -> tuple[Group, ...]:
    """The blocks of a reading under their headings, in signal order; the supply last."""
    touching = Neighbours(reading)
    headed = [block for block in reading.blocks if _stands_alone(block, reading.blocks)]
    headed += [block for block in reading.blocks if block not in headed and _spans(block, headed, touching)]
    headed.sort(key=lambda block: block.number)
    told: dict[int, list[Block]] = {block.number: [] for block in headed}
    supply: list[Block] = []
    for block in reading.blocks:
        if block.number in told:
            continue
        home = None if block.sort == "supply" and not block.devices else _home(block, headed, touching)
        (supply if home is None else told[home.number]).append(block)
    groups = [Group(block, tuple(told[block.number])) for block in headed]
    if supply:
        groups.append(Group(None, tuple(supply)))
    return tuple(groups)


def _stands_alone(block: Block, blocks: Iterable[Block]) -> bool:
    """Whether a block carries the signal, or is a bias or supply circuit that serves more than one device."""
    if block.sort in HEADED:
        return bool(block.devices) or len(block.parts) > 1
    if block.sort == "bias":
        return bool(block.devices) or len(block.serves) > 1
    if block.sort == "supply":
        return bool(block.devices)
    if block.sort == "compound":
        others = (other for other in blocks if other is not block and other.sort in HEADED)
        return bool(block.devices) and not any(set(block.devices) & set(other.parts) for other in others)
    return False


def _spans(block: Block, headed: list[Block], touching: Neighbours) -> bool:
    """Whether a feedback block leads from one headed block to another."""
    return block.sort == "feedback" and sum(1 for other in headed if touching.shared(block, other)) > 1


def _home(block: Block, headed: list[Block], touching: Neighbours) -> Block | None:
    """The headed block that a small block is told with: the one whose parts it shares, then serves, then touches."""
    by_parts = [other for other in headed if set(block.parts) & set(other.parts)]
    by_service = [other for other in headed if set(block.serves or block.devices) & set(other.devices)]
    if by_service or by_parts:
        return (by_service or by_parts)[0]
    near = [(touching.shared(block, other), other.number, other) for other in headed]
    most = max(near, key=lambda item: item[:2], default=None)
    return most[2] if most is not None and most[0] else None


class Neighbours:
    """Counts the nets, rails aside, that the parts of two blocks share."""

    def __init__(self, reading: Reading) -> None:
        graph = reading.views.graph
        apart = {0, *graph.rails, *(rail.node for rail in reading.views.derived)}
        self._nodes: dict[str, set[int]] = {}
        for part in reading.circuit.parts:
            nodes = {graph.node_of[t.net] for t in part.terminals if t.net in graph.node_of}
            self._nodes[part.ref] = nodes - apart

    def shared(self, block: Block, other: Block) -> int:
        """How many nets two blocks share."""
        return len(self._of(block) & self._of(other))

    def _of(self, block: Block) -> set[int]:
        nodes: set[int] = set()
        for ref in block.parts:
            nodes |= self._nodes.get(ref, set())
        return nodes
