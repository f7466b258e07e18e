"""The index of a progressive set of figures, as Markdown."""

from __future__ import annotations

from collections.abc import Sequence

from topo.drawing.series import StepFigure
from topo.report.markdown import quoted


def index_of(title: str, steps: Sequence[StepFigure], names: Sequence[str]) -> str:
    """A page with each figure, its caption and its alternative text; `names` are the files of the figures."""
    rows = [f"# {quoted(title)}, step by step", ""]
    for step, name in zip(steps, names, strict=True):
        rows += [f"## {step.number}. {quoted(step.heading)}", "", f"![{quoted(step.description)}]({name})", ""]
        if step.caption:
            first, *rest = (quoted(sentence) for sentence in step.caption)
            rows += [" ".join([f"**Figure {step.number}.** {first}", *rest]), ""]
    return "\n".join(rows)
