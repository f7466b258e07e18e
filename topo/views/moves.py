"""How nets move with the signal: phases, the sign of a loop, what a part faces; None where it cannot be told."""

from __future__ import annotations

from collections import deque

from topo.views.kinds import DEVICES, electrodes
from topo.views.leads import at_zero, leads
from topo.views.plain import node_of
from topo.views.view import Views

CLEAR_COSINE = 0.5
"""Two voltages within 60 degrees are in phase, beyond 120 in antiphase; between, it is not told."""
LEAST_MOVE = 1e-6
"""A net that moves less than this share of the largest stands still for this purpose."""
LOOP_SHARE = 0.01


def input_nodes(views: Views) -> tuple[int, int] | None:
    """The node and reference of the first declared input."""
    graph = views.graph
    for port in graph.circuit.inputs:
        node, reference = node_of(graph, port.net), node_of(graph, port.reference)
        if node is not None and reference is not None:
            return node, reference
    return None


def driven_volts(views: Views, band: int = 0, drive: tuple[int, int] | None = None) -> tuple[complex, ...] | None:
    """Volts of every node at mid band for an ampere driven into a pair of nodes (the input by itself)."""
    middle = views.signals[band].middle
    pair = input_nodes(views) if drive is None else drive
    if views.network is None or middle is None or pair is None:
        return None
    table = views.network.impedances(middle)
    return tuple(complex(value) for value in table[:, pair[0]] - table[:, pair[1]])


def _cosine(views: Views, a: int, b: int, band: int, drive: tuple[int, int] | None) -> float | None:
    volts = driven_volts(views, band, drive)
    if volts is None:
        return None
    largest = max(abs(value) for value in volts)
    first, second = volts[a], volts[b]
    if min(abs(first), abs(second)) <= LEAST_MOVE * largest:
        return None
    return (first * second.conjugate()).real / (abs(first) * abs(second))


def antiphase(views: Views, a: int, b: int, band: int = 0, drive: tuple[int, int] | None = None) -> bool | None:
    """Whether two nodes move against each other when the input is driven; None without an input, or unclear."""
    cosine = _cosine(views, a, b, band, drive)
    return None if cosine is None or abs(cosine) < CLEAR_COSINE else cosine < 0


def in_phase(views: Views, a: int, b: int, band: int = 0, drive: tuple[int, int] | None = None) -> bool | None:
    """Whether two nodes move together when the input is driven; None without an input, or unclear."""
    against = antiphase(views, a, b, band, drive)
    return None if against is None else not against


def gain(views: Views, driven: int, seen: int, band: int = 0) -> float | None:
    """Signed real part of the volts at a node for a volt at another that is driven there."""
    transfer = views.transfer(driven, seen, band)
    return None if transfer is None else transfer.real


def negative_loop(views: Views, out: int, back: int, band: int = 0) -> bool | None:
    """Whether the output moves against its return point when that point alone is driven.

    None where the return point is fixed, or where a device that the drive reaches is saturated, or off without
    being linearised at a driven current.
    """
    transfer = views.transfer(back, out, band)
    if transfer is None:
        return None
    for element in views.graph.elements:
        if element.kind not in DEVICES:
            continue
        state = views.point.states.get(element.index)
        numb = state in ("saturated", "reversed") or (state == "off" and element.index not in views.driven)
        if numb:
            moved = views.transfer(back, element.node(electrodes(element)[0]), band)
            if moved is not None and abs(moved) > LOOP_SHARE:
                return None
    return transfer.real < 0.0 if abs(transfer) > LEAST_MOVE else None


def facing(views: Views, element: int, band: int = 0) -> float | None:
    """|ohm| at mid band that the rest of the circuit shows across an element."""
    view = views.signals[band]
    verdict = view.verdicts.get(element)
    if verdict is not None and verdict.facing is not None:
        return verdict.facing
    part = views.graph.elements[element]
    middle = view.middle
    if views.network is None or middle is None or len(part.nodes) != 2:
        return None
    across = views.network.across(part.nodes[0], part.nodes[1], middle)
    own = 1.0 / part.value if part.kind in ("resistor", "thermistor") and part.value else None
    if own is None or across == 0:
        return None
    rest = abs(1.0 / across - own)
    return None if rest == 0 else 1.0 / rest


def impedance(views: Views, node: int, band: int = 0, reference: int = 0) -> float | None:
    """|ohm| of a node's driving-point impedance at mid band, the port assumptions in place."""
    middle = views.signals[band].middle
    if views.network is None or middle is None:
        return None
    return abs(views.network.across(node, reference, middle))


def dc_blocked(views: Views, a: int, b: int) -> bool:
    """Whether no direct current can pass between two nodes but through a rail, ground or a device.

    A coupling capacitor lies between such nets; a capacitor that bypasses part of a resistor does not.
    """
    view = views.dc
    start, goal = view.class_of[a], view.class_of[b]
    if start == goal:
        return False
    seen, queue = {start}, deque([start])
    while queue:
        cls = queue.popleft()
        if cls in view.rails:
            continue
        for position in view.branches_at.get(cls, ()):
            ends = view.branches[position].ends
            other = ends[1] if ends[0] == cls else ends[0]
            if other == goal:
                return False
            if other not in seen and not _has_device(views, other):
                seen.add(other)
                queue.append(other)
    return True


def _has_device(views: Views, cls: int) -> bool:
    graph = views.graph
    return any(graph.elements[i].kind in DEVICES for node in views.dc.members[cls] for i, _ in graph.at_node[node])


def held_terminal(views: Views, element: int, terminal: str, band: int = 0) -> bool:
    """Whether a control terminal is 0 for the signal, by itself or through its bias lead."""
    if at_zero(views, element, terminal, "ctl", band) is not None:
        return True
    signal = views.signals[band]
    return any(
        signal.class_of[node] == signal.zero
        for lead in leads(views, views.dc, element, terminal, sort="ctl")
        for node in views.dc.members[lead.target]
    )
