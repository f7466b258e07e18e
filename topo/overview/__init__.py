"""A large circuit read piece by piece, and summed up.

Takes a `Circuit` of any size, cuts it at its ideal rails, reads one piece of each shape, and gives an `Overview`: how
often each sub-circuit stands in it, what the pieces are, and what was not read. Only sums are kept, so that a circuit
of a hundred thousand parts needs little more memory than its own. It must know nothing of how a piece is read, and
prints nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.overview.overview import Kind, Overview, Shape
    from topo.overview.surveying import is_large, piece_with, pieces_to_read, survey

_HOMES = {
    "Kind": "overview",
    "Shape": "overview",
    "Overview": "overview",
    "is_large": "surveying",
    "piece_with": "surveying",
    "pieces_to_read": "surveying",
    "survey": "surveying",
}

__all__ = ["Kind", "Overview", "Shape", "is_large", "piece_with", "pieces_to_read", "survey"]


def __getattr__(name: str):
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"topo.overview.{home}"), name)
