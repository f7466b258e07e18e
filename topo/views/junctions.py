"""What conducts at rest and so may be a wire for the signal: junctions, chains of them, VBE multipliers, switches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Element, Graph
from topo.views.kinds import BIPOLAR, DEVICES, DIODES, electrodes
from topo.views.leads import BIAS_DROP, SMALL_STOPPER_OHM, STRAY_FARAD
from topo.views.view import Branch, View

if TYPE_CHECKING:
    from topo.analysis.linear import Linear

LEAST_SIEMENS = 10e-6
"""A junction below this conducts nothing worth the name (0.26 uA of silicon)."""
CHAIN_OHM = 2e3
"""Largest resistor that may stand in a chain of junctions (held on a few dozen circuits)."""
BOLTZMANN_OVER_CHARGE = 8.617333e-5
"""k/q in volts a kelvin (CODATA)."""


@dataclass(frozen=True)
class Conductor:
    """Something that conducts at rest between two nodes: its elements, small-signal siemens, and what it is.

    `what` is "junction", "spreader" (junctions and resistors in series), "multiplier", "follower" (what a bias
    follower shows at its emitter), or "resistor" (only inside a chain).
    `wires` are the joints (node, node, element) that it makes if it is found to be a wire.
    """

    nodes: tuple[int, int]
    elements: tuple[int, ...]
    siemens: float
    what: str
    wires: tuple[tuple[int, int, int], ...]


def thermal_volts(graph: Graph) -> float:
    """kT/q at the circuit's junction temperature."""
    return BOLTZMANN_OVER_CHARGE * (graph.circuit.temperature + 273.15)


def junctions(graph: Graph, point: OperatingPoint, wire: View, linear: Linear | None) -> tuple[Conductor, ...]:
    """Conducting diodes and diode-connected transistors, each by itself.

    A diode has the slope of the linearised circuit, or I/VT where there is none.
    """
    found: list[Conductor] = []
    vt = thermal_volts(graph)
    for element in graph.elements:
        state = point.states.get(element.index, "")
        if element.kind in DIODES and state in ("forward", "breakdown", "on"):
            current = abs(point.currents[element.index][0])
            slope = linear.admittance_of(element.index, 0.0) if linear is not None else None
            siemens = current / vt if slope is None else slope.real
            nodes = (element.nodes[0], element.nodes[1])
        elif element.kind in BIPOLAR and state == "on" and _diode_connected(graph, point, wire, element):
            siemens = abs(point.currents[element.index][element.terminals.index("e")]) / vt
            nodes = (element.node("c"), element.node("e"))
        else:
            continue
        if siemens >= LEAST_SIEMENS and nodes[0] != nodes[1]:
            found.append(_single(nodes, element.index, siemens, "junction"))
    return tuple(found)


def _single(nodes: tuple[int, int], element: int, siemens: float, what: str) -> Conductor:
    return Conductor(nodes, (element,), siemens, what, ((*nodes, element),))


def _diode_connected(graph: Graph, point: OperatingPoint, wire: View, element: Element) -> bool:
    """Whether base and collector are one net, or joined by one resistor that drops next to nothing."""
    base, collector = element.node("b"), element.node("c")
    if base == collector:
        return True
    if not abs(point.volts[base] - point.volts[collector]) <= BIAS_DROP:
        return False
    for position in wire.branches_at.get(base, ()):
        branch = wire.branches[position]
        if branch.kind in ("resistor", "bead") and set(branch.ends) == {base, collector}:
            return (branch.value or 0.0) <= CHAIN_OHM
    return False


def multipliers(graph: Graph, point: OperatingPoint, wire: View, linear: Linear | None) -> tuple[Conductor, ...]:
    """VBE multipliers: a conducting transistor whose control net holds nothing but its two resistor chains.

    Its small-signal conductance between collector and emitter is gm/(1 + Ra/Rb) + 1/(Ra + Rb), with Ra from
    collector to base, and Rb from base to emitter with the base's own resistance across it.
    """
    found: list[Conductor] = []
    for element in graph.elements:
        if element.kind not in DEVICES or point.states.get(element.index) != "on":
            continue
        names = electrodes(element)
        if any(name not in element.terminals for name in names):
            continue
        control, emitting, collecting = (element.node(name) for name in names)
        if len({control, emitting, collecting}) < 3 or wire.rails & {control}:
            continue
        control, passed = _before_stopper(graph, element, control)
        sides = _divider(graph, wire, passed, control, emitting, collecting)
        if sides is None:
            continue
        upper, lower = sides
        slope, entry = _slopes(graph, point, linear, element, names)
        ra, rb = upper.value or 0.0, lower.value or 0.0
        if ra + rb <= 0.0 or rb <= 0.0:
            continue
        rb = 1.0 / (1.0 / rb + entry)
        siemens = slope / (1.0 + ra / rb) + 1.0 / (ra + rb)
        elements = tuple(dict.fromkeys((element.index, *upper.elements, *lower.elements)))
        if siemens >= LEAST_SIEMENS:
            joint = (collecting, emitting, element.index)
            found.append(Conductor((collecting, emitting), elements, siemens, "multiplier", (joint,)))
    return tuple(found)


