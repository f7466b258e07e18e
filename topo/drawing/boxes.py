"""The block map: what is joined to what, as boxes and arrows; `map_sheet` draws it.

Stages stand in signal order; bias, supply and feedback circuits stand apart and point at what they serve.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from topo.explanation.grouping import HEADED, Group, Neighbours, grouped
from topo.quantities import show
from topo.reading.reading import Block, Reading


@dataclass(frozen=True)
class Box:
    """One box: its words, the sort that gives its tint, its parts, and the rails that feed it.

    `row` is "signal", "support" or "feedback"; `port` marks an end of the signal path.
    """

    key: str
    name: str
    parts: tuple[str, ...]
    sort: str
    row: str
    note: str = ""
    rails: tuple[str, ...] = ()
    port: bool = False


@dataclass(frozen=True)
class Arrow:
    """An arrow between two boxes: `sort` is "signal", "bias", "supply" or "feedback".

    `returns` marks the half of a feedback path that leads back to the earlier stage.
    """

    tail: str
    head: str
    sort: str
    label: str = ""
    returns: bool = False


@dataclass(frozen=True)
class BlockMap:
    """Boxes and arrows of one circuit."""

    title: str
    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]


def block_map(reading: Reading) -> BlockMap:
    """The block map of a reading."""
    groups = grouped(reading)
    chain, between = _chain(reading, groups)
    boxes = {box.key: box for box in (_box(reading, group, group in chain) for group in groups)}
    arrows: list[Arrow] = []
    ends = _ends(reading, chain, between)
    for box in ends:
        boxes[box.key] = box
    row = [*(box.key for box in ends if box.key == "in"), *map(_key, chain), *(b.key for b in ends if b.key == "out")]
    for place, (tail, head) in enumerate(pairwise(row)):
        shift = place if "in" in row else place + 1
        arrows.append(Arrow(tail, head, "signal", " ".join(between.get(shift, ()))))
    for group in groups:
        if group not in chain and group.block is not None:
            arrows += _service(reading, group.block, groups, chain)
    return BlockMap(reading.circuit.title, tuple(boxes.values()), tuple(arrows))


def _key(group: Group) -> str:
    return "supply" if group.block is None else f"b{group.block.number}"


def _chain(reading: Reading, groups: tuple[Group, ...]) -> tuple[list[Group], dict[int, list[str]]]:
    """Groups on the signal path in its order, and the designators met before each of them (and after the last)."""
    owners: dict[str, Group] = {}
    for sorts in (True, False):
        for group in groups:
            if group.block is None or (group.block.sort in HEADED) is not sorts or group.block.sort == "whole":
                continue
            for ref in (*group.block.devices, *group.block.parts):
                owners.setdefault(ref, group)
    chain: list[Group] = []
    between: dict[int, list[str]] = {}
    for step in reading.path:
        for ref in step.refs:
            owner = owners.get(ref)
            if owner is None or owner.block is None or owner.block.sort not in HEADED:
                if ref not in between.setdefault(len(chain), []):
                    between[len(chain)].append(ref)
            elif owner not in chain:
                chain.append(owner)
    return chain, between


def _ends(reading: Reading, chain: list[Group], between: dict[int, list[str]]) -> list[Box]:
    """The boxes at both ends of the signal path; a transducer there is taken out of the words on the arrow."""
    boxes = []
    for key, ports, place in (("in", reading.inputs, 0), ("out", reading.outputs, len(chain))):
        if not ports or not chain:
            continue
        transducers = [ref for ref in between.get(place, ()) if reading.circuit.by_ref[ref].kind in _TRANSDUCERS]
        between[place] = [ref for ref in between.get(place, ()) if ref not in transducers]
        names = tuple(transducers) or tuple(port.net for port in ports)
        boxes.append(Box(key, " ".join(names), tuple(transducers), "port", "signal", port=True))
    return boxes


_TRANSDUCERS = frozenset({"speaker", "headphones", "microphone", "antenna"})


def _box(reading: Reading, group: Group, on_path: bool) -> Box:
    """The box of a group of blocks."""
    if group.block is None:
        return Box("supply", "Supply and decoupling", group.parts, "supply", "support")
    block = group.block
    row = "signal" if on_path else "feedback" if block.sort == "feedback" else "support"
    note = next((f"class {item.letter}" for item in reading.classes if set(item.devices) & set(block.devices)), "")
    sort = block.sort if block.sort in ("output", "bias", "feedback", "supply") else "stage"
    return Box(_key(group), block.name, block.parts, sort, row, note if on_path else "", _rails(reading, block))


def _rails(reading: Reading, block: Block) -> tuple[str, ...]:
    """The given rails on which a block's parts stand, in words such as "vcc 9 V"."""
    graph = reading.views.graph
    nodes = {
        graph.node_of.get(terminal.net) for ref in block.parts for terminal in reading.circuit.by_ref[ref].terminals
    }
    supplies = [supply for supply in reading.circuit.supplies if graph.node_of.get(supply.net) in nodes - {0, None}]
    return tuple(f"{supply.net} {show(supply.volts, 'V')}" for supply in supplies)


def _service(reading: Reading, block: Block, groups: tuple[Group, ...], chain: list[Group]) -> list[Arrow]:
    """Arrows from a block beside the path to what it serves."""
    if block.sort == "feedback":
        return _feedback(reading, block, chain)
    served = [
        group
        for group in groups
        if group.block is not None and group.block is not block and set(block.serves) & set(group.block.devices)
    ]
    return [Arrow(f"b{block.number}", _key(group), "supply" if block.sort == "supply" else "bias") for group in served]


_SIGNS = {"negative": "−", "positive": "+"}


def _feedback(reading: Reading, block: Block, chain: list[Group]) -> list[Arrow]:
    """From the last stage on the path that the feedback block meets, through it, to the first."""
    touching = Neighbours(reading)
    met = [group for group in chain if group.block is not None and touching.shared(block, group.block)]
    if len(met) < 2:
        return []
    key = f"b{block.number}"
    return [
        Arrow(_key(met[-1]), key, "feedback"),
        Arrow(key, _key(met[0]), "feedback", _SIGNS.get(block.loop, ""), returns=True),
    ]
