"""Draws a block map: Graphviz places boxes and arrows, the look is our own.

Black on white with one tint a sort, made from the colour-blind-safe palette of M. Okabe and K. Ito,
"Color Universal Design" (2008), mixed with white; the legend says each sort in words.
"""

from __future__ import annotations

from itertools import pairwise

from topo.drawing.boxes import Arrow, BlockMap, Box
from topo.drawing.lettering import lines, width
from topo.drawing.palette import TINTS
from topo.drawing.rendering import POINTS_PER_INCH, placed
from topo.drawing.sheet import Point, Sheet

LEGEND = {"stage": "stage", "output": "output", "bias": "bias", "feedback": "feedback", "supply": "supply"}

NAME, SMALL, TITLE = 10.0, 8.5, 13.0
LEADING = 1.22
ROOM = 132.0
PORT_ROOM = 60.0
PAD = 9.0
MARGIN = 18.0
MOST_IN_A_ROW = 5


def block_map_svg(block_map: BlockMap) -> str:
    """The block map as SVG.

    Raises:
        DrawingError: no Graphviz is installed, or it fails.
    """
    letterings = {box.key: _Lettering(box) for box in block_map.boxes}
    place = placed(_dot_source(block_map, letterings))
    sheet = Sheet()
    across = MARGIN
    down = MARGIN + TITLE + 30
    for arrow, curve, label in zip(block_map.arrows, place.curves, place.labels, strict=True):
        _draw_arrow(sheet, arrow, curve, label, (across, down))
    for box in block_map.boxes:
        x, y = place.centres[box.key]
        _draw_box(sheet, box, letterings[box.key], x + across, y + down)
    legend = _legend_entries(block_map)
    total = max(
        place.size[0] + 2 * MARGIN, _legend_width(legend), width(block_map.title, TITLE, bold=True) + 2 * MARGIN
    )
    sheet.text(MARGIN, MARGIN + TITLE - 3, block_map.title, TITLE, anchor="start", bold=True)
    bottom = down + place.size[1] + 34
    _draw_legend(sheet, legend, bottom)
    return sheet.svg(total, bottom + 20, f"Block map: {block_map.title}", _description(block_map))


class _Lettering:
    """The lines of a box and the room that they take."""

    def __init__(self, box: Box) -> None:
        room = PORT_ROOM if box.port else ROOM
        self.name = lines(box.name, NAME, room, bold=not box.port)
        self.parts = [] if box.port else lines(" ".join(box.parts), SMALL, room, most=3)
        self.notes = [line for note in box.notes for line in lines(note, SMALL, room, most=2)]
        widest = max(
            [width(line, NAME, bold=True) for line in self.name]
            + [width(line, SMALL) for line in (*self.parts, *self.notes)]
            + [30.0]
        )
        self.wide = min(room, widest) + 2 * PAD
        small = len(self.parts) + len(self.notes)
        self.high = (len(self.name) * NAME + small * SMALL) * LEADING + 2 * PAD - 4


def _dot_source(block_map: BlockMap, letterings: dict[str, _Lettering]) -> str:
    """The graph for Graphviz: names made here and sizes only, no text of the circuit's."""
    import graphviz

    graph = graphviz.Digraph(
        graph_attr={"rankdir": "TB", "nodesep": "0.5", "ranksep": "0.7", "splines": "true", "newrank": "true"},
        node_attr={"shape": "box", "fixedsize": "true", "label": ""},
        edge_attr={"arrowhead": "none"},
    )
    for box in block_map.boxes:
        graph.node(box.key, width=_inches(letterings[box.key].wide), height=_inches(letterings[box.key].high))
    rows = _rows(block_map)
    for row in rows:
        with graph.subgraph() as same:
            same.attr(rank="same")
            for key in row:
                same.node(key)
    for upper, lower in pairwise(rows):
        graph.edge(upper[0], lower[0], style="invis", weight="0")
    for number, arrow in enumerate(block_map.arrows):
        tail, head = _as_laid_out(arrow)
        size = (
            {"label": " " * max(1, round(width(arrow.label, SMALL) / 3.5)), "fontsize": "10"}
            if arrow.label and arrow.sort == "signal"
            else {}
        )
        weight = "20" if arrow.sort == "signal" else "1"
        graph.edge(tail, head, id=f"e{number}", weight=weight, **size)
    return graph.source


def _inches(points: float) -> str:
    return f"{points / POINTS_PER_INCH:.3f}"


def _rows(block_map: BlockMap) -> list[list[str]]:
    """Keys of the boxes row by row: the signal path, what serves it, and the feedback."""
    rows = [[box.key for box in block_map.boxes if box.row == row] for row in ("signal", "support", "feedback")]
    order = _signal_order(block_map)
    rows[0].sort(key=lambda key: order.get(key, len(order)))
    return [row for row in rows if row]


