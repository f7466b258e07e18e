"""The schematic figure.

Takes a `Reading` or a `Reduction`, gives a `Figure`: SVG of our own geometry. Parts are placed one by one where wires,
texts and the order of the signal ask for least, the sides of a push-pull circuit as mirror images; a router of its own
lays the wires. Every figure is read back from its own shapes and compared with the circuit before it is given. The same
input gives the same bytes: coordinates are integers, steps are counted, no clock is asked. The folder must not know
any pattern by name, nor where a figure is written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.drawing.schematic.composing import Figure, figure
    from topo.drawing.schematic.engine import DrawingError

__all__ = ["DrawingError", "Figure", "figure"]


def __getattr__(name: str) -> Any:
    if name == "DrawingError":
        from topo.drawing.schematic.engine import DrawingError

        return DrawingError
    if name in ("Figure", "figure"):
        from importlib import import_module

        return getattr(import_module("topo.drawing.schematic.composing"), name)
    raise AttributeError(name)
