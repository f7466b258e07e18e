"""Measures of a drawing: what must be none (overlaps), and what should be little (crossings, bends, length)."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, bends, crossings, edge_ends, junctions, whole_box
from topo.drawing.schematic.labels import clashes


@dataclass(frozen=True)
class Metrics:
    """Counts of one drawing; lengths in modules, the area in square modules."""

    parts: int
    symbol_overlaps: int
    wires_through_symbols: int
    text_overlaps: int
    crossings: int
    bends: int
    four_way: int
    wire_length: int
    width: float
    height: float
    flags: int

    def as_dict(self) -> dict[str, float]:
        """The counts by name."""
        return asdict(self)


def measure(drawing: Drawing) -> Metrics:
    """The measures of a drawing whose texts are placed."""
    box = whole_box(drawing)
    parts = [place for place in drawing.placed if place.item.kind not in ("input", "output", "flag", "ground")]
    flagged = sum(place.item.kind == "flag" for place in drawing.placed)
    return Metrics(
        parts=len(parts),
        symbol_overlaps=overlaps(drawing),
        wires_through_symbols=through_symbols(drawing),
        text_overlaps=clashes(drawing),
        crossings=len(crossings(drawing)),
        bends=bends(drawing),
        four_way=sum(count > 3 for points in junctions(drawing).values() for count in points.values()),
        wire_length=sum(len(edges) for edges in drawing.wires.values()),
        width=round(box[2] - box[0], 2),
        height=round(box[3] - box[1], 2),
        flags=flagged + sum(rail.rail.symbol == "flag" for place in drawing.placed for rail in place.fit.rails),
    )


def overlaps(drawing: Drawing) -> int:
    """The number of pairs of symbols that overlap, leads and rail symbols counted in."""
    boxes = [place.solids() for place in drawing.placed]
    count = 0
    for index, one in enumerate(boxes):
        for two in boxes[index + 1 :]:
            count += any(g.meet(g.grown(a, -0.05), b) for a in one for b in two)
    return count


def through_symbols(drawing: Drawing) -> int:
    """The number of symbols that a wire runs through."""
    count = 0
    points = {point for edges in drawing.wires.values() for edge in edges for point in edge_ends(edge)}
    for place in drawing.placed:
        count += any((place.x + a, place.y + b) in points for a, b in place.fit.covered)
    return count
