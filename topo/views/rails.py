"""Derived rails: nets that stand still for the signal and feed like a rail, being decoupled or switched from one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.views.junctions import Conductor
from topo.views.kinds import COILS, DEVICES, DIODES, EMITTING, control_terminals, electrodes
from topo.views.leads import BIAS_DROP
from topo.views.view import DerivedRail, Tank, View

LARGEST_DROP = 0.6
"""Share of the feeding rail that may be lost on the way; below that the net is a bias or reference net."""
DIODE_DROP = 1.5
"""Volts that a diode in a supply lead may drop."""

# Kinds of resistance that may stand in a supply lead.
FEEDING = frozenset({"resistor", "thermistor", "lamp"})


def derived_rails(
    graph: Graph,
    point: OperatingPoint,
    dc: View,
    signals: Sequence[View],
    switches: Sequence[int],
    conductors: Sequence[Conductor],
    bands_of: Mapping[int, Sequence[int]],
    tanks: Sequence[Tank] = (),
) -> tuple[DerivedRail, ...]:
    """The derived rails, those that hang on a hard rail first, then those that hang on these.

    A derived rail is 0 in a signal view, and in those of the devices and tuned circuits on it; hangs on a rail by
    a resistor, thermistor, lamp, choke or winding and has a capacitor to a hard net, or hangs on it by a saturated
    transistor; loses at most 60 % of the rail; reaches no control terminal in the DC view; meets no conducting
    junction but one that feeds it; and feeds more than emitters.
    """
    search = _Search(graph, point, dc, switches, conductors)
    still = [
        node
        for node in range(1, len(graph.nets))
        if node not in graph.rails
        and any(view.class_of[node] == view.zero for view in signals)
        and all(signals[band].class_of[node] == signals[band].zero for band in _bands_at(graph, node, bands_of, tanks))
    ]
    found: dict[int, DerivedRail] = {}
    changed = True
    while changed:
        changed = False
        for node in still:
            if node not in found:
                rail = search.rail_at(node, found)
                if rail is not None:
                    found[node] = rail
                    changed = True
    return tuple(found.values())


def _bands_at(graph: Graph, node: int, bands_of: Mapping[int, Sequence[int]], tanks: Sequence[Tank]) -> set[int]:
    """The bands of the devices that have an electrode on a node, and of the tuned circuits that end there."""
    of_devices = {band for index, _ in graph.at_node[node] for band in bands_of.get(index, ())}
    return of_devices | {tank.band for tank in tanks if node in tank.nodes}


class _Search:
    """The tests that a net must pass."""

    def __init__(
        self,
        graph: Graph,
        point: OperatingPoint,
        dc: View,
        switches: Sequence[int],
        conductors: Sequence[Conductor],
    ) -> None:
        self.graph, self.point, self.dc = graph, point, dc
        self.switches = frozenset(switches)
        self.junction_ends = {
            node: conductor for conductor in conductors if conductor.what == "junction" for node in conductor.nodes
        }
        self.hard = {0, *graph.rails}
        self.hard_classes = {dc.class_of[node] for node in self.hard}

    def rail_at(self, node: int, found: dict[int, DerivedRail]) -> DerivedRail | None:
        """The derived rail that a node is, if any."""
        sources = {**self.graph.rails, **{other: rail.volts for other, rail in found.items()}}
        capacitors = tuple(index for index, _ in self.graph.at_node[node] if self._is_decoupling(index, node))
        for source in sources:
            feed = self._feed(node, source, bool(capacitors))
            if feed and self._stands_like(node, sources[source]) and self._is_supply(node, feed):
                return DerivedRail(node, source, feed, capacitors, self.point.volts[node])
        return None

    def _is_decoupling(self, index: int, node: int) -> bool:
        element = self.graph.elements[index]
        if element.kind != "capacitor" or len(element.nodes) != 2:
            return False
        other = element.nodes[1] if element.nodes[0] == node else element.nodes[0]
        return other in self.hard

    def _feed(self, node: int, source: int, decoupled: bool) -> tuple[int, ...]:
        """Elements through which a source feeds a node, () if it does not."""
        for index, _ in self.graph.at_node[node]:
            element = self.graph.elements[index]
            if index in self.switches and element.kind in DEVICES:
                _, emitting, collecting = (element.node(name) for name in electrodes(element))
                if {emitting, collecting} == {node, source}:
                    return (index,)
            feeds = element.kind in DIODES and source in element.nodes and self._is_forward(index)
            if decoupled and feeds and abs(self.point.volts[node] - self.point.volts[source]) <= DIODE_DROP:
                return (index,)
        if not decoupled:
            return ()
        here, there = self.dc.class_of[node], self.dc.class_of[source]
        if here == there:
            through = self.dc.why(node, source) or ()
            return through if all(self._is_coil(index) for index in through) else ()
        for position in self.dc.branches_at.get(here, ()):
            branch = self.dc.branches[position]
            if branch.kind in FEEDING and branch.part_of is None and set(branch.ends) == {here, there}:
                near, far = branch.nodes if branch.ends[0] == here else branch.nodes[::-1]
                onward = (*branch.elements, *(self.dc.why(far, source) or ()))
                return (*(self.dc.why(node, near) or ()), *onward)
        return ()

    def _is_coil(self, index: int) -> bool:
        return self.graph.elements[index].kind in COILS or index in self.graph.windings_of

    def _is_forward(self, index: int) -> bool:
        return self.point.states.get(index) == "forward"

    def _stands_like(self, node: int, source_volts: float) -> bool:
        """Whether the node's voltage is of the rail's sign and keeps enough of it; unknown voltages pass."""
        volts = self.point.volts[node]
        if math.isnan(volts) or math.isnan(source_volts):
            return True
        if volts * source_volts < 0 or abs(volts) > abs(source_volts) * 1.001:
            return False
        return abs(source_volts - volts) <= LARGEST_DROP * abs(source_volts)

    def _is_supply(self, node: int, feed: tuple[int, ...]) -> bool:
        """Whether a net feeds like a rail: no bias net, no reference, and more on it than emitters."""
        cls = self.dc.class_of[node]
        nodes = (node,) if cls in self.hard_classes else self.dc.members[cls]
        if any(self._controls(other) for other in nodes):
            return False
        if cls not in self.hard_classes and self._steers_through_a_lead(cls):
            return False
        for other in nodes:
            conductor = self.junction_ends.get(other)
            if conductor is not None and conductor.elements[0] not in feed:
                return False
        return self._feeds_more_than_emitters(nodes, feed)

    def _controls(self, node: int) -> bool:
        return any(
            terminal in control_terminals(self.graph.elements[index]) for index, terminal in self.graph.at_node[node]
        )

    def _steers_through_a_lead(self, cls: int) -> bool:
        """Whether a control terminal hangs on the class through a resistor that drops next to nothing."""
        for position in self.dc.branches_at.get(cls, ()):
            branch = self.dc.branches[position]
            if branch.kind != "resistor":
                continue
            side = 1 if branch.ends[0] == cls else 0
            far = branch.ends[side]
            if far in self.dc.rails:
                continue
            drop = abs(self.point.volts[branch.nodes[0]] - self.point.volts[branch.nodes[1]])
            if not drop > BIAS_DROP and any(self._controls(other) for other in self.dc.members[far]):
                return True
        return False

    def _feeds_more_than_emitters(self, nodes: Sequence[int], feed: tuple[int, ...]) -> bool:
        """Whether something else than emitting electrodes and capacitors hangs on the net."""
        emitters = others = 0
        for node in nodes:
            for index, terminal in self.graph.at_node[node]:
                element = self.graph.elements[index]
                if index in feed or element.kind == "capacitor":
                    continue
                if element.kind in DEVICES and terminal == EMITTING[element.kind]:
                    emitters += 1
                else:
                    others += 1
        return others > 0 or emitters == 0
