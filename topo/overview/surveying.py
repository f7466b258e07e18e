"""From a large circuit to its survey."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from topo.errors import CircuitError, TopoError
from topo.graph.pieces import Pieces, pieces
from topo.matching.shelf import Library, library
from topo.netlist.circuit import Circuit
from topo.overview.overview import Kind, Overview, Shape
from topo.reading import read
from topo.reading.reading import Reading

LARGE = 1_000
"""Circuits of more parts are surveyed, not explained part by part."""
LARGEST_PIECE = 1_500
"""Parts that hang together beside the rails, at most: reading them grows faster than their number."""
MOST_SHAPES = 20_000
"""Different pieces that are read in one circuit, at most."""
LONGEST_SUMMARY = 200

Progress = Callable[[int, int], None]


def is_large(circuit: Circuit) -> bool:
    """Whether a circuit is to be surveyed and not explained part by part."""
    return len(circuit.parts) > LARGE


def survey(circuit: Circuit, patterns: Library | None = None, progress: Progress | None = None) -> Overview:
    """The survey of a circuit.

    Args:
        patterns: the library; the shipped one if None.
        progress: told how many pieces are read, and how many there are, after each that was read by itself.
    Returns:
        An `Overview`. Each piece of a shape gets what the first of it gets, which is exact: they differ by names alone.
        A piece that is too large, or cannot be read, is told in its shape's `refused`.
    """
    patterns = library() if patterns is None else patterns
    cut = pieces(circuit)
    counts = cut.counts()
    shapes: list[Shape] = []
    done = 0
    for number, piece in enumerate(cut.first):
        shapes.append(_shape(cut, number, piece, counts[number], patterns))
        done += counts[number]
        if progress is not None:
            progress(done, len(cut))
    between = cut.between_rails()
    common = None if between is None or not len(cut.common) else _read(between, -1, 1, patterns)
    return Overview(circuit, cut, tuple(shapes), common, _kinds([*shapes, *([common] if common else [])]))


def _shape(cut: Pieces, number: int, piece: int, count: int, patterns: Library) -> Shape:
    size = cut.size(piece)
    if size > LARGEST_PIECE:
        words = f"{size} parts hang together beside the rails; at most {LARGEST_PIECE} can be read together"
        return _bare(cut.circuit, cut.places(piece), number, count, words)
    if number >= MOST_SHAPES:
        words = f"more than {MOST_SHAPES} different pieces"
        return _bare(cut.circuit, cut.places(piece), number, count, words)
    return _read(cut.cut_out(piece), number, count, patterns)


def _bare(circuit: Circuit, places: list[int], number: int, count: int, words: str) -> Shape:
    first, last = circuit.parts[places[0]], circuit.parts[places[-1]]
    return Shape(number, count, len(places), first.ref, last.ref, first.place.line, refused=words)


def _read(circuit: Circuit, number: int, count: int, patterns: Library) -> Shape:
    """The shape of a piece that is read."""
    places = list(range(len(circuit.parts)))
    try:
        reading = read(circuit, patterns)
    except TopoError as error:
        return _bare(circuit, places, number, count, str(error).split("\n")[0])
    first, last = circuit.parts[0], circuit.parts[-1]
    return Shape(
        number,
        count,
        len(places),
        first.ref,
        last.ref,
        first.place.line,
        reading.summary[:LONGEST_SUMMARY],
        _kinds_of(reading),
        tuple((block.pattern, block.parts) for block in reading.blocks),
        reading.not_recognised,
        reading.warnings,
        reading.views.point.status,
    )


def _kinds_of(reading: Reading) -> tuple[Kind, ...]:
    found: dict[str, Kind] = {}
    for block in reading.blocks:
        before = found.get(block.pattern)
        count = 1 if before is None else before.count + 1
        found[block.pattern] = Kind(block.pattern, block.name, block.sort, count)
    return tuple(found.values())


def _kinds(shapes: Iterable[Shape]) -> tuple[Kind, ...]:
    """The blocks of all pieces together, the most frequent first."""
    found: dict[str, Kind] = {}
    for shape in shapes:
        for kind in shape.kinds:
            before = found.get(kind.pattern)
            count = shape.count * kind.count + (0 if before is None else before.count)
            found[kind.pattern] = kind if before is None and shape.count == 1 else _counted(before or kind, count)
    return tuple(sorted(found.values(), key=lambda kind: (-kind.count, kind.name)))


def _counted(kind: Kind, count: int) -> Kind:
    return Kind(kind.pattern, kind.name, kind.sort, count)


def pieces_to_read(circuit: Circuit) -> Iterator[tuple[Circuit, int]]:
    """One piece of each shape as a circuit of its own, with how many there are; those that are too large left out."""
    cut = pieces(circuit)
    counts = cut.counts()
    for number, piece in enumerate(cut.first[:MOST_SHAPES]):
        if cut.size(piece) <= LARGEST_PIECE:
            yield cut.cut_out(piece), counts[number]


def piece_with(circuit: Circuit, ref: str) -> Circuit:
    """The piece of a circuit that holds a part, as a circuit of its own.

    Raises:
        CircuitError: there is no such part, or what hangs together with it is too large.
    """
    wanted = ref.casefold()
    place = next((place for place, part in enumerate(circuit.parts) if part.ref.casefold() == wanted), None)
    if place is None:
        raise CircuitError(f"{circuit.file}: there is no part {ref}.", parts=(ref,))
    cut = pieces(circuit)
    piece = cut.piece_of(place)
    if piece is None:
        raise CircuitError(
            f"{ref} lies between rails alone, and is part of no piece.", parts=(ref,), mend="Name another part."
        )
    if cut.size(piece) > LARGEST_PIECE:
        raise CircuitError(
            f"With {ref} {cut.size(piece)} parts hang together beside the rails; at most {LARGEST_PIECE} can be read "
            "together.",
            parts=(ref,),
        )
    return cut.cut_out(piece)
