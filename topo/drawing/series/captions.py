"""Heading, caption and alternative text of a step: what is new, what is not yet there, facts with what they rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from topo.drawing.series.levels import BIAS, DRIVE, FEEDBACK, PRINCIPLE, STEADY
from topo.drawing.series.stages import Stage
from topo.explanation.listing import in_order, named
from topo.explanation.statements import BlockText, Explanation
from topo.netlist.circuit import Circuit
from topo.quantities import show
from topo.reduction.reduction import Reduction

HEADINGS = {
    PRINCIPLE: "The bare principle",
    DRIVE: "With its drive",
    BIAS: "With its bias",
    FEEDBACK: "With feedback",
    STEADY: "With what decouples, steadies and protects it",
    STEADY + 1: "The whole circuit",
}
_MOST_STATEMENTS = 3
_ASSUMED = "*"
_MOST_OF = 0.6
"""Of a block's parts: fewer do not make the block."""


@dataclass(frozen=True)
class Words:
    """The texts of one figure."""

    title: str
    heading: str
    caption: tuple[str, ...]
    description: str


def words_of(
    explanation: Explanation,
    principle: Reduction,
    stage: Stage,
    level: int,
    number: int,
    count: int,
    added: tuple[str, ...],
) -> Words:
    """The texts of a step; every number in them is from the explanation of the whole circuit."""
    circuit = explanation.reading.circuit
    heading = HEADINGS[level]
    caption: list[str] = []
    if number in (1, count) and explanation.summary:
        caption.append(explanation.summary[0])
    if added:
        caption.append(f"Added, in a heavier line: {named(in_order(added))}.")
    caption += _facts(explanation, stage, added if number > 1 else tuple(sorted(stage.shown)), number)
    caption += _stand_ins(stage, circuit)
    missing = [part.ref for part in circuit.parts if part.ref not in stage.shown]
    if missing:
        caption.append(f"Not yet shown: {named(in_order(missing))}.")
    if any(sentence.endswith(_ASSUMED) for sentence in caption):
        point = explanation.reading.views.point
        assumed = [part.ref for part in circuit.parts if part.ref in point.assumed]
        caption.append(f"{_ASSUMED} Rests on assumed values of {named(in_order(assumed))}.")
    title = f"{circuit.title or 'Circuit'}, step {number} of {count}: {heading[0].lower()}{heading[1:]}"
    parts = named(in_order(part.ref for part in stage.circuit.parts if part.ref in stage.shown))
    description = " ".join([f"Schematic of {parts}.", *caption])
    return Words(title, heading, tuple(caption), description)


def _facts(explanation: Explanation, stage: Stage, refs: tuple[str, ...], number: int) -> list[str]:
    """What is said of the blocks whose parts are new: the first sentence of each, with a word on what it rests on."""
    new = set(refs)
    blocks = _flat(explanation.blocks)
    if number == 1:
        blocks.sort(key=lambda block: block.block is None or block.block.sort != "output")
    found: list[str] = []
    for block in blocks:
        own = set(block.block.parts) if block.block is not None else set()
        if not own or len(own & stage.shown) < _MOST_OF * len(own) or len(own & new) * 2 < len(own):
            continue
        statement = next((item for item in block.statements if item.has_numbers), None)
        text = f"{block.title}: {statement.text}" if statement else f"{block.title}."
        found.append(text + (_ASSUMED if statement is not None and statement.assumed else ""))
    return found[: 1 if number == 1 else _MOST_STATEMENTS]


def _flat(blocks: tuple[BlockText, ...]) -> list[BlockText]:
    """Headed blocks first, then those told with them."""
    return [*blocks, *(item for block in blocks for item in block.companions)]


def _stand_ins(stage: Stage, circuit: Circuit) -> list[str]:
    """What the terminals and sources mean that stand for what is not yet there."""
    found = []
    if stage.open_nets:
        held = ", ".join(f"{net} at {_volts(value)}" for net, value in stage.open_nets.items())
        found.append(f"Each terminal with a voltage leads on to what is not yet shown, which holds it there: {held}.")
    if stage.sources:
        values = ", ".join(_volts(abs(value)) for value in stage.sources.values())
        found.append(f"An ideal source ({values}) stands for the bias.")
    if stage.wired:
        refs = [part.ref for part in circuit.parts if part.ref in stage.wired]
        found.append(f"{'A wire stands' if len(refs) == 1 else 'Wires stand'} in the place of {named(refs)}.")
    return found


def _volts(value: float) -> str:
    return show(value, "V").replace("-", "\N{MINUS SIGN}") if math.isfinite(value) else "a voltage not known"
