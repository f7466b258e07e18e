"""The explanation of a reading, in words.

Takes a `Reading` and its `Reduction`s, gives an `Explanation`: statements in signal order, each with the parts that it
rests on, filled from the texts of the patterns. No number is said that was not computed. The folder must not know how
the statements are set: on a terminal, as Markdown, or as JSON.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from topo.explanation.statements import VOICES, BlockText, Explanation, PartLine, Statement

if TYPE_CHECKING:
    from topo.explanation.explaining import explain

__all__ = ["VOICES", "BlockText", "Explanation", "PartLine", "Statement", "explain"]


def __getattr__(name: str) -> Any:
    if name == "explain":
        from topo.explanation.explaining import explain

        return explain
    raise AttributeError(name)
