"""Driven linearisation: the currents at which devices are linearised that idle far below what their load asks for."""

from __future__ import annotations

from collections.abc import Mapping

from topo.analysis import driven_currents
from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.views.judging import WIDE
from topo.views.kinds import DEVICES, electrodes
from topo.views.network import Network


def driven_devices(
    graph: Graph, point: OperatingPoint, skeleton: Network, frequency_of: Mapping[int, float]
) -> dict[int, float]:
    """Amperes at which idling devices are linearised, by element index.

    A device whose control net is held by a bypass is a bias follower or a grounded-base stage, and is left as it
    stands: at amperes, its own bypass would seem to do nothing.

    Args:
        skeleton: the circuit with every device taken out.
        frequency_of: the middle of each device's band, hertz.
    """
    found: dict[int, float] = {}
    for frequency in sorted(set(frequency_of.values())):
        for index, amperes in driven_currents(graph, point, skeleton.linear, frequency).items():
            if frequency_of.get(index) == frequency and not _is_held(graph, index, skeleton, frequency):
                found[index] = float(amperes)
    return dict(sorted(found.items()))


def _is_held(graph: Graph, device: int, skeleton: Network, frequency: float) -> bool:
    """Whether the capacitors from a device's control net to fixed nets are a short there, devices left out."""
    element = graph.elements[device]
    if element.kind not in DEVICES:
        return False
    control = element.node(electrodes(element)[0])
    fixed = skeleton.fixed_nodes(frequency)
    bypass = 0j
    for index, _ in graph.at_node[control]:
        other = graph.elements[index]
        if other.kind == "capacitor" and set(other.nodes) & fixed:
            bypass += skeleton.linear.admittance_of(index, frequency) or 0j
    across = skeleton.across(control, 0, frequency)
    return bypass != 0 and across != 0 and abs(1.0 / across - bypass) <= WIDE[0] * abs(bypass)
