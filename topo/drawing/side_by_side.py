"""Two circuits side by side: block maps in which each box says what corresponds to it in the other circuit, and
schematics in which the parts without a counterpart are heavier."""

from __future__ import annotations

import re
from dataclasses import replace

from topo.comparison.comparison import BlockPair, Comparison, Side
from topo.drawing.boxes import BlockMap, block_map
from topo.drawing.map_sheet import block_map_svg
from topo.drawing.quoting import quoted
from topo.drawing.schematic import Figure, figure
from topo.matching import Library
from topo.reading.reading import Reading
from topo.reduction import reduce

_SIZE = re.compile(r'<svg [^>]*?width="([\d.]+)pt" height="([\d.]+)pt"')
_GAP = 24.0
_MOST_REFS = 6


def comparison_svg(comparison: Comparison) -> str:
    """Both block maps in one drawing, A on the left.

    Raises:
        DrawingError: no Graphviz is installed, or it fails.
    """
    maps = [
        _marked("A", comparison.first.reading, comparison, first=True),
        _marked("B", comparison.second.reading, comparison, first=False),
    ]
    drawn = [block_map_svg(item).removesuffix("\n") for item in maps]
    sizes = [(float(found[1]), float(found[2])) for text in drawn if (found := _SIZE.search(text))]
    wide = sizes[0][0] + _GAP + sizes[1][0]
    high = max(height for _, height in sizes)
    shifted = drawn[1].replace("<svg ", f'<svg x="{sizes[0][0] + _GAP:.2f}" ', 1)
    words = " ".join(comparison.sentences)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}pt" height="{high:.2f}pt" '
            f'viewBox="0 0 {wide:.2f} {high:.2f}" role="img">',
            f"<title>{quoted(f'{maps[0].title} beside {maps[1].title}')}</title><desc>{quoted(words)}</desc>",
            f'<rect width="{wide:.2f}" height="{high:.2f}" fill="#ffffff"/>',
            _in_points(drawn[0]),
            _in_points(shifted),
            "</svg>",
            "",
        ]
    )


def schematic_pair(comparison: Comparison, library: Library | None = None) -> tuple[Figure, Figure]:
    """The compared part of both circuits as it works, reduced; parts without a counterpart are in a heavier line.

    Raises:
        DrawingError: a figure would not say what its circuit says.
        UsageError: nothing is left of what is compared.
    """
    paired = ({pair.first for pair in comparison.pairs}, {pair.second for pair in comparison.pairs})
    return _schematic(comparison.first, paired[0], library), _schematic(comparison.second, paired[1], library)


def _schematic(side: Side, paired: set[str], library: Library | None) -> Figure:
    whole = len(side.compared) == len(side.reading.circuit.parts)
    reduction = reduce(side.reading, "working", library=library)
    heavier = [ref for ref in side.compared if ref not in paired]
    return figure(reduction, only=() if whole else side.compared, heavier=heavier, library=library)


def _in_points(svg: str) -> str:
    """A drawing inside of another: its size in the units of the outer one."""
    return _SIZE.sub(lambda found: found[0].replace("pt", ""), svg, count=1)


def _marked(letter: str, reading: Reading, comparison: Comparison, *, first: bool) -> BlockMap:
    """The block map of one side, with a line in each box on its counterpart."""
    notes: dict[str, str] = {}
    for pair in comparison.blocks:
        own, other = (pair.first, pair.second) if first else (pair.second, pair.first)
        notes.setdefault(f"b{own.number}", _note(pair, other.telling, "B" if first else "A"))
    plain = block_map(reading)
    boxes = tuple(
        replace(box, notes=(*box.notes, notes[box.key])) if notes.get(box.key) else box for box in plain.boxes
    )
    return BlockMap(f"{letter}  {plain.title}", boxes, plain.arrows)


def _note(pair: BlockPair, refs: tuple[str, ...], letter: str) -> str:
    shown = " ".join(refs[:_MOST_REFS]) + (" ..." if len(refs) > _MOST_REFS else "")
    if not shown:
        return ""
    return f"by other means in {letter}: {shown}" if pair.relation == "other means" else f"in {letter}: {shown}"
