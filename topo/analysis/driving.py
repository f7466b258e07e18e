"""Devices that idle: the current at which they are made linear instead of their own."""

from __future__ import annotations

import math

from topo.analysis.linear import Linear
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.parameters import BIPOLAR, JFETS, MOSFETS, VALVES
from topo.graph.graph import Element, Graph

IDLE_SHARE = 0.01
"""A device that idles under this share of the peak current that its load asks for is driven."""

DRIVEN_SHARE = 0.1
"""It is made linear at this share of that peak."""

LEAST_AMPERE = 1e-7
"""A load that asks for less than ten microamperes is none."""

LEAST_OHM = 1.0
"""Below this nothing is a load: a bias follower between two bypassed nets would be taken at amperes."""

HELD_OHM = 50.0
"""A control terminal under this, and ..."""

HELD_SHARE = 0.1
"""... under this share of what it shows at direct current, is held by a capacitor: no signal gets there."""


def idling_devices(graph: Graph, point: OperatingPoint, bare: Linear, frequency: float) -> dict[int, float]:
    """Amperes at which each idling device is to be made linear; devices that do not idle are not in it.

    With R the impedance at the collector (or emitter, if larger) of the network without devices and V = |VCE|, a
    signal can ask for V/R. A device that idles under 1 % of it is taken at 10 % of it. Not where R is under an ohm,
    and not where the control terminal is held by a capacitor.

    Args:
        bare: the skeleton; frequency: hertz, the middle of the band.
    """
    found: dict[int, float] = {}
    for element in graph.elements:
        names = _electrodes(element)
        if names is None:
            continue
        control, emitting, collecting = (element.node(name) for name in names)
        across = abs(point.volts[collecting] - point.volts[emitting])
        idle = abs(point.currents[element.index][element.terminals.index(names[2])])
        if math.isnan(across) or math.isnan(idle):
            continue
        load = max(abs(bare.impedance(node, None, frequency)) for node in (collecting, emitting))
        if not load >= LEAST_OHM or is_held(bare, control, frequency):
            continue
        if max(idle, LEAST_AMPERE) < IDLE_SHARE * across / load:
            found[element.index] = DRIVEN_SHARE * across / load
    return found


def is_held(bare: Linear, node: int, frequency: float) -> bool:
    """Whether a node is kept still by a capacitor, judged in the network without devices."""
    at_signal = abs(bare.impedance(node, None, frequency))
    at_rest = abs(bare.impedance(node, None, 0.0))
    return at_signal < HELD_OHM and at_signal < HELD_SHARE * at_rest


def _electrodes(element: Element) -> tuple[str, str, str] | None:
    """Names of the control, emitting and collecting terminal of an amplifying device."""
    if element.kind in BIPOLAR:
        return "b", "e", "c"
    if element.kind in JFETS or element.kind in MOSFETS:
        return "g", "s", "d"
    if element.kind in VALVES:
        return ("g" if element.kind == "triode" else "g1"), "k", "a"
    return None