def _signal_order(block_map: BlockMap) -> dict[str, int]:
    order: dict[str, int] = {}
    for arrow in block_map.arrows:
        if arrow.sort == "signal":
            order.setdefault(arrow.tail, len(order))
            order.setdefault(arrow.head, len(order))
    return order


def _as_laid_out(arrow: Arrow) -> tuple[str, str]:
    """Tail and head as given to Graphviz, which puts heads below tails: what serves a stage stands below it."""
    return (arrow.head, arrow.tail) if _turned(arrow) else (arrow.tail, arrow.head)


def _turned(arrow: Arrow) -> bool:
    return arrow.sort in ("bias", "supply") or (arrow.sort == "feedback" and arrow.returns)


def _draw_arrow(sheet: Sheet, arrow: Arrow, curve: tuple[Point, ...], label: Point | None, shift: Point) -> None:
    points = [(x + shift[0], y + shift[1]) for x, y in (reversed(curve) if _turned(arrow) else curve)]
    dash = {"feedback": "5 3", "bias": "", "supply": "1.5 2.5"}.get(arrow.sort, "")
    sheet.curve(points, weight=1.4 if arrow.sort == "signal" else 0.75, dash=dash)
    if arrow.label and arrow.sort == "feedback":
        x, y = points[-2]
        sheet.text((x + points[-1][0]) / 2 + 9, (y + points[-1][1]) / 2 + 6, arrow.label, TITLE, bold=True)
    elif arrow.label and label is not None:
        sheet.text(label[0] + shift[0], label[1] + shift[1] + 3, arrow.label, SMALL)


def _draw_box(sheet: Sheet, box: Box, lettering: _Lettering, x: float, y: float) -> None:
    sheet.begin(box.parts, box.name)
    wide, high = lettering.wide, lettering.high
    top = y - high / 2
    _draw_flags(sheet, box, x, top, wide)
    radius = min(high / 2, 14.0) if box.port else 0
    sheet.box(x - wide / 2, top, wide, high, fill=TINTS[box.sort], dashed=box.sort == "feedback", radius=radius)
    baseline = top + PAD + NAME - 4
    for line in lettering.name:
        sheet.text(x, baseline, line, NAME, bold=not box.port)
        baseline += NAME * LEADING
    for line in (*lettering.parts, *lettering.notes):
        sheet.text(x, baseline - 1, line, SMALL)
        baseline += SMALL * LEADING
    sheet.end()


def _draw_flags(sheet: Sheet, box: Box, x: float, top: float, wide: float) -> None:
    """The rails that feed a stage: a short wire up to a bar with the rail's name, where no arrow ends."""
    for place, rail in enumerate(box.rails):
        at = x - wide / 2 + 30.0 + place * 66.0
        sheet.line((at, top), (at, top - 8))
        sheet.line((at - 9, top - 8), (at + 9, top - 8), weight=1.4)
        sheet.text(at, top - 11, rail, SMALL)


def _legend_entries(block_map: BlockMap) -> list[tuple[str, str]]:
    """(sort, words) of what the map really holds: boxes, then arrows."""
    boxes = {box.sort for box in block_map.boxes}
    arrows = {arrow.sort for arrow in block_map.arrows}
    entries = [(sort, words) for sort, words in LEGEND.items() if sort in boxes]
    words = {"signal": "signal", "bias": "bias feed", "supply": "supply feed", "feedback": "feedback path"}
    return entries + [(f"arrow {sort}", text) for sort, text in words.items() if sort in arrows]


def _legend_width(entries: list[tuple[str, str]]) -> float:
    return 2 * MARGIN + sum(38 + width(words, SMALL) for _, words in entries)


def _draw_legend(sheet: Sheet, entries: list[tuple[str, str]], y: float) -> None:
    x = MARGIN
    for sort, words in entries:
        if sort.startswith("arrow "):
            kind = sort.removeprefix("arrow ")
            dash = {"feedback": "5 3", "supply": "1.5 2.5"}.get(kind, "")
            sheet.curve(
                [(x, y - 3), (x + 6, y - 3), (x + 12, y - 3), (x + 20, y - 3)],
                weight=1.4 if kind == "signal" else 0.75,
                dash=dash,
            )
        else:
            sheet.box(x, y - 8, 18, 10, fill=TINTS[sort], dashed=sort == "feedback")
        sheet.text(x + 24, y, words, SMALL, anchor="start")
        x += 38 + width(words, SMALL)


def _description(block_map: BlockMap) -> str:
    """The map in words, for readers who cannot see it."""
    names = {box.key: box.name for box in block_map.boxes}
    order = _signal_order(block_map)
    path = " to ".join(names[key] for key in order)
    feeds = [f"{names[a.tail]} serves {names[a.head]}" for a in block_map.arrows if a.sort in ("bias", "supply")]
    back = [
        f"{names[a.tail]} leads back to {names[a.head]}" for a in block_map.arrows if a.sort == "feedback" and a.returns
    ]
    sentences = [f"Signal path: {path}" if path else "", *feeds, *back]
    return ". ".join(sentence for sentence in sentences if sentence) + "."
