"""The step of the progressive set in which each part comes."""

from __future__ import annotations

import math
from collections.abc import Mapping

from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS
from topo.reading.reading import Block, Reading
from topo.reduction.reduction import Reduction

PRINCIPLE, DRIVE, BIAS, FEEDBACK, STEADY = range(5)
_CARRYING = ("stage", "driver", "splitter", "output", "control", "coupling", "compound")
_SMALL_DROP = 0.05
"""Volts: a part that drops more is no mere wire at rest."""


def levels(reading: Reading, principle: Reduction) -> dict[str, int]:
    """The step of each part, from 0.

    The output stage comes first, with its load; then what drives it, its bias, the feedback, and what only steadies or
    protects. Without an output stage all stages come first.
    """
    kept = {entry.part for entry in principle.ledger if entry.fate == "kept"}
    blocks = [block for block in reading.blocks if block.sort != "whole"]
    output = [block for block in blocks if block.sort == "output" and block.devices]
    on_path = {ref for step in reading.path for ref in step.refs}
    first = set(output[-1].devices) if output else set()
    behind = _behind(reading, first)
    found: dict[str, int] = {}
    for part in reading.circuit.parts:
        ref = part.ref
        own = [block for block in blocks if ref in block.parts]
        found[ref] = PRINCIPLE if ref in behind & kept else _level(part, own, first, ref in kept, ref in on_path)
    if not any(found[part.ref] == PRINCIPLE for part in reading.circuit.parts if part.kind in GROUPS["amplifying"]):
        found = {part.ref: PRINCIPLE if part.ref in kept else STEADY for part in reading.circuit.parts}
    _settle_emitters(reading, found)
    _settle_beside(reading.circuit, found)
    return found


def _behind(reading: Reading, first: set[str]) -> set[str]:
    """What the signal passes behind the output stage."""
    found: set[str] = set()
    behind = False
    for step in reading.path:
        if behind:
            found |= set(step.refs)
        behind = behind or bool(first & set(step.refs))
    return found


def _level(part: Part, own: list[Block], first: set[str], kept: bool, on_path: bool) -> int:
    sorts = {block.sort for block in own}
    if any(first & set(block.devices) and block.sort == "output" for block in own) and kept:
        return PRINCIPLE
    if part.kind in GROUPS["load"] and on_path:
        return PRINCIPLE
    carrying = sorts & set(_CARRYING)
    if (carrying - {"coupling"} and kept and not _only_serves(part, own)) or (on_path and kept):
        return DRIVE if first else PRINCIPLE
    if "feedback" in sorts:
        return FEEDBACK
    if "bias" in sorts:
        return BIAS
    if "coupling" in sorts and on_path:
        return DRIVE if first else PRINCIPLE
    return STEADY


def _only_serves(part: Part, own: list[Block]) -> bool:
    """Whether a part is, though a stage has claimed it too, a detail of its bias or feedback."""
    if part.kind in GROUPS["amplifying"]:
        return not any(part.ref in block.devices for block in own if block.sort in _CARRYING)
    return False


def _settle_emitters(reading: Reading, found: dict[str, int]) -> None:
    """What carries a device's current from its emitter comes with the device, if it drops more than a little."""
    circuit = reading.circuit
    for device in circuit.parts:
        if device.kind not in ELECTRODES:
            continue
        net = device.net(ELECTRODES[device.kind][1])
        for part in circuit.parts:
            if len(part.terminals) != 2 or part.kind in GROUPS["amplifying"] or net not in _nets(part):
                continue
            if abs(drop(reading, part)) > _SMALL_DROP and part.kind != "capacitor":
                found[part.ref] = min(found[part.ref], max(found[device.ref], PRINCIPLE))


def _settle_beside(circuit: Circuit, found: dict[str, int]) -> None:
    """What lies across a part that comes earlier, and is no bias of it, comes with it."""
    at: dict[frozenset[str], int] = {}
    for part in circuit.parts:
        if len(part.terminals) == 2 and part.kind == "resistor":
            key = _nets(part)
            at[key] = min(at.get(key, STEADY), found[part.ref])
    for part in circuit.parts:
        if len(part.terminals) == 2 and part.kind == "capacitor" and found[part.ref] == STEADY:
            level = at.get(_nets(part), STEADY)
            if len(_nets(part)) == 2 and not _fixed(circuit, _nets(part)):
                found[part.ref] = min(found[part.ref], level)


def _fixed(circuit: Circuit, nets: frozenset[str]) -> bool:
    return nets <= {circuit.ground, *(supply.net for supply in circuit.supplies)}


def _nets(part: Part) -> frozenset[str]:
    return frozenset(terminal.net for terminal in part.terminals)


def drop(reading: Reading, part: Part) -> float:
    """Volts at rest from a part's first terminal to its second; 0 where not known."""
    volts = [reading.views.point.voltage(terminal.net) for terminal in part.terminals[:2]]
    return volts[0] - volts[1] if len(volts) == 2 and all(map(math.isfinite, volts)) else 0.0


def wires(reading: Reading, principle: Reduction) -> set[str]:
    """The two-terminal parts that a wire stands for until they come: they are closed at the signal and at rest."""
    becomes: Mapping[str, str] = {entry.part: entry.becomes for entry in principle.ledger if entry.fate == "omitted"}
    return {
        part.ref
        for part in reading.circuit.parts
        if becomes.get(part.ref) == "wire"
        and len(part.terminals) == 2
        and (abs(drop(reading, part)) <= _SMALL_DROP or _feeds(reading.circuit, part))
    }


def _feeds(circuit: Circuit, part: Part) -> bool:
    """Whether a part brings a supply to a net."""
    return any(supply.net in _nets(part) for supply in circuit.supplies)


def flows(reading: Reading) -> dict[tuple[str, str], float]:
    """Amperes at rest from each net into each part, by designator and net; what is not known is left out."""
    found: dict[tuple[str, str], float] = {}
    point = reading.views.point
    for part in reading.circuit.parts:
        for number, terminal in enumerate(part.terminals):
            value = math.nan
            if len(part.terminals) == 2:
                value = point.current(part.ref) * (1 if number == 0 else -1)
            else:
                index = point.graph.element_of.get(part.ref)
                if index is not None and terminal.name in point.graph.elements[index].terminals:
                    value = point.current(part.ref, terminal.name)
            if math.isfinite(value):
                key = (part.ref, terminal.net)
                found[key] = found.get(key, 0.0) + value
    return found
