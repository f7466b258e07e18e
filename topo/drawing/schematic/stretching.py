"""Grid lines put in where a text has no room, and taken out where nothing needs them."""

from __future__ import annotations

from topo.drawing.schematic.drawing import Drawing


def settle(drawing: Drawing) -> Drawing:
    return drawing
