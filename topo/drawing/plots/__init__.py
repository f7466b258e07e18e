"""Plots of a circuit under drive: a cycle's waveforms, and the output over the input, with and without bias.

Takes a `Reading`, gives a `Plot`: SVG in the look of the schematic figures, in millimetres, its type sizes those in
print. What cannot be driven is a plot that says why. The folder must not know a pattern by name, nor where a plot is
written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.drawing.plots.composing import Plot, plot

__all__ = ["Plot", "plot"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from importlib import import_module

        return getattr(import_module("topo.drawing.plots.composing"), name)
    raise AttributeError(name)
