"""A large circuit cut at its ideal rails: pieces that only rails join, and which of them are the same.

Nothing passes from one piece to another through a net whose voltage an ideal source fixes: neither a direct current
nor a signal. So each piece may be solved and read by itself, exactly; and pieces that are equal line by line, but for
the names of their parts and nets, need it only once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from topo.graph.columns import Columns, Integers, columns
from topo.netlist.circuit import Circuit, Port


@dataclass(frozen=True, eq=False)
class Pieces:
    """The pieces of a circuit, in the order of their first parts.

    `order` (parts,) are places of parts, piece by piece, each in file order; `starts` (pieces + 1,) where each piece
    begins in it. `shape` (pieces,) is the shape of each, `first` the first piece of each shape. `common` are the places
    of parts that lie between rails alone and belong to no piece; `makers` those of parts that join or make rails, which
    belong to every piece that they feed.
    """

    circuit: Circuit
    table: Columns
    order: Integers
    starts: Integers
    shape: Integers
    first: tuple[int, ...]
    common: Integers
    makers: tuple[int, ...] = ()

    def __len__(self) -> int:
        return len(self.starts) - 1

    def size(self, piece: int) -> int:
        """How many parts a piece has."""
        return int(self.starts[piece + 1] - self.starts[piece])

    def counts(self) -> list[int]:
        """How many pieces each shape has."""
        return np.bincount(self.shape, minlength=len(self.first)).tolist() if len(self) else []

    def of_shape(self, shape: int) -> list[int]:
        """The pieces of a shape, in order."""
        return np.flatnonzero(self.shape == shape).tolist()

    def refs(self, piece: int) -> list[str]:
        """The designators of a piece's parts, in file order."""
        return [self.circuit.parts[place].ref for place in self.places(piece)]

    def places(self, piece: int) -> list[int]:
        """The places of a piece's parts in the circuit."""
        return self.order[self.starts[piece] : self.starts[piece + 1]].tolist()

    def translation(self, piece: int) -> dict[str, str]:
        """The designators of the first piece of the same shape, each with the one that stands for it in this piece."""
        first = self.first[int(self.shape[piece])]
        return dict(zip(self.refs(first), self.refs(piece), strict=True))

    def everywhere(self, shape: int, places: Sequence[int]) -> Integers:
        """Places of parts for every piece of a shape, (pieces, places): each stands for one of the first piece, which
        is told by its place within the piece."""
        begins = self.starts[:-1][self.shape == shape]
        return self.order[begins[:, None] + np.asarray(places, dtype=np.int32)[None, :]]

    def piece_of(self, place: int) -> int | None:
        """The piece of the part at a place of the circuit; None for one that lies between rails alone."""
        found = np.flatnonzero(self.order == place)
        return int(np.searchsorted(self.starts, found[0], side="right")) - 1 if len(found) else None

    def cut_out(self, piece: int) -> Circuit:
        """A piece as a circuit of its own, with the rails that it hangs on and what makes them."""
        return _circuit_of(self.circuit, self.places(piece), self.makers)

    def between_rails(self) -> Circuit | None:
        """The parts between rails alone as a circuit of their own; None where there are none."""
        places = sorted({*self.common.tolist(), *self.makers})
        return _circuit_of(self.circuit, places, self.makers) if places else None


def pieces(circuit: Circuit, table: Columns | None = None) -> Pieces:
    """The pieces of a circuit.

    Args:
        table: the circuit's columns, where they are made already.
    Returns:
        `Pieces`. A rail that is given with a resistance of its own is not ideal and joins what hangs on it.
    """
    table = columns(circuit) if table is None else table
    fixed, makers = _rails(table)
    part = np.repeat(np.arange(table.parts, dtype=np.int32), np.diff(table.starts))
    free = ~fixed[table.nets]
    label = _labels(table, part[free], table.nets[free])
    lies_free = np.zeros(table.parts, dtype=bool)
    lies_free[part[free]] = True
    places = np.flatnonzero(lies_free).astype(np.int32)
    order = places[np.argsort(label[places], kind="stable")]
    sorted_labels = label[order]
    begins = np.flatnonzero(sorted_labels[1:] != sorted_labels[:-1]) + 1
    starts = np.concatenate(([0] if len(order) else [], begins, [len(order)])).astype(np.int32)
    shape, first = _shapes(table, fixed, order, starts)
    common = np.flatnonzero(~lies_free).astype(np.int32)
    return Pieces(circuit, table, order, starts, shape, first, common, makers)


def _rails(table: Columns) -> tuple[np.ndarray, tuple[int, ...]]:
    """Which nets are ideally fixed, and the places of parts that join such nets with one another or make them."""
    fixed = np.zeros(table.count, dtype=bool)
    fixed[[0, *table.rails]] = True
    makers: dict[int, None] = {}
    changed = True
    while changed:
        changed = False
        for place, one, other in table.ties:
            if fixed[one] != fixed[other]:
                fixed[one] = fixed[other] = changed = True
                makers[place] = None
    return fixed, tuple(sorted(makers))


