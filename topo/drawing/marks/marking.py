"""What a reading says of a drawing, as marks on it: blocks and quantities."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.analysis.spread import Spread, spread
from topo.drawing.boxes import block_map
from topo.drawing.marks.callouts import call_out, dc_quantities, make_room
from topo.drawing.marks.room import Room
from topo.drawing.marks.tinting import Area, tint
from topo.drawing.schematic.drawing import Drawing
from topo.explanation.grouping import grouped
from topo.explanation.listing import in_order, named
from topo.graph.normalising import normalise
from topo.netlist.circuit import Circuit
from topo.netlist.kinds import ELECTRODES
from topo.quantities import show
from topo.reading.reading import Reading

MINUS = "\N{MINUS SIGN}"
_ASSUMED = "*"
_FEW_SAMPLES = 2
"""Of the spread: only what rests on assumed values is asked of it, which has a table of its own."""


@dataclass
class Marks:
    """A drawing with its marks: SVG beneath and above the circuit, notes for beneath the figure, and what the marks
    say, for JSON. The texts of the marks are among the drawing's."""

    drawing: Drawing
    under: list[str] = field(default_factory=list)
    over: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    told: dict[str, object] = field(default_factory=dict)


def marked(
    drawing: Drawing, reading: Reading, circuit: Circuit, names: Mapping[str, str], *, blocks: bool, values: str
) -> Marks:
    """A drawing with marks; where a value has no room at its wire, the drawing is parted there.

    Args:
        drawing: laid out, its texts placed.
        reading: gives the blocks.
        circuit: the circuit whose operating point is written: that of the figure before it is cut down to a part.
        names: the designator drawn for each original one.
        blocks: whether blocks are tinted and captioned.
        values: "dc" for volts and currents at rest, "" for none.
    """
    found = Marks(drawing)
    room = Room(drawing)
    if values == "dc":
        room = _call_out(found, circuit)
    if blocks:
        _tint(found, reading, names, room)
    return found


def areas_of(reading: Reading, names: Mapping[str, str]) -> list[Area]:
    """The blocks under their headings, each part in the smallest that claims it; numbers as in the explanation."""
    groups = grouped(reading)
    boxes = block_map(reading).boxes
    claims: dict[str, tuple[int, int]] = {}
    for number, group in enumerate(groups, 1):
        for ref in group.parts:
            own = group.block is not None and ref in group.block.parts
            # A block's own part before that of a companion, then the smaller block.
            key = (0 if own else 1000) + len(group.parts)
            if ref not in claims or key < claims[ref][0]:
                claims[ref] = (key, number)
    found = []
    for number, (group, box) in enumerate(zip(groups, boxes, strict=False), 1):
        refs = [names[ref] for ref in group.parts if claims[ref][1] == number and ref in names]
        found.append(Area(number, box.name, box.sort, tuple(dict.fromkeys(refs))))
    return [area for area in found if area.parts]


def _tint(found: Marks, reading: Reading, names: Mapping[str, str], room: Room) -> None:
    areas = areas_of(reading, names)
    made = tint(found.drawing, areas, room)
    found.drawing.texts += made.texts
    found.under += made.under
    if made.key:
        found.notes.append("; ".join(made.key) + ".")
    found.told["blocks"] = [
        {"number": area.number, "name": area.name, "sort": area.sort, "parts": list(area.parts)} for area in areas
    ]


def _call_out(found: Marks, circuit: Circuit) -> Room:
    state = spread(normalise(circuit), count=_FEW_SAMPLES)
    volts = _volts(state, circuit)
    currents = _currents(state, circuit)
    if not volts and not currents:
        why = "; ".join(state.point.missing) or "the operating point is not known"
        found.notes.append(f"Voltages and currents at rest are not known: {why}.")
        return Room(found.drawing)
    quantities = dc_quantities(found.drawing, volts, currents)
    found.drawing, waiting = make_room(found.drawing, quantities)
    room = Room(found.drawing)
    placed = call_out(found.drawing, waiting, room)
    found.drawing.texts += placed.texts
    found.over += placed.marks
    found.notes += _notes(state, circuit, [item.words for item in quantities])
    if placed.left:
        rest = [f"{item.ref or item.net} {item.words}" for item in placed.left]
        found.notes.append(f"Without room beside their wires: {', '.join(rest)}.")
    found.told["volts"] = {net: _number(state.point.voltage(net)) for net in volts}
    found.told["amperes"] = {ref: _number(state.point.current(ref)) for ref in currents}
    found.told["assumed"] = sorted(
        [net for net, words in volts.items() if words.endswith(_ASSUMED)]
        + [ref for ref, item in currents.items() if item[0].endswith(_ASSUMED)]
    )
    return room


def _notes(state: Spread, circuit: Circuit, words: list[str]) -> list[str]:
    note = "Voltages to ground and currents at rest, calculated."
    if any(item.endswith(_ASSUMED) for item in words):
        assumed = [part.ref for part in circuit.parts if part.ref in state.point.assumed]
        note += f" {_ASSUMED} Rests on assumed values of {named(in_order(assumed))}."
    missing = [f"Not known: {'; '.join(state.point.missing)}."] if state.point.missing else []
    return [note, *missing]


def _number(value: float) -> float | None:
    return float(f"{value:.4g}") if math.isfinite(value) else None


def _volts(state: Spread, circuit: Circuit) -> dict[str, str]:
    """The words for each net that is neither ground nor a supply and whose volts are known."""
    fixed = {circuit.ground, *(supply.net for supply in circuit.supplies)}
    found = {}
    for net in circuit.nets:
        value = state.point.voltage(net)
        if net in fixed or not math.isfinite(value):
            continue
        node = state.point.graph.node_of.get(net)
        rests = node is not None and state.voltage_rests(node)
        found[net] = _words(0.0 if abs(value) < 5e-4 else value, "V", 3) + (_ASSUMED if rests else "")
    return found


def _currents(state: Spread, circuit: Circuit) -> dict[str, tuple[str, str, str, bool]]:
    """For each amplifying device: words, main terminal, its net, and whether the current flows into it."""
    found = {}
    for part in circuit.parts:
        if part.kind not in ELECTRODES:
            continue
        main = ELECTRODES[part.kind][2]
        value = state.point.current(part.ref, main)
        index = state.point.graph.element_of.get(part.ref)
        if not math.isfinite(value) or index is None:
            continue
        rests = state.current_rests(index, main)
        words = _words(abs(value) if abs(value) >= 1e-8 else 0.0, "A", 2) + (_ASSUMED if rests else "")
        found[part.ref] = (words, main, part.net(main), value >= 0)
    return found


def _words(value: float, unit: str, digits: int) -> str:
    return show(value, unit, digits).replace("-", MINUS)
