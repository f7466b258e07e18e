"""The survey of a large circuit: shapes of pieces, and how often each kind of block stands in the whole."""

from __future__ import annotations

from dataclasses import dataclass, field

from topo.errors import Problem
from topo.graph.pieces import Pieces
from topo.netlist.circuit import Circuit


@dataclass(frozen=True)
class Kind:
    """A kind of block: the pattern's slug, its trade name, what sort it is, and how often it is there."""

    pattern: str
    name: str
    sort: str
    count: int


@dataclass(frozen=True)
class Shape:
    """Pieces that are equal but for names, read once.

    `count` pieces have this shape; `parts` is the size of one, `first` and `last` the designators with which the first
    piece of the shape begins and ends, `line` where it begins in the file. `summary` says what it is, `kinds` are its
    blocks (of one piece), `blocks` each with its pattern and the designators of the first piece that it claims.
    `unrecognised` are designators of the first piece that are in no block. `refused` says why it was not read, ""
    where it was.
    """

    number: int
    count: int
    parts: int
    first: str
    last: str
    line: int
    summary: str = ""
    kinds: tuple[Kind, ...] = ()
    blocks: tuple[tuple[str, tuple[str, ...]], ...] = ()
    unrecognised: tuple[str, ...] = ()
    warnings: tuple[Problem, ...] = ()
    status: str = ""
    refused: str = ""


@dataclass(frozen=True)
class Overview:
    """What a large circuit is. `shapes` come in the order of their first pieces; `common` are the parts between rails
    alone, None where there are none. `kinds` are the blocks of the whole, the most frequent first."""

    circuit: Circuit
    pieces: Pieces = field(repr=False)
    shapes: tuple[Shape, ...]
    common: Shape | None
    kinds: tuple[Kind, ...]

    @property
    def read(self) -> int:
        """How many pieces were read, by themselves or by one that is the same."""
        return sum(shape.count for shape in self.shapes if not shape.refused)

    @property
    def unrecognised(self) -> int:
        """How many parts of what was read are in no block."""
        return sum(shape.count * len(shape.unrecognised) for shape in self._all() if not shape.refused)

    @property
    def summaries(self) -> tuple[tuple[str, int, Shape], ...]:
        """What the pieces are, each with how many are so and the first shape of them, the most frequent first."""
        found: dict[str, tuple[int, Shape]] = {}
        for shape in self.shapes:
            if not shape.refused:
                count, first = found.get(shape.summary, (0, shape))
                found[shape.summary] = (count + shape.count, first)
        rows = [(words, count, shape) for words, (count, shape) in found.items()]
        return tuple(sorted(rows, key=lambda row: (-row[1], row[2].number)))

    @property
    def warnings(self) -> tuple[tuple[Problem, int], ...]:
        """Each sort of warning, by the first of it, with how often it is given; the most frequent first."""
        found: dict[str, tuple[Problem, int]] = {}
        for shape in self._all():
            for problem in shape.warnings:
                first, count = found.get(problem.code or problem.message, (problem, 0))
                found[problem.code or problem.message] = (first, count + shape.count)
        return tuple(sorted(found.values(), key=lambda row: -row[1]))

    def _all(self) -> tuple[Shape, ...]:
        return self.shapes if self.common is None else (*self.shapes, self.common)

    def blocks_of(self, piece: int) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """The blocks of a piece, each as its pattern and its designators, from those of the first of its shape."""
        names = self.pieces.translation(piece)
        shape = self.shapes[int(self.pieces.shape[piece])]
        return tuple((pattern, tuple(names.get(ref, ref) for ref in refs)) for pattern, refs in shape.blocks)
