"""A circuit as integer columns: a few dozen bytes a part, whatever its size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from topo.graph.links import LINK_OHM, Shunts, joined_nets
from topo.netlist.circuit import Circuit, Part

Integers = NDArray[np.int32]

LINKS = frozenset(("fuse", "switch", "meter", "selector", "relay", "source"))
"""Kinds that may be wires as they stand."""


@dataclass(frozen=True, eq=False)
class Columns:
    """The terminals of a circuit's parts, in file order.

    `descriptions` (parts,) numbers what each part is but for its designator and its nets: equal numbers mean equal
    parts. `starts` (parts + 1,) is where each part's terminals begin, `nets` (terminals,) the number of the net of
    each; ground is 0. `ports` (ports, 3) are rows of 0 for an input or 1 for an output, net, reference. `rails` are the
    nets of ideal supplies, `soft` (net, volts, ohm) of the others; `ties` (place of the part, net, net) are parts that
    make an ideal rail of one net where the other is one. `examples` are the
    places of the first part of each description.
    """

    count: int
    descriptions: Integers
    starts: Integers
    nets: Integers
    ports: Integers
    rails: tuple[int, ...]
    soft: tuple[tuple[int, float, float], ...]
    ties: tuple[tuple[int, int, int], ...]
    examples: tuple[int, ...]

    @property
    def parts(self) -> int:
        """How many parts there are."""
        return len(self.descriptions)

    @property
    def nbytes(self) -> int:
        """Bytes of the columns."""
        return self.descriptions.nbytes + self.starts.nbytes + self.nets.nbytes + self.ports.nbytes


def columns(circuit: Circuit) -> Columns:
    """The columns of a circuit."""
    numbers: dict[str, int] = {circuit.ground: 0}
    for name in circuit.nets:
        numbers.setdefault(name, len(numbers))
    known: dict[tuple, int] = {}
    descriptions: list[int] = []
    examples: list[int] = []
    starts, nets = [0], []
    for place, part in enumerate(circuit.parts):
        number = known.setdefault(_description(part), len(known))
        if number == len(examples):
            examples.append(place)
        descriptions.append(number)
        for terminal in part.terminals:
            nets.append(numbers.setdefault(terminal.net, len(numbers)))
        starts.append(len(nets))
    ports = [(0, port) for port in circuit.inputs] + [(1, port) for port in circuit.outputs]
    rows = [(word, _number(numbers, port.net), _number(numbers, port.reference)) for word, port in ports]
    supplies = [(_number(numbers, supply.net), supply) for supply in circuit.supplies]
    ties = tuple(_ties(circuit, numbers))
    return Columns(
        len(numbers),
        _integers(descriptions),
        _integers(starts),
        _integers(nets),
        np.array(rows, dtype=np.int32).reshape(len(rows), 3),
        tuple(number for number, supply in supplies if supply.resistance == 0),
        tuple((number, supply.volts, supply.resistance) for number, supply in supplies if supply.resistance != 0),
        ties,
        tuple(examples),
    )


def _number(numbers: dict[str, int], name: str) -> int:
    return numbers.setdefault(name, len(numbers))


def _ties(circuit: Circuit, numbers: dict[str, int]) -> Iterator[tuple[int, int, int]]:
    """The parts that hand a fixed voltage on from net to net: links, batteries, and sources that are no drives."""
    shunts = Shunts(circuit)
    ports = {frozenset((port.net, port.reference)) for port in circuit.inputs + circuit.outputs}
    for place, part in enumerate(circuit.parts):
        if part.kind in ("battery", "source") and part.value != 0:
            nets = [terminal.net for terminal in part.terminals]
            if part.value and len(nets) == 2 and frozenset(nets) not in ports:
                yield place, numbers[nets[0]], numbers[nets[1]]
        elif part.kind in LINKS or (part.kind == "resistor" and part.value is not None and part.value < LINK_OHM):
            for one, other, _ in joined_nets(circuit, part, {}, shunts):
                yield place, numbers[one], numbers[other]


def _integers(values: list[int]) -> Integers:
    return np.array(values, dtype=np.int32)


def _description(part: Part) -> tuple:
    """All that a part is, but for its designator, its nets and its place in the file."""
    return (
        part.kind,
        part.value,
        part.value_text,
        part.type_name,
        part.section,
        tuple([terminal.name for terminal in part.terminals]),
        part.windings,
        _sorted(part.params),
        _sorted(part.settings),
        _sorted(part.ratings),
    )


def _sorted(table: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((key, repr(value)) for key, value in table.items())) if table else ()
