"""The progressive set: one circuit in steps, from its bare principle to the whole.

Takes a `Reading`, gives `Step` figures. The whole circuit is laid out once; each step leaves out what is not yet there,
so that each part stands at the same place in every step. Every step is a circuit of its own, and its figure is read
back and compared with it. The folder must not know a pattern by name, nor where the set is written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.drawing.series.composing import StepFigure, series

__all__ = ["StepFigure", "series"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from topo.drawing.series import composing

        return getattr(composing, name)
    raise AttributeError(name)