def _labels(table: Columns, part: Integers, nets: Integers) -> Integers:
    """For each part the least place of a part that hangs together with it, by terminals that lie on free nets.

    Of two groups that a net joins, the later one is hooked to the root of the earlier; then each part is told its root.
    """
    label = np.arange(table.parts, dtype=np.int32)
    by_net = np.argsort(nets, kind="stable")
    on_net = nets[by_net]
    joined = np.flatnonzero(on_net[1:] == on_net[:-1])
    one, other = part[by_net[joined]], part[by_net[joined + 1]]
    while len(one):
        np.minimum.at(label, np.maximum(one, other), np.minimum(one, other))
        fresh = label[label]
        while not np.array_equal(fresh, label):
            label, fresh = fresh, fresh[fresh]
        one, other = label[one], label[other]
        apart = one != other
        one, other = one[apart], other[apart]
    return label


def _shapes(table: Columns, fixed: np.ndarray, order: Integers, starts: Integers) -> tuple[Integers, tuple[int, ...]]:
    """The shape of each piece, and the first piece of each shape.

    Two pieces have one shape if their parts, in file order, are equal and lie on the same nets when those are numbered
    as they are met; rails are the same rails, and ports and supplies say the same of them.
    """
    widths = np.diff(table.starts)[order]
    ends = np.cumsum(widths, dtype=np.int32)
    place = np.arange(int(ends[-1]) if len(ends) else 0, dtype=np.int32)
    nets = table.nets[np.repeat(table.starts[:-1][order] - (ends - widths), widths) + place]
    met = np.zeros(table.count, dtype=np.int32)
    met[nets[::-1]] = place[::-1]
    held = fixed[nets]
    first_met = met[nets]
    numbered = np.cumsum((first_met == place) & ~held, dtype=np.int32)
    bounds = np.append(0, ends)[starts]
    base = np.append(0, numbered)[bounds[:-1]]
    piece_at = np.repeat(np.arange(len(starts) - 1, dtype=np.int32), np.diff(bounds))
    local = np.where(held, -1 - nets, numbered[first_met] - base[piece_at]).astype(np.int32)
    piece_of = np.full(table.count, -1, dtype=np.int32)
    piece_of[nets] = piece_at
    piece_of[fixed] = -1
    name_of = -1 - np.arange(table.count, dtype=np.int32)
    name_of[nets] = local
    told, told_bounds = _told(table, piece_of, name_of, len(starts) - 1)
    softly: dict[int, list[tuple]] = {}
    for net, volts, ohms in table.soft:
        softly.setdefault(int(piece_of[net]), []).append((int(name_of[net]), volts, ohms))
    kinds = table.descriptions[order]
    known: dict[tuple, int] = {}
    shape: list[int] = []
    first: list[int] = []
    limits, places = bounds.tolist(), starts.tolist()
    for piece in range(len(places) - 1):
        key = (
            kinds[places[piece] : places[piece + 1]].tobytes(),
            local[limits[piece] : limits[piece + 1]].tobytes(),
            told[told_bounds[piece] : told_bounds[piece + 1]].tobytes(),
            tuple(softly.get(piece, ())),
        )
        found = known.setdefault(key, len(known))
        if found == len(first):
            first.append(piece)
        shape.append(found)
    return np.array(shape, dtype=np.int32), tuple(first)


def _told(table: Columns, piece_of: Integers, name_of: Integers, count: int) -> tuple[Integers, list[int]]:
    """The rows of the ports with their nets' numbers in their pieces, piece by piece, and where each piece's begin."""
    rows = table.ports
    owner = piece_of[rows[:, 1]]
    rows = np.stack((rows[:, 0], name_of[rows[:, 1]], name_of[rows[:, 2]]), axis=1)
    order = np.argsort(owner, kind="stable")
    order = order[owner[order] >= 0]
    return rows[order], np.searchsorted(owner[order], np.arange(count + 1)).tolist()


def _circuit_of(circuit: Circuit, places: Sequence[int], makers: Sequence[int]) -> Circuit:
    """Some parts of a circuit as a circuit of their own, with the parts among `makers` that make rails for them."""
    chosen = dict.fromkeys(places)
    nets = {terminal.net for place in places for terminal in circuit.parts[place].terminals}
    added = True
    while added:
        added = False
        for place in makers:
            own = [terminal.net for terminal in circuit.parts[place].terminals]
            if place not in chosen and nets & set(own) - {circuit.ground}:
                chosen[place] = None
                nets.update(own)
                added = True
    parts = tuple(circuit.parts[place] for place in sorted(chosen))
    inputs, outputs = _ports(circuit.inputs, nets), _ports(circuit.outputs, nets)
    rails = {port.reference for port in inputs + outputs}
    named = dict.fromkeys(terminal.net for part in parts for terminal in part.terminals)
    named.update(dict.fromkeys(supply.net for supply in circuit.supplies if supply.net in rails))
    used = {part.section for part in parts}
    return replace(
        circuit,
        parts=parts,
        nets=tuple(named),
        supplies=tuple(supply for supply in circuit.supplies if supply.net in named),
        inputs=inputs,
        outputs=outputs,
        bands={section: band for section, band in circuit.bands.items() if section is None or section in used},
        sections=tuple(name for name in circuit.sections if name in used),
        aliases={},
        net_places={name: circuit.net_places[name] for name in nets if name in circuit.net_places},
        warnings=(),
    )


def _ports(ports: Sequence[Port], nets: set[str]) -> tuple[Port, ...]:
    return tuple(port for port in ports if port.net in nets)