def _before_stopper(graph: Graph, element: Element, control: int) -> tuple[int, set[int]]:
    """The node before a stopper or bead if the control net holds nothing else, and the elements passed to it."""
    others = [graph.elements[index] for index, _ in graph.at_node[control] if index != element.index]
    if len(others) == 1:
        lead = others[0]
        small = lead.kind == "resistor" and lead.value is not None and lead.value <= SMALL_STOPPER_OHM
        if (small or lead.kind == "bead") and len(lead.nodes) == 2:
            return next(node for node in lead.nodes if node != control), {element.index, lead.index}
    return control, {element.index}


def _slopes(
    graph: Graph, point: OperatingPoint, linear: Linear | None, element: Element, names: tuple[str, str, str]
) -> tuple[float, float]:
    """Siemens from the control voltage to the collector's and to the control terminal's current.

    Those of the linearised circuit, or I/VT where there is none.
    """
    control, _, collecting = (element.terminals.index(name) for name in names)
    block = linear.blocks.get(element.index) if linear is not None else None
    if block is not None:
        row, column = block.terminals.index(collecting), block.terminals.index(control)
        return abs(float(block.slopes[row, column])), abs(float(block.slopes[column, column]))
    currents = point.currents[element.index]
    return abs(currents[collecting]) / thermal_volts(graph), abs(currents[control]) / thermal_volts(graph)


def _divider(
    graph: Graph, wire: View, passed: set[int], control: int, emitting: int, collecting: int
) -> tuple[Branch, Branch] | None:
    """The branches from control to collector and from control to emitter, if the control net holds no more.

    `passed` are elements that may be there too: the device, and what stands in its control lead.
    """
    ends: dict[int, Branch] = {}
    counted: set[int] = set(passed)
    for position in wire.branches_at.get(control, ()):
        branch = wire.branches[position]
        far = branch.ends[1] if branch.ends[0] == control else branch.ends[0]
        if branch.kind == "resistor" and far in (emitting, collecting) and far not in ends:
            ends[far] = branch
            counted.update(branch.elements)
    if len(ends) < 2:
        return None
    for index, _ in graph.at_node[control]:
        other = graph.elements[index]
        stray = other.kind == "capacitor" and (
            set(other.nodes) <= {control, emitting, collecting} or (other.value or 1.0) <= STRAY_FARAD
        )
        if index not in counted and not stray:
            return None
    return ends[collecting], ends[emitting]


def chains(graph: Graph, wire: View, parts: Sequence[Conductor]) -> tuple[Conductor, ...]:
    """Chains of conducting junctions and resistors under 2 kilohm about nets that hold two ends only.

    Multipliers stand in such chains too. Each chain has two or more elements and at least one junction.
    """
    links = list(parts)
    held = {index for part in parts for index in part.elements}
    for element in graph.elements:
        resistor = element.kind in ("resistor", "thermistor") and len(element.nodes) == 2
        if resistor and element.index not in held and element.value is not None and 0 < element.value <= CHAIN_OHM:
            nodes = (element.nodes[0], element.nodes[1])
            links.append(_single(nodes, element.index, 1.0 / element.value, "resistor"))
    at: dict[int, list[int]] = {}
    for position, link in enumerate(links):
        for node in link.nodes:
            at.setdefault(node, []).append(position)
    closed = wire.rails | {0}
    joints = {
        node: (here[0], here[1])
        for node, here in sorted(at.items())
        if len(here) == 2 and node not in closed and _ends_at(graph, node, links, here)
    }
    return tuple(_walk_chains(links, joints))


def _ends_at(graph: Graph, node: int, links: Sequence[Conductor], here: Sequence[int]) -> bool:
    """Whether a node holds nothing but ends of these links."""
    inside = {index for position in here for index in links[position].elements}
    return all(index in inside for index, _ in graph.at_node[node])


def _walk_chains(links: Sequence[Conductor], joints: dict[int, tuple[int, int]]) -> Iterator[Conductor]:
    """Each chain once, from its earlier end."""
    used: set[int] = set()
    for position, link in enumerate(links):
        if position in used:
            continue
        for start, node in (link.nodes, link.nodes[::-1]):
            if start in joints or node not in joints:
                continue
            walk = [position]
            while node in joints:
                first, second = joints[node]
                onward = second if walk[-1] == first else first
                if onward in walk:
                    break
                walk.append(onward)
                a, b = links[onward].nodes
                node = b if a == node else a
            used.update(walk)
            members = [links[item] for item in walk]
            if node != start and any(member.what != "resistor" for member in members):
                elements = tuple(dict.fromkeys(index for member in members for index in member.elements))
                siemens = 1.0 / sum(1.0 / member.siemens for member in members)
                wires = tuple(joint for member in members for joint in member.wires)
                yield Conductor((start, node), elements, siemens, "spreader", wires)
            break


def switches(graph: Graph, point: OperatingPoint) -> tuple[int, ...]:
    """Saturated transistors: closed switches from collector to emitter."""
    return tuple(
        element.index
        for element in graph.elements
        if element.kind in DEVICES - {"triode", "tetrode", "pentode"} and point.states.get(element.index) == "saturated"
    )
