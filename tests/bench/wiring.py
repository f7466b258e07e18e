"""Four patterns of wiring for measuring, and their search by compiled queries on a circuit's integer columns.

A pattern is a list of parts with all their terminals; each terminal is on a net of the pattern or on a rail. What is
looked for is every set of parts and nets that is joined so: parts of those kinds, different parts and nets for
different ones, more parts on the nets or not.
"""

from __future__ import annotations

from functools import cache
from itertools import permutations
from typing import NamedTuple

import numpy as np

from topo.graph.columns import Columns
from topo.matching.relational import Atom, ColumnRelation, Query, compiled
from topo.netlist.circuit import Circuit

RAILS = ("gnd", "vcc")


class Wanted(NamedTuple):
    """A part of a pattern: its kind, and the label and net of each terminal."""

    kind: str
    terminals: tuple[tuple[str, str], ...]


class Wiring(NamedTuple):
    """A pattern; `alike` are the places of parts of which the first shall have the lower place in the file, where to
    exchange sides makes no other circuit: then `symmetry` images are one."""

    name: str
    parts: tuple[Wanted, ...]
    alike: tuple[tuple[int, int], ...] = ()
    symmetry: int = 1


def _part(kind: str, where: str) -> Wanted:
    """`b=n1 c=n2` names terminals; a bare net is a terminal without a label."""
    words = [word.rpartition("=") for word in where.split()]
    return Wanted(kind, tuple((label, net) for label, _, net in words))


PATTERNS = (
    Wiring(
        "push-pull pair, centre-tapped output transformer",
        (
            _part("npn", "b=b1 c=c1 e=e1"),
            _part("npn", "b=b2 c=c2 e=e2"),
            _part("resistor", "e1 gnd"),
            _part("resistor", "e2 gnd"),
            _part("transformer", "w1.end=c1 w1.tap=vcc w1.end=c2 w2.end=out w2.end=gnd"),
        ),
        alike=((0, 1),),
        symmetry=2,
    ),
    Wiring(
        "centre-tapped drive",
        (
            _part("npn", "b=bd c=cd e=ed"),
            _part("transformer", "w1.end=vd w1.end=cd w2.end=s1 w2.tap=ct w2.end=s2"),
            _part("resistor", "s1 b1"),
            _part("resistor", "s2 b2"),
            _part("npn", "b=b1 c=c1 e=e1"),
            _part("npn", "b=b2 c=c2 e=e2"),
        ),
        alike=((4, 5),),
        symmetry=2,
    ),
    Wiring(
        "resistor-and-diode bias",
        (_part("resistor", "vcc n"), _part("diode", "a=n k=gnd"), _part("capacitor", "n gnd")),
    ),
    Wiring(
        "common-emitter stage, divider bias",
        (
            _part("npn", "b=b c=c e=e"),
            _part("resistor", "v b"),
            _part("resistor", "b gnd"),
            _part("resistor", "v c"),
            _part("resistor", "e f"),
            _part("resistor", "f gnd"),
        ),
    ),
)


