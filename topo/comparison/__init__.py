"""Two readings side by side, and one among many.

Takes two `Reading`s (or a focus on a part of one) and gives a `Comparison`: which part of the one does the work of
which part of the other, what is there by other means, what only one has, and how alike the two are. Of a single
reading it gives a `Form`, which names, polarity and values leave as it is, and by which a collection is ranked. What
counts as the same circuit or as the same end is said by the patterns' own data; the folder knows no pattern by name,
and nothing of how a comparison is printed.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.comparison.comparing import compare
    from topo.comparison.comparison import Comparison
    from topo.comparison.focus import Focus, focus_of

__all__ = ["Comparison", "Focus", "compare", "focus_of"]
_HOMES = {
    "compare": "comparing",
    "Comparison": "comparison",
    "Focus": "focus",
    "focus_of": "focus",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(name)
    return getattr(import_module(f"topo.comparison.{home}"), name)
