"""Numbers side by side: class of operation, figures of corresponding blocks, values at the other circuit's levels."""

from __future__ import annotations

import math
from dataclasses import dataclass

from topo.comparison.comparison import Figures, StagePair
from topo.comparison.outline import Item, stage_parts
from topo.netlist.circuit import Part
from topo.quantities import show
from topo.reading.reading import Reading, StageClass

_UNITS = {"resistor": "ohm", "capacitor": "F", "inductor": "H", "choke": "H", "bead": "ohm", "potentiometer": "ohm"}
# Loads further apart than this are not those of like stages: one of them is not loaded at all.
_FURTHEST = 3e3
# More decibels than this are those of an ideal resonance, not of an amplifier.
_MOST_GAIN = 120.0
# Two values are the same within this share of them.
_SAME = 1e-6


@dataclass(frozen=True)
class Scale:
    """What turns a value of B into the like one at A's levels: ratio of impedances, and of frequencies, A over B.

    Coils and capacitors keep their reactance against the load: f L over R, and f C R, are the same in both.
    """

    ohms: float
    hertz: float

    def words(self, part: Part) -> str:
        """A part's value at A's levels in words, "" where it has none or it stays as it is."""
        if part.value is None or part.kind not in _UNITS or part.kind == "bead":
            return ""
        factor = self.ohms
        if part.kind == "capacitor":
            factor = 1 / (self.ohms * self.hertz)
        elif part.kind in ("inductor", "choke"):
            factor = self.ohms / self.hertz
        return show(part.value * factor, _UNITS[part.kind], 2) if abs(factor - 1) > 0.01 else ""


def scale_of(first: Item, second: Item, one: Reading, two: Reading) -> Scale | None:
    """The scale between two corresponding stages: by the load on one device, and by the middle of the bands."""
    mine, theirs = class_of(first, one), class_of(second, two)
    if mine is None or theirs is None or not mine.ohms or not theirs.ohms:
        return None
    here, there = _middle(one), _middle(two)
    if here is None or there is None:
        return None
    ratio = mine.ohms / theirs.ohms
    return Scale(ratio, here / there) if 1 / _FURTHEST < ratio < _FURTHEST else None


def _middle(reading: Reading) -> float | None:
    band = reading.circuit.band
    return math.sqrt(band[0] * band[1]) if band and band[0] > 0 else None


def class_of(item: Item, reading: Reading) -> StageClass | None:
    """The class of operation of a stage, None where it is not known."""
    devices = set(stage_parts(item, reading))
    return next((found for found in reading.classes if set(found.devices) & devices), None)


def shared_figures(first: Item, second: Item) -> tuple[Figures, ...]:
    """The figures that both blocks have by one name and unit and that are known in one of them at least."""
    theirs = {(figure.name, figure.unit): figure.value for figure in second.block.figures}
    rows = []
    for figure in first.block.figures:
        key = (figure.name, figure.unit)
        if key in theirs and (figure.value is not None or theirs[key] is not None):
            rows.append(Figures(figure.name, figure.unit, figure.value, theirs[key]))
    return tuple(rows)


def stage_pair(first: Item, second: Item, one: Reading, two: Reading) -> StagePair:
    """Two corresponding stages in numbers."""
    mine, theirs = class_of(first, one), class_of(second, two)
    rows = []
    for name, unit, which in (
        ("current at rest", "A", "idle"),
        ("current of a full swing", "A", "swing"),
        ("load on one device", "ohm", "ohms"),
        ("voltage across one device", "V", "volts"),
        ("most power", "W", "most_power"),
    ):
        a, b = getattr(mine, which, None), getattr(theirs, which, None)
        if which == "most_power" and (len(stage_parts(first, one)) < 2 or len(stage_parts(second, two)) < 2):
            continue
        if a is not None or b is not None:
            rows.append(Figures(name, unit, a, b))
    return StagePair(
        stage_parts(first, one),
        stage_parts(second, two),
        mine.letter if mine is not None else "",
        theirs.letter if theirs is not None else "",
        tuple(rows),
    )


def value_words(part: Part) -> str:
    """A part's value as it is printed, or its type, or "" where it has neither."""
    if part.value is not None and part.kind in _UNITS:
        return show(part.value, _UNITS[part.kind])
    if part.kind in ("speaker", "headphones", "antenna") and part.value is not None:
        return show(part.value, "ohm")
    if part.windings:
        return ":".join("+".join(f"{turns:g}" for turns in winding.turns) for winding in part.windings)
    return part.type_name or ""


def same_value(first: Part, second: Part) -> bool:
    """Whether two parts have one value, or neither has any; polarity and make aside."""
    if (first.value is None) != (second.value is None):
        return False
    if first.value is not None and second.value is not None:
        return math.isclose(first.value, second.value, rel_tol=_SAME)
    return [w.turns for w in first.windings] == [w.turns for w in second.windings]


def gain_of(reading: Reading) -> float | None:
    """Voltage gain from the first input to the first output at mid band, decibels; None where it is not known."""
    views, graph = reading.views, reading.views.graph
    if views.network is None or not views.signals or not reading.inputs or not reading.outputs:
        return None
    start, end = (graph.node_of.get(port.net) for port in (reading.inputs[0], reading.outputs[0]))
    middle = views.signal.middle
    if not start or not end or middle is None:
        return None
    matrix = views.network.impedances(middle)
    if not abs(matrix[start, start]):
        return None
    ratio = float(abs(matrix[end, start] / matrix[start, start]))
    decibels = 20 * math.log10(ratio) if math.isfinite(ratio) and ratio > 0 else math.inf
    return decibels if abs(decibels) < _MOST_GAIN else None
