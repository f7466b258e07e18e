"""Drawings of a reading.

Takes a `Reading`, gives SVG: the block map, whose boxes and arrows Graphviz places and which is drawn with the
house's own look; and the schematic figure of a `Reading` or a `Reduction`. The same reading gives the same bytes. The
folder must not know what is said in words of a circuit, nor where the drawing is written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.drawing.boxes import BlockMap, block_map
    from topo.drawing.map_sheet import block_map_svg
    from topo.drawing.schematic.composing import Figure, figure

__all__ = ["BlockMap", "Figure", "block_map", "block_map_svg", "figure"]


def __getattr__(name: str) -> Any:
    if name == "block_map_svg":
        from topo.drawing.map_sheet import block_map_svg

        return block_map_svg
    if name in ("BlockMap", "block_map"):
        from topo.drawing import boxes

        return getattr(boxes, name)
    if name in ("Figure", "figure"):
        from topo.drawing import schematic

        return getattr(schematic, name)
    raise AttributeError(name)
