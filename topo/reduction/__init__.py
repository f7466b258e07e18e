"""The reduction of a circuit.

Takes a `Reading`, gives a `Reduction`: a smaller circuit, a ledger with the fate of every part (kept, merged or
omitted, by which rule and numbers), and the proof, for which the smaller circuit is solved again. What may go is said
by the patterns and by numbers; the folder knows no pattern by name, and nothing of how a reading is told or drawn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from topo.reduction.reduction import DETAILS, Entry, Reduction

if TYPE_CHECKING:
    from topo.reduction.asking import Steering, steering
    from topo.reduction.reducing import reduce, reductions, with_changes
    from topo.reduction.remarks import comments

__all__ = [
    "DETAILS",
    "Entry",
    "Reduction",
    "Steering",
    "comments",
    "reduce",
    "reductions",
    "steering",
    "with_changes",
]


def __getattr__(name: str) -> Any:
    if name in ("reduce", "reductions", "with_changes"):
        from topo.reduction import reducing

        return getattr(reducing, name)
    if name == "comments":
        from topo.reduction.remarks import comments

        return comments
    if name in ("Steering", "steering"):
        from topo.reduction import asking

        return getattr(asking, name)
    raise AttributeError(name)
