"""The figure of a reading or a reduction."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from topo.drawing.marks.marking import Marks, marked
from topo.drawing.schematic.drawing import Drawing
from topo.drawing.schematic.engine import Plan, draw, prove
from topo.drawing.schematic.fitting import TYPE_SIZE
from topo.drawing.schematic.metrics import Metrics, measure
from topo.drawing.schematic.templates import templates_of
from topo.drawing.schematic.writing import MARGIN, heavier_extras, svg_of
from topo.errors import UsageError
from topo.netlist.circuit import Circuit, Port
from topo.reading.reading import Reading
from topo.reduction.reduction import Reduction

if TYPE_CHECKING:
    from topo.matching.shelf import Library


@dataclass(frozen=True)
class Figure:
    """A schematic: the SVG text, the circuit that it shows, its measures, title and alternative text, the notes set
    beneath it, and what its marks say as plain values."""

    svg: str
    circuit: Circuit
    metrics: Metrics
    title: str
    description: str
    notes: tuple[str, ...] = ()
    told: Mapping[str, object] = field(default_factory=dict)

    def text_height(self, width: float) -> float:
        """Height of the type in millimetres when the figure is printed so many millimetres wide."""
        return TYPE_SIZE * width / (self.metrics.width + 2 * MARGIN)

    def values(self) -> dict[str, object]:
        """Title, alternative text, measures and SVG, for JSON."""
        return {
            "title": self.title,
            "description": self.description,
            "parts": [part.ref for part in self.circuit.parts],
            "metrics": self.metrics.as_dict(),
            "notes": list(self.notes),
            **self.told,
            "svg": self.svg,
        }


def figure(
    source: Reading | Reduction,
    *,
    focus: str = "",
    section: str = "",
    only: Collection[str] = (),
    width: float | None = None,
    symbols: str = "iec",
    heavier: Collection[str] = (),
    blocks: bool = False,
    values: str = "",
    names: Mapping[str, str] | None = None,
    library: Library | None = None,
) -> Figure:
    """Draw the circuit of a reading, or the smaller one of a reduction.

    Args:
        source: what is drawn.
        focus: a block by its number, name or pattern: only its parts are drawn.
        section: a section of the circuit: only its parts are drawn.
        only: designators of the parts that are drawn; all where there are none.
        width: width of the figure in millimetres; None for its natural size.
        symbols: "iec", or "ieee" for zigzag resistors.
        heavier: designators of parts drawn in a heavier line, with the wires that join nothing but them.
        blocks: whether blocks are tinted and captioned.
        values: "dc" for volts of nets and currents of devices at rest.
        names: what is written in place of a designator.
        library: the patterns of the reading, whose drawings place its blocks; the shipped ones when None.

    Raises:
        UsageError: there is no such block or section, or nothing is left to draw.
        DrawingError: the figure would not say what the circuit says.
    """
    reading = source if isinstance(source, Reading) else source.reading
    whole = source.circuit
    circuit = _part_of(whole, reading, focus, section, only)
    ieee = symbols == "ieee"
    drawing = laid_out(source, circuit, ieee, names, library)
    title = circuit.title or "Circuit"
    description = _description(reading, circuit, source)
    drawn = _drawn(circuit)
    marks = Marks(drawing)
    if blocks or values:
        marks = marked(drawing, reading, whole, drawn, blocks=blocks, values=values)
    drawing = marks.drawing
    shown = {drawn[ref] for ref in heavier if ref in drawn}
    extras = replace(heavier_extras(drawing, shown), under=marks.under, over=marks.over, notes=marks.notes)
    svg = svg_of(drawing, title, description, width, extras)
    prove(svg, circuit, drawing, ieee)
    return Figure(svg, circuit, measure(drawing), title, description, tuple(marks.notes), marks.told)


def laid_out(
    source: Reading | Reduction,
    circuit: Circuit,
    ieee: bool = False,
    names: Mapping[str, str] | None = None,
    library: Library | None = None,
) -> Drawing:
    """The drawing of a circuit, or a part of it, by what its reading says of path, pairs and volts."""
    reading = source if isinstance(source, Reading) else source.reading
    templates = templates_of(reading, _drawn(circuit), library)
    words = {**_names(source), **(names or {})}
    plan = Plan(_steps(reading, circuit), _pairs(reading, circuit), _volts(reading, circuit), words, templates)
    return draw(circuit, plan, ieee=ieee)


def _part_of(circuit: Circuit, reading: Reading, focus: str, section: str, only: Collection[str] = ()) -> Circuit:
    """The circuit cut down to a block, a section or some parts; nets that go on outside become ports."""
    if not circuit.parts:
        raise UsageError("At this level of detail nothing is left to draw.")
    if not focus and not section and not only:
        return circuit
    keep: set[str] = set()
    if focus:
        wanted = focus.casefold()
        blocks = [b for b in reading.blocks if wanted in (str(b.number), b.name.casefold(), b.pattern.casefold())]
        blocks = blocks or [b for b in reading.blocks if wanted in b.name.casefold()]
        if not blocks:
            names = ", ".join(f"{block.number} {block.name}" for block in reading.blocks) or "none"
            raise UsageError(f"There is no block {focus!r} in this circuit. Its blocks: {names}.")
        shown = set(blocks[0].parts)
        keep = {part.ref for part in circuit.parts if part.ref in shown or set(part.ref.split("+")) & shown}
    if section:
        sections = {part.section for part in reading.circuit.parts if part.section}
        found = next((name for name in sorted(sections) if name.casefold() == section.casefold()), None)
        if found is None:
            listed = ", ".join(sorted(sections)) or "none"
            raise UsageError(f"There is no section {section!r} in this circuit. Its sections: {listed}.")
        members = {part.ref for part in circuit.parts if part.section == found}
        keep = keep & members if focus else members
    if only:
        shown = set(only)
        members = {part.ref for part in circuit.parts if part.ref in shown or set(part.ref.split("+")) & shown}
        keep = keep & members if focus or section else members
    if not keep:
        raise UsageError("At this level of detail nothing is left of what the figure should show.")
    parts = tuple(part for part in circuit.parts if part.ref in keep)
    inside = {item.net for part in parts for item in part.terminals}
    fixed = {circuit.ground, *(supply.net for supply in circuit.supplies)}
    outside = {item.net for part in circuit.parts if part.ref not in keep for item in part.terminals}
    leaving = [net for net in circuit.nets if net in inside and net in outside and net not in fixed]
    given = {port.net for port in (*circuit.inputs, *circuit.outputs)}
    shown_as = _drawn(circuit)
    steps = enumerate(reading.path)
    ranks = {shown_as[ref]: number for number, step in steps for ref in step.refs if ref in shown_as}
    entering = {net for net in leaving if _comes_from_outside(net, circuit, keep, ranks)}
    return replace(
        circuit,
        parts=parts,
        inputs=(
            *(port for port in circuit.inputs if port.net in inside),
            *(Port(net) for net in leaving if net not in given and net in entering),
        ),
        outputs=(
            *(port for port in circuit.outputs if port.net in inside),
            *(Port(net) for net in leaving if net not in given and net not in entering),
        ),
        supplies=tuple(supply for supply in circuit.supplies if supply.net in inside),
    )


def _comes_from_outside(net: str, circuit: Circuit, keep: set[str], ranks: dict[str, int]) -> bool:
    """Whether the signal path reaches a net by a part that is not shown."""
    on_it = [part.ref for part in circuit.parts if part.ref in ranks and net in {item.net for item in part.terminals}]
    outer = [ranks[ref] for ref in on_it if ref not in keep]
    inner = [ranks[ref] for ref in on_it if ref in keep]
    return bool(outer) and (not inner or min(outer) < min(inner))


def _drawn(circuit: Circuit) -> dict[str, str]:
    """The part drawn for each original designator."""
    names = {part.ref: part.ref for part in circuit.parts}
    for part in circuit.parts:
        for name in part.ref.split("+"):
            names.setdefault(name, part.ref)
    return names


def _steps(reading: Reading, circuit: Circuit) -> list[tuple[str, ...]]:
    names = _drawn(circuit)
    steps = [tuple(dict.fromkeys(names[ref] for ref in step.refs if ref in names)) for step in reading.path]
    return [step for step in steps if step]


def _pairs(reading: Reading, circuit: Circuit) -> list[tuple[str, str]]:
    """Pairs of devices on the two sides of a step of the path, the last with the last."""
    names = _drawn(circuit)
    devices = {p.ref for p in circuit.parts if len(p.terminals) > 2}
    found: list[tuple[str, str]] = []
    for step in reading.path:
        if len(step.sides) == 2:
            one, two = ([names[ref] for ref in side if names.get(ref) in devices] for side in step.sides)
            found += reversed(list(zip(reversed(one), reversed(two), strict=False)))
    return found


def _volts(reading: Reading, circuit: Circuit) -> dict[str, float]:
    found = {}
    for net in circuit.nets:
        try:
            value = reading.views.point.voltage(net)
        except (KeyError, AttributeError):
            continue
        if not math.isnan(value):
            found[net] = value
    return found


def _description(reading: Reading, circuit: Circuit, source: Reading | Reduction) -> str:
    """The alternative text: what the circuit is, and its parts."""
    kept = _list(part.ref for part in circuit.parts)
    words = [reading.summary] if reading.summary else []
    words.append(f"Schematic of {len(circuit.parts)} parts: {kept}.")
    if isinstance(source, Reduction):
        omitted = source.fates("omitted")
        if omitted:
            words.append(f"Left out: {_list(omitted)}.")
    return " ".join(words)


def _list(names: Iterable[str]) -> str:
    return ", ".join(names)


def _names(source: Reading | Reduction) -> dict[str, str]:
    """For parts that others are merged into, all their designators."""
    if isinstance(source, Reading):
        return {}
    merged: dict[str, list[str]] = {}
    for entry in source.ledger:
        if entry.fate == "merged" and entry.into:
            merged.setdefault(entry.into, [entry.into]).append(entry.part)
    return {ref: "+".join(names) for ref, names in merged.items()}
