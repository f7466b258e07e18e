"""Groups: what lies between the same two nodes and is judged as one, capacitors with junctions, coils by themselves."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from topo.graph.graph import Graph
from topo.views.junctions import Conductor
from topo.views.kinds import COILS

if TYPE_CHECKING:
    from topo.analysis.linear import Linear


@dataclass(frozen=True)
class Group:
    """Elements between the same two nodes, the lower node first; `kind` is "capacitor" (with junctions) or "coil".

    `elements` has the elements of the conductors too.
    """

    nodes: tuple[int, int]
    kind: str
    elements: tuple[int, ...]
    conductors: tuple[Conductor, ...] = ()

    def admittance(self, linear: Linear, frequency: float) -> complex:
        """Siemens of the whole group at a frequency in hertz, in the linearised circuit."""
        total = complex(sum(conductor.siemens for conductor in self.conductors))
        inside = {index for conductor in self.conductors for index in conductor.elements}
        for index in self.elements:
            if index not in inside:
                total += linear.admittance_of(index, frequency) or 0j
        return total


def make_groups(graph: Graph, conductors: Sequence[Conductor], fixed: Collection[int] = ()) -> tuple[Group, ...]:
    """All groups on raw nodes, in file order of their first element. Parts without a value are in none.

    Ground and the ideally fixed nodes are one node: a capacitor to the rail and one to ground are twins. Two chokes
    that would meet once their nets are one stay two groups: each is judged as it lies.
    """
    capacitors: dict[tuple[int, int], list[int]] = {}
    coils: dict[tuple[int, int], list[int]] = {}
    bridges: dict[tuple[int, int], list[Conductor]] = {}
    for element in graph.elements:
        if len(element.nodes) != 2 or element.nodes[0] == element.nodes[1]:
            continue
        pair = _pair(element.nodes[0], element.nodes[1], fixed)
        if element.kind == "capacitor" and element.value:
            capacitors.setdefault(pair, []).append(element.index)
        elif element.kind in COILS and (element.value is not None or element.kind == "bead"):
            coils.setdefault(pair, []).append(element.index)
    for conductor in conductors:
        bridges.setdefault(_pair(*conductor.nodes, fixed), []).append(conductor)
    found = []
    for pair in {**capacitors, **bridges}:
        inside = [index for conductor in bridges.get(pair, ()) for index in conductor.elements]
        elements = tuple(dict.fromkeys([*capacitors.get(pair, ()), *inside]))
        found.append(Group(pair, "capacitor", elements, tuple(bridges.get(pair, ()))))
    found.extend(Group(pair, "coil", tuple(elements)) for pair, elements in coils.items())
    return tuple(sorted(found, key=lambda group: (group.elements[0], group.kind)))


def _pair(a: int, b: int, fixed: Collection[int]) -> tuple[int, int]:
    """The two nodes, lower first, with 0 for a fixed one."""
    first, second = (0 if node in fixed else node for node in (a, b))
    return (first, second) if first <= second else (second, first)
