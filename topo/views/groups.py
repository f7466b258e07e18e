"""Groups: what lies between the same two nodes and is judged as one, capacitors with junctions, coils by themselves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from topo.graph.graph import Element, Graph
from topo.views.junctions import Conductor
from topo.views.kinds import COILS

BEAD_OHM = 100.0
"""Impedance of a bead without a value in a radio-frequency band (the netlist language's default)."""
WINDING_OHM = 0.01
"""Resistance of a coil that does not say (the netlist language's default)."""
RADIO_HZ = 100e3
"""A band that begins above this is radio frequency (common practice)."""


@dataclass(frozen=True)
class Group:
    """Elements between the same two nodes, the lower node first; `kind` is "capacitor" (with junctions) or "coil".

    `elements` has the elements of the conductors too.
    """

    nodes: tuple[int, int]
    kind: str
    elements: tuple[int, ...]
    conductors: tuple[Conductor, ...] = ()

    def admittance(self, graph: Graph, frequency: float) -> complex:
        """Siemens of the whole group at a frequency in hertz."""
        total = complex(sum(conductor.siemens for conductor in self.conductors))
        inside = {index for conductor in self.conductors for index in conductor.elements}
        for index in self.elements:
            if index not in inside:
                total += element_admittance(graph.elements[index], frequency)
        return total


def element_admittance(element: Element, frequency: float) -> complex:
    """Siemens of a capacitor, coil or bead at a frequency in hertz; 0 where its value is not known."""
    omega = 2.0 * math.pi * frequency
    if element.kind == "bead":
        if frequency < RADIO_HZ:
            return 1.0 / WINDING_OHM
        return 1.0 / complex(max(element.value or BEAD_OHM, WINDING_OHM))
    if element.value is None:
        return 0j
    if element.kind in COILS:
        return 1.0 / complex(element.params.get("rdc", WINDING_OHM), omega * element.value)
    return 1j * omega * element.value


def make_groups(graph: Graph, conductors: Sequence[Conductor]) -> tuple[Group, ...]:
    """All groups on raw nodes, in file order of their first element. Parts without a value are in none.

    Two chokes that would meet once their nets are one stay two groups: each is judged as it lies.
    """
    capacitors: dict[tuple[int, int], list[int]] = {}
    coils: dict[tuple[int, int], list[int]] = {}
    bridges: dict[tuple[int, int], list[Conductor]] = {}
    for element in graph.elements:
        if len(element.nodes) != 2 or element.nodes[0] == element.nodes[1]:
            continue
        pair = (min(element.nodes), max(element.nodes))
        if element.kind == "capacitor" and element.value:
            capacitors.setdefault(pair, []).append(element.index)
        elif element.kind in COILS and (element.value is not None or element.kind == "bead"):
            coils.setdefault(pair, []).append(element.index)
    for conductor in conductors:
        bridges.setdefault((min(conductor.nodes), max(conductor.nodes)), []).append(conductor)
    found = []
    for pair in {**capacitors, **bridges}:
        inside = [index for conductor in bridges.get(pair, ()) for index in conductor.elements]
        elements = tuple(dict.fromkeys([*capacitors.get(pair, ()), *inside]))
        found.append(Group(pair, "capacitor", elements, tuple(bridges.get(pair, ()))))
    found.extend(Group(pair, "coil", tuple(elements)) for pair, elements in coils.items())
    return tuple(sorted(found, key=lambda group: (group.elements[0], group.kind)))
