"""Driven linearisation: devices that idle far below what their load asks for are linearised at a driven current."""

from __future__ import annotations

import math
from collections.abc import Mapping

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.views.groups import element_admittance
from topo.views.kinds import DEVICES, electrodes
from topo.views.network import Network

IDLE_SHARE, DRIVEN_SHARE = 0.01, 0.1
"""A device under the first share of its load's peak current is linearised at the second."""
LEAST_LOAD_OHM = 1.0


def driven_devices(
    graph: Graph, point: OperatingPoint, skeleton: Network, frequency_of: Mapping[int, float]
) -> dict[int, float]:
    """Amperes at which to linearise the devices that idle under 1 % of the peak current that their load asks for.

    Args:
        skeleton: the circuit with every device taken out.
        frequency_of: mid band of each device.
    Returns:
        By element index; a device with a held control net and a held collector is a bias follower and not in it.
    """
    found: dict[int, float] = {}
    for element in graph.elements:
        if element.kind not in DEVICES or point.states.get(element.index) not in ("on", "off"):
            continue
        names = electrodes(element)
        if any(name not in element.terminals for name in names):
            continue
        control, emitting, collecting = (element.node(name) for name in names)
        frequency = frequency_of[element.index]
        table = skeleton.impedances(frequency)
        at_collector, at_emitter = abs(table[collecting, collecting]), abs(table[emitting, emitting])
        load = max(at_collector, at_emitter)
        if not math.isfinite(load) or load < LEAST_LOAD_OHM:
            continue
        if at_collector < LEAST_LOAD_OHM and _is_held(graph, control, skeleton, frequency):
            continue
        volts = abs(point.volts[collecting] - point.volts[emitting])
        idle = abs(point.currents[element.index][element.terminals.index(names[2])])
        if math.isfinite(volts) and idle < IDLE_SHARE * volts / load:
            found[element.index] = DRIVEN_SHARE * volts / load
    return found


def _is_held(graph: Graph, node: int, skeleton: Network, frequency: float) -> bool:
    """Whether a node is fixed, or a capacitor to a fixed node outweighs all else that is there."""
    fixed = {0, *graph.rails}
    if node in fixed:
        return True
    bypass = 0j
    for index, _ in graph.at_node[node]:
        element = graph.elements[index]
        if element.kind == "capacitor" and len(element.nodes) == 2 and set(element.nodes) & fixed:
            bypass += element_admittance(element, frequency)
    across = skeleton.across(node, 0, frequency)
    return bypass != 0 and across != 0 and abs(1.0 / across - bypass) <= 0.5 * abs(bypass)
