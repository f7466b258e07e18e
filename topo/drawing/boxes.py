"""The block map: what is joined to what, as boxes and arrows; `map_sheet` draws it.

Stages stand in signal order; bias, supply and feedback circuits stand apart and point at what they serve.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from topo.explanation.grouping import HEADED, Group, Neighbours, grouped
from topo.explanation.titles import is_driver, title_of
from topo.quantities import show
from topo.reading.reading import Block, Reading

TRANSDUCERS = frozenset({"speaker", "headphones", "microphone", "antenna"})
_SIGNS = {"negative": "−", "positive": "+"}


@dataclass(frozen=True)
class Box:
    """One box: its words, the sort that gives its tint, its parts, and the rails that feed a stage.

    `row` is "signal", "support" or "feedback"; `notes` are further lines; `port` marks an end of the signal path.
    """

    key: str
    name: str
    parts: tuple[str, ...]
    sort: str
    row: str
    notes: tuple[str, ...] = ()
    rails: tuple[str, ...] = ()
    port: bool = False


@dataclass(frozen=True)
class Arrow:
    """An arrow between two boxes: `sort` is "signal", "bias", "supply" or "feedback".

    `returns` marks the half of a feedback path that leads back to the earlier stage; its `label` is the sign.
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
    ends = _ends(reading, chain, between)
    boxes = [_box(reading, group, group in chain) for group in groups] + ends
    row = [box.key for box in ends if box.key == "in"]
    first = 0 if row else 1
    row += [*map(_key, chain), *(box.key for box in ends if box.key == "out")]
    arrows = [
        Arrow(tail, head, "signal", " ".join(between.get(place, ())))
        for place, (tail, head) in enumerate(pairwise(row), first)
    ]
    for group in groups:
        if group not in chain and group.block is not None:
            arrows += _service(reading, group.block, chain)
    title = reading.circuit.title or reading.circuit.file.rpartition("/")[2]
    return BlockMap(title, tuple(boxes), tuple(arrows))


def _key(group: Group) -> str:
    return group.sort if group.block is None else f"b{group.block.number}"


def _chain(reading: Reading, groups: Sequence[Group]) -> tuple[list[Group], dict[int, list[str]]]:
    """Groups on the signal path in its order, and the designators met before each of them (and after the last)."""
    owners = _owners(groups)
    chain: list[Group] = []
    between: dict[int, list[str]] = {}
    for step in reading.path:
        for ref in step.refs:
            owner = owners.get(ref)
            if owner is None or _is_transducer(reading, ref):
                met = between.setdefault(len(chain), [])
                if ref not in met:
                    met.append(ref)
            elif owner not in chain:
                chain.append(owner)
            elif owner is chain[-1]:
                between[len(chain)] = []  # the signal was within the block all the while
    return chain, between


def _owners(groups: Sequence[Group]) -> dict[str, Group]:
    """For each part, the headed group that it stands for on the path: a device's stage, else the smallest block."""
    able = [(group, group.block) for group in groups if group.block is not None and group.block.sort in HEADED]
    owners: dict[str, Group] = {}
    for group, block in able:
        for ref in block.devices:
            owners.setdefault(ref, group)
    for group, block in sorted(able, key=lambda item: len(item[1].parts)):
        for ref in block.parts:
            owners.setdefault(ref, group)
    return owners


def _is_transducer(reading: Reading, ref: str) -> bool:
    return reading.circuit.by_ref[ref].kind in TRANSDUCERS


def _ends(reading: Reading, chain: Sequence[Group], between: dict[int, list[str]]) -> list[Box]:
    """The boxes at both ends of the signal path; a transducer there is taken out of the words on the arrow."""
    boxes = []
    for key, ports, place in (("in", reading.inputs, 0), ("out", reading.outputs, len(chain))):
        if not ports or not chain:
            continue
        transducers = [ref for ref in between.get(place, ()) if _is_transducer(reading, ref)]
        between[place] = [ref for ref in between.get(place, ()) if ref not in transducers]
        names = tuple(transducers) or tuple(port.net for port in ports)
        boxes.append(Box(key, " ".join(names), tuple(transducers), "port", "signal", port=True))
    return boxes


def _box(reading: Reading, group: Group, on_path: bool) -> Box:
    """The box of a group of blocks."""
    if group.block is None:
        name = "Supply and its filters" if group.sort == "supply" else "Beside the stages"
        return Box(_key(group), name, group.parts, "supply" if group.sort == "supply" else "stage", "support")
    block = group.block
    row = "signal" if on_path else "feedback" if block.sort == "feedback" else "support"
    sort = block.sort if block.sort in ("output", "bias", "feedback", "supply") else "stage"
    sort = "stage" if is_driver(block, reading) else sort
    parts = tuple(ref for ref in block.parts if not _is_transducer(reading, ref))
    rails = _rails(reading, block.parts)
    if on_path:
        return Box(_key(group), title_of(block, reading), parts, sort, row, _notes(reading, group), rails)
    fed = (f"from {', '.join(rails)}",) if rails else ()
    return Box(_key(group), title_of(block, reading), parts, sort, row, fed)


def _notes(reading: Reading, group: Group) -> tuple[str, ...]:
    """The class of operation of a stage, and the feedback within it."""
    devices = group.block.devices if group.block is not None else ()
    letters = dict.fromkeys(item.letter for item in reading.classes if set(item.devices) & set(devices))
    said = [f"class {letter}" for letter in letters if letter in ("A", "AB", "B", "C")]
    for companion in group.companions:
        if companion.sort == "feedback" and companion.loop in _SIGNS:
            said.append(f"feedback ({_SIGNS[companion.loop]}) {' '.join(companion.parts)}")
    return tuple(said)


def _rails(reading: Reading, refs: Iterable[str]) -> tuple[str, ...]:
    """The given rails on which parts stand, in words such as "vcc 9 V"."""
    graph = reading.views.graph
    nodes = {graph.node_of.get(terminal.net) for ref in refs for terminal in reading.circuit.by_ref[ref].terminals}
    supplies = [supply for supply in reading.circuit.supplies if graph.node_of.get(supply.net) in nodes - {0, None}]
    return tuple(f"{supply.net} {show(supply.volts, 'V').replace('-', '−')}" for supply in supplies)


def _service(reading: Reading, block: Block, chain: Sequence[Group]) -> list[Arrow]:
    """Arrows from a block beside the path to the stages that it serves."""
    if block.sort == "feedback":
        return _feedback(reading, block, chain)
    sort = "supply" if block.sort == "supply" else "bias"
    return [
        Arrow(f"b{block.number}", _key(group), sort)
        for group in chain
        if group.block is not None and set(block.serves) & set(group.block.devices)
    ]


def _feedback(reading: Reading, block: Block, chain: Sequence[Group]) -> list[Arrow]:
    """From the last stage on the path that the feedback block meets, through it, to the first."""
    near = Neighbours(reading)
    met = [group for group in chain if group.block is not None and near.shared(block, group.block)]
    if len(met) < 2:
        return []
    key = f"b{block.number}"
    return [
        Arrow(_key(met[-1]), key, "feedback"),
        Arrow(key, _key(met[0]), "feedback", _SIGNS.get(block.loop, ""), returns=True),
    ]