def labels_of(kind: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """The labels of a part's terminals: none where its ends may be exchanged, ends and taps of windings, else names."""
    if kind in ("resistor", "capacitor", "electrolytic", "speaker"):
        return ("",) * len(names)
    if kind != "transformer":
        return names
    last = {name.split(".")[0]: name for name in names}
    return tuple(
        f"{name.split('.')[0]}.{'end' if name.endswith('.1') or name in last.values() else 'tap'}" for name in names
    )


class Buckets:
    """The relations of one circuit's columns, by kind and by which terminals are on which rail; made when asked for."""

    def __init__(self, circuit: Circuit, table: Columns) -> None:
        self.table = table
        self.rail_of = {"gnd": 0, "vcc": table.rails[0]}
        self.free = np.ones(table.count, dtype=bool)
        self.free[list(self.rail_of.values())] = False
        self.kind_of: dict[tuple[str, tuple[str, ...]], list[int]] = {}
        for number, place in enumerate(table.examples):
            part = circuit.parts[place]
            names = tuple(terminal.name for terminal in part.terminals)
            self.kind_of.setdefault((part.kind, labels_of(part.kind, names)), []).append(number)
        self._tables: dict[tuple[str, tuple[str, ...]], tuple[np.ndarray, list[np.ndarray], list[np.ndarray]]] = {}
        self._relations: dict[tuple, ColumnRelation] = {}

    def relation(self, wanted: Wanted) -> ColumnRelation:
        """(place of the part, its nets that are no rails) for each way in which a part may be the wanted one."""
        key = (wanted.kind, tuple((label, net if net in RAILS else "") for label, net in wanted.terminals))
        found = self._relations.get(key)
        if found is None:
            columns: list[list[np.ndarray]] = []
            for signature in self.kind_of:
                if signature[0] == wanted.kind and sorted(signature[1]) == sorted(label for label, _ in key[1]):
                    columns.extend(self._columns(signature, key[1]))
            width = 1 + sum(1 for _, rail in key[1] if not rail)
            whole = [np.concatenate([some[place] for some in columns]) for place in range(width)]
            found = self._relations[key] = ColumnRelation(whole, max(self.table.count, self.table.parts))
        return found

    def _columns(self, signature, terminals) -> list[list[np.ndarray]]:
        """The columns of the parts of one form, for each way in which its terminals may be the wanted ones."""
        places, nets, held = self._table(signature)
        found: list[list[np.ndarray]] = []
        for order in _orders(signature[1], tuple(label for label, _ in terminals)):
            fits = None
            for column, (_, rail) in zip(order, terminals, strict=True):
                here = nets[column] == self.rail_of[rail] if rail else held[column]
                fits = here if fits is None else fits & here
            free = [column for column, (_, rail) in zip(order, terminals, strict=True) if not rail]
            chosen = np.flatnonzero(fits)
            found.append([places[chosen], *(nets[column][chosen] for column in free)])
        return found

    def _table(self, signature) -> tuple[np.ndarray, list[np.ndarray], list[np.ndarray]]:
        """Places, and for each terminal its nets and whether they are no rails, of the parts of one kind and form."""
        found = self._tables.get(signature)
        if found is None:
            table = self.table
            chosen = np.zeros(len(table.examples), dtype=bool)
            chosen[self.kind_of[signature]] = True
            places = np.flatnonzero(chosen[table.descriptions])
            begins = table.starts[places]
            nets = [table.nets[begins + column] for column in range(len(signature[1]))]
            found = self._tables[signature] = (places, nets, [self.free[column] for column in nets])
        return found


@cache
def _orders(labels: tuple[str, ...], wanted: tuple[str, ...]) -> tuple[tuple[int, ...], ...]:
    """The ways to take a part's terminals for the wanted ones: known with the plan, whatever the circuit."""
    ways = permutations(range(len(labels)))
    return tuple(order for order in ways if tuple(labels[place] for place in order) == wanted)


def query_of(wiring: Wiring) -> Query:
    """The query of a pattern: variables are its parts, then its nets."""
    nets = [net for part in wiring.parts for _, net in part.terminals if net not in RAILS]
    number = {net: len(wiring.parts) + place for place, net in enumerate(dict.fromkeys(nets))}
    atoms = tuple(
        Atom(place, (place, *(number[net] for _, net in part.terminals if net not in RAILS)))
        for place, part in enumerate(wiring.parts)
    )
    kinds = [part.kind for part in wiring.parts]
    differ = [
        (a, b) for b in range(len(kinds)) for a in range(b) if kinds[a] == kinds[b] and (a, b) not in wiring.alike
    ]
    ends = sorted(number.values())
    differ += [(a, b) for a in ends for b in ends if a < b]
    return Query(atoms, tuple(differ), wiring.alike, tuple(range(len(kinds))))


QUERIES = {wiring.name: query_of(wiring) for wiring in PATTERNS}


def find(circuit: Circuit, table: Columns, wirings: tuple[Wiring, ...] = PATTERNS) -> dict[str, list[tuple[int, ...]]]:
    """The places of the parts of every match of each pattern, one for each class of symmetry."""
    buckets = Buckets(circuit, table)
    found = {}
    for wiring in wirings:
        relations = [buckets.relation(part) for part in wiring.parts]
        plan = compiled(QUERIES[wiring.name], relations)
        found[wiring.name] = plan(relations)
    return found
