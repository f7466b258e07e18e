"""What no text may lie on: ink of items, wires and dots, as boxes in an array."""

from __future__ import annotations

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, fixed_boxes, rail_edges
from topo.drawing.schematic.layout import Placed

_DOT, _WIRE, _BODY = 0.3, 0.2, 0.15
_ABOUT = 9


class Obstacles:
    """The ink of a drawing, of a region of it where one is given."""

    def __init__(self, drawing: Drawing, region: g.Box | None = None) -> None:
        near = [place for place in drawing.placed if region is None or _is_near(place, region)]
        bodies = [(g.grown(box, _BODY), id(place)) for place in near for box in fixed_boxes(place)]
        steps = [edge for edges in drawing.wires.values() for edge in edges]
        steps += [edge for place in near for edge in rail_edges(place)]
        wires = _thick(np.array(sorted(steps), dtype=float).reshape(-1, 3))
        dots = np.array(drawing.dots(), dtype=float).reshape(-1, 2)
        dots = np.concatenate([dots - _DOT, dots + _DOT], axis=1)
        self.boxes = np.concatenate([np.array([box for box, _ in bodies]).reshape(-1, 4), wires, dots])
        self.owners = np.array([owner for _, owner in bodies] + [0] * (len(wires) + len(dots)), dtype=np.int64)
        if region is not None:
            kept = meeting(self.boxes, np.array([region]))[:, 0]
            self.boxes, self.owners = self.boxes[kept], self.owners[kept]

    def met_by(self, texts: np.ndarray, starts: np.ndarray, owner: Placed) -> np.ndarray:
        """The number of things that texts lie on; their own part only with its ink.

        Args:
            texts: boxes of texts, one a row; several texts that go together follow one another.
            starts: the first row of each group of texts; a thing that several of a group lie on counts once.
            owner: the item that they belong to.
        """
        low, high = texts.min(axis=0), texts.max(axis=0)
        reach = np.array([[low[0], low[1], high[2], high[3]]])
        near = meeting(self.boxes, reach)[:, 0]
        boxes = self.boxes[near]
        own = self.owners[near] == id(owner)
        boxes[own] += np.array([_BODY, _BODY, -_BODY, -_BODY])
        return np.logical_or.reduceat(meeting(texts, boxes), starts, axis=0).sum(axis=1)

    def meets_loose(self, text: np.ndarray) -> bool:
        """Whether a text that no part owns lies on anything but the box of a rail symbol that holds all of it."""
        met = meeting(text[None, :], self.boxes)[0]
        held = (self.boxes[:, :2] <= text[:2]).all(axis=1) & (text[2:] <= self.boxes[:, 2:]).all(axis=1)
        return bool((met & ~held).any())


def meeting(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Which boxes of one array have an area in common with which of another, pair by pair."""
    return (
        (one[:, None, 0] < two[None, :, 2])
        & (two[None, :, 0] < one[:, None, 2])
        & (one[:, None, 1] < two[None, :, 3])
        & (two[None, :, 1] < one[:, None, 3])
    )


def _is_near(place: Placed, region: g.Box) -> bool:
    return region[0] - _ABOUT < place.x < region[2] + _ABOUT and region[1] - _ABOUT < place.y < region[3] + _ABOUT


def _thick(steps: np.ndarray) -> np.ndarray:
    """The boxes of unit steps (x, y, 0 to the right or 1 downwards)."""
    x, y, down = steps[:, 0], steps[:, 1], steps[:, 2]
    return np.stack([x - _WIRE, y - _WIRE, x + 1 - down + _WIRE, y + down + _WIRE], axis=1)
