"""The figures of a progressive set, each with its caption and alternative text."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.composing import laid_out
from topo.drawing.schematic.drawing import Drawing, rail_edges, whole_box
from topo.drawing.schematic.engine import prove
from topo.drawing.schematic.fitting import TYPE_SIZE
from topo.drawing.schematic.items import rails_of
from topo.drawing.schematic.metrics import Metrics, measure
from topo.drawing.schematic.writing import MARGIN, Extras, svg_of
from topo.drawing.series.captions import Words, words_of
from topo.drawing.series.levels import BIAS, STEADY, flows, levels, wires
from topo.drawing.series.stages import Stage, stage_of
from topo.drawing.series.staging import Staged, staged
from topo.explanation.statements import Explanation
from topo.netlist.circuit import Circuit
from topo.reduction.reduction import Reduction

if TYPE_CHECKING:
    from topo.matching.shelf import Library


@dataclass(frozen=True)
class StepFigure:
    """One figure of the set: its number from 1, SVG, heading, caption (sentences), alternative text, the step's
    circuit, the designators that are new in it, its measures, and the volts of each terminal that leads on."""

    number: int
    svg: str
    heading: str
    caption: tuple[str, ...]
    description: str
    circuit: Circuit
    added: tuple[str, ...]
    metrics: Metrics
    terminals: Mapping[str, float] = field(default_factory=dict)

    def text_height(self, width: float) -> float:
        """Height of the type in millimetres when the figure is printed so many millimetres wide."""
        return TYPE_SIZE * width / (self.metrics.width + 2 * MARGIN)

    def values(self) -> dict[str, object]:
        """Heading, caption, alternative text, parts and measures, for JSON."""
        return {
            "number": self.number,
            "heading": self.heading,
            "caption": list(self.caption),
            "description": self.description,
            "parts": [part.ref for part in self.circuit.parts],
            "added": list(self.added),
            "terminals_V": {net: value if math.isfinite(value) else None for net, value in self.terminals.items()},
            "metrics": self.metrics.as_dict(),
        }


def series(
    explanation: Explanation,
    principle: Reduction,
    *,
    width: float | None = None,
    symbols: str = "iec",
    library: Library | None = None,
) -> tuple[StepFigure, ...]:
    """The progressive set of a circuit, the whole last.

    Args:
        explanation: gives the captions, and with its reading the circuit.
        principle: the reduction to the principle of the same reading: what it drops comes late.
        width: of each figure in millimetres; None for the natural size. All have the same.
        symbols: "iec", or "ieee" for zigzag resistors.
        library: the patterns of the reading, whose drawings place its blocks; the shipped ones when None.
    Raises:
        DrawingError: a figure would not say what its step's circuit says.
    """
    reading = explanation.reading
    circuit = reading.circuit
    whole = laid_out(reading, circuit, symbols == "ieee", library=library)
    when = levels(reading, principle)
    may_wire = wires(reading, principle)
    volts = {net: reading.views.point.voltage(net) for net in circuit.nets}
    rails = [net for net in rails_of(circuit) if net != circuit.ground]
    currents = flows(reading)
    stages: list[tuple[int, Stage, Staged]] = []
    for level in range(STEADY + 1):
        shown = {ref for ref, own in when.items() if own <= level}
        later = {ref for ref, own in when.items() if own > level}
        bias = {ref for ref in later if when[ref] == BIAS}
        stage = stage_of(circuit, shown, may_wire & later, bias, volts, rails, currents)
        if stage.shown and (not stages or stage.shown != stages[-1][1].shown):
            stages.append((level, stage, staged(whole, stage)))
    if not stages:
        return ()
    box = g.around([whole_box(whole), *(whole_box(item.drawing) for _, _, item in stages)])
    steps = [(level, stage, item.drawing) for level, stage, item in stages]
    if len(stages[-1][1].shown) < len(circuit.parts) or len(steps) > 1:
        steps.append((STEADY + 1, Stage(circuit, frozenset(when), frozenset(), {}, {}), whole))
    found: list[StepFigure] = []
    before: tuple[Stage, Drawing] | None = None
    for number, (level, stage, drawing) in enumerate(steps, 1):
        added = _added(stage, before, circuit, last=level > STEADY)
        words = words_of(explanation, principle, stage, level, number, len(steps), added)
        extras = _extras(drawing, before, stage, added, box)
        svg = svg_of(drawing, words.title, words.description, width, extras)
        prove(svg, stage.circuit, drawing, symbols == "ieee")
        found.append(_figure(number, svg, words, stage, added, drawing, box))
        before = (stage, drawing)
    return tuple(found)


def _added(stage: Stage, before: tuple[Stage, Drawing] | None, circuit: Circuit, *, last: bool) -> tuple[str, ...]:
    """The designators that are new in a step; none in the first and in the last, which show the whole of something."""
    if before is None or (last and stage.shown == before[0].shown):
        return ()
    new = stage.shown - before[0].shown
    return tuple(part.ref for part in circuit.parts if part.ref in new)


def _extras(
    drawing: Drawing, before: tuple[Stage, Drawing] | None, stage: Stage, added: tuple[str, ...], box: g.Box
) -> Extras:
    """What is new in a heavier line."""
    if before is None or not added:
        return Extras(box=box)
    old = {edge for edges in before[1].wires.values() for edge in edges}
    old |= {edge for place in before[1].placed for edge in rail_edges(place)}
    now = {edge for edges in drawing.wires.values() for edge in edges}
    now |= {edge for place in drawing.placed for edge in rail_edges(place)}
    return Extras(heavier=frozenset(added), heavier_wires=frozenset(now - old), box=box)


def _figure(
    number: int, svg: str, words: Words, stage: Stage, added: tuple[str, ...], drawing: Drawing, box: g.Box
) -> StepFigure:
    metrics = replace(measure(drawing), width=round(box[2] - box[0], 2), height=round(box[3] - box[1], 2))
    return StepFigure(
        number,
        svg,
        words.heading,
        words.caption,
        words.description,
        stage.circuit,
        added,
        metrics,
        dict(stage.open_nets),
    )
