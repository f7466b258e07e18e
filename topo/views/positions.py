"""What a capacitor or coil is for the signal by its position alone, where a value or the voltages are not known."""

from __future__ import annotations

import math
from collections.abc import Callable

from topo.graph.graph import Element, Graph
from topo.quantities import show
from topo.views.kinds import BIPOLAR, COILS, CONTROL, DEVICES, FETS, VALVES, electrodes, is_polarised
from topo.views.view import Verdict

SMALL_OHM, LARGE_OHM = 1e3, 20e3
"""Reactance at mid band between two signal nets: a wire at or under the first, nothing at or over the second."""
SMALL_OHM_TO_ZERO, LARGE_OHM_TO_ZERO = 300.0, 5e3
"""The same for a capacitor to ground or a rail (common practice: what such circuits show there)."""
HIGH_RATIO = 50.0
"""How much higher impedances are between valves and field-effect transistors (common practice)."""
COIL_SMALL, COIL_LARGE = 10.0, 500.0
"""Reactance at mid band of a coil that is a wire, and of one that is nothing, where nothing else is known."""


def by_position(graph: Graph, element: Element, band: tuple[float, float], is_fixed: Callable[[int], bool]) -> Verdict:
    """The verdict on a capacitor, coil or bead by what it lies between; always marked assumed.

    Args:
        is_fixed: whether a node is ground or a rail.
    Source: common practice; a polarised capacitor between stages couples, one to a rail or ground bypasses, a
        small one between the electrodes of one device compensates, a choke feeds and a bead is a wire.
    """
    middle = math.sqrt(band[0] * band[1])
    a, b = element.nodes
    if element.kind in COILS:
        return _coil(element, middle, is_fixed(a) and is_fixed(b))
    fixed = (is_fixed(a), is_fixed(b))
    if all(fixed):
        return Verdict("no effect", remark="both ends are on fixed nets", assumed=True)
    if element.value:
        reactance = 1.0 / (2.0 * math.pi * middle * element.value)
        small, large = (SMALL_OHM_TO_ZERO, LARGE_OHM_TO_ZERO) if any(fixed) else (SMALL_OHM, LARGE_OHM)
        if not any(fixed) and _is_high(graph, a, b):
            small, large = HIGH_RATIO * small, HIGH_RATIO * large
        fate = "short" if reactance <= small else "open" if reactance >= large else "shaping"
        words = f"by its reactance at mid band ({show(reactance, 'ohm')}); the circuit is not solved"
        return Verdict(fate, remark=words, assumed=True)
    if is_polarised(graph, element):
        return Verdict("short", remark="by position: polarised, value not known", assumed=True)
    if any(fixed):
        return Verdict("short", remark="by position: a bypass, value not known", assumed=True)
    if _within_one_device(graph, a, b):
        return Verdict("open", remark="by position: across one device's electrodes, value not known", assumed=True)
    return Verdict("short", remark="by position: between two stages, value not known", assumed=True)


def _coil(element: Element, middle: float, fixed: bool) -> Verdict:
    """A coil by its kind, or by its reactance where it is a plain inductor of known value."""
    if fixed:
        return Verdict("no effect", remark="both ends are on fixed nets", assumed=True)
    if element.kind == "bead":
        return Verdict("short", remark="by position: a bead is a wire", assumed=True)
    if element.kind == "choke" or element.value is None:
        fate = "open" if element.kind == "choke" else "shaping"
        return Verdict(
            fate, remark=f"by position: {'a choke feeds' if fate == 'open' else 'an inductor'}", assumed=True
        )
    reactance = 2.0 * math.pi * middle * element.value
    fate = "short" if reactance <= COIL_SMALL else "open" if reactance >= COIL_LARGE else "shaping"
    return Verdict(fate, remark=f"by its reactance at mid band ({show(reactance, 'ohm')})", assumed=True)


def _is_high(graph: Graph, a: int, b: int) -> bool:
    """Whether valves or field-effect transistors, and no bipolar ones, meet two nodes."""
    kinds = {graph.elements[index].kind for index, _ in graph.at_node[a] + graph.at_node[b]}
    return bool(kinds & (VALVES | FETS)) and not kinds & BIPOLAR


def _within_one_device(graph: Graph, a: int, b: int) -> bool:
    """Whether two nodes carry the control and the collecting electrode of one device."""
    for index, terminal in graph.at_node[a] + graph.at_node[b]:
        element = graph.elements[index]
        if element.kind in DEVICES and terminal == CONTROL[element.kind]:
            names = [name for name in electrodes(element) if name in element.terminals]
            control, collecting = element.node(names[0]), element.node(names[-1])
            if {control, collecting} == {a, b}:
                return True
    return False
