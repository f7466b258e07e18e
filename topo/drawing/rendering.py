"""Runs Graphviz: the system's `dot` where there is one, otherwise the `graphviz-pure` that pip installed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from topo.errors import TopoError

POINTS_PER_INCH = 72.0
SECONDS = 30


class DrawingError(TopoError):
    """A drawing that cannot be made, and why."""


@dataclass(frozen=True)
class Placed:
    """Where Graphviz put things, in points, y downwards.

    `centres` maps a node's name to its centre; `curves[k]` is the k-th edge's Bezier curve (1 + 3 n points), in
    the order in which the edges were given; `labels[k]` is the centre of that edge's label or None.
    """

    size: tuple[float, float]
    centres: dict[str, tuple[float, float]]
    curves: tuple[tuple[tuple[float, float], ...], ...]
    labels: tuple[tuple[float, float] | None, ...]


def program() -> str:
    """Path of the Graphviz to run.

    Raises:
        DrawingError: there is none.
    """
    beside = Path(sys.executable).parent
    found = shutil.which("dot") or shutil.which("graphviz-pure") or shutil.which("graphviz-pure", path=str(beside))
    if found is None:
        raise DrawingError("No Graphviz found for the block map: install graphviz-pure with pip, or Graphviz itself.")
    return found


def placed(source: str) -> Placed:
    """The layout of a graph in the DOT language, whose edges have an `id` of e0, e1, ... and no arrow heads;
    edges without an `id` only hold boxes in their rows.

    Raises:
        DrawingError: no Graphviz, or it refuses the graph.
    """
    command = [program(), "-Kdot", "-Tjson"]
    try:
        run = subprocess.run(command, input=source.encode(), capture_output=True, timeout=SECONDS, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise DrawingError(f"Graphviz did not lay out the block map: {error}") from error
    if run.returncode != 0:
        raise DrawingError(f"Graphviz refused the block map: {run.stderr.decode(errors='replace').strip()}")
    import json

    return _read(json.loads(run.stdout))


def _read(laid_out: dict) -> Placed:
    """Graphviz's JSON, turned so that y runs downwards."""
    _, _, right, height = (float(figure) for figure in laid_out["bb"].split(","))

    def point(text: str) -> tuple[float, float]:
        x, y = text.split(",")
        return float(x), height - float(y)

    centres = {item["name"]: point(item["pos"]) for item in laid_out.get("objects", ()) if "pos" in item}
    edges = sorted((e for e in laid_out.get("edges", ()) if "id" in e), key=lambda edge: int(edge["id"][1:]))
    curves = tuple(tuple(point(text) for text in edge["pos"].split()) for edge in edges)
    labels = tuple(point(edge["lp"]) if "lp" in edge else None for edge in edges)
    return Placed((right, height), centres, curves, labels)
