"""Relations between nets: the same net, DC kept apart, moving together or against one another."""

from __future__ import annotations

import cmath

from topo.matching.functions.registry import function
from topo.matching.index import SIGNAL, WIRE
from topo.matching.kinds import DEVICES
from topo.matching.things import NetRef, Pin

Truth = bool | None
Point = Pin | NetRef

# Two signals count as in phase, or in antiphase, within 60 degrees.
PHASE_COSINE = 0.5
# A net that moves by less than this share of the other does not move.
STANDS_STILL = 1e-4
# A loop is taken for a quarter turn late where the part of its signal in step is under this share of the other.
QUARTER_TURN = 0.1


@function("same_net(point, point)")
def same_net(scope, one: Point, other: Point) -> Truth:
    """Whether two points are one net in the signal view; at 0 only if they are one wire."""
    index = scope.index
    if index.class_of[WIRE][one.node] == index.class_of[WIRE][other.node]:
        return True
    first, second = index.class_of[SIGNAL][one.node], index.class_of[SIGNAL][other.node]
    return first == second != index.zero


@function("same_wire(point, point)")
def same_wire(scope, one: Point, other: Point) -> Truth:
    """Whether two points are one net in the circuit as drawn."""
    return scope.index.class_of[WIRE][one.node] == scope.index.class_of[WIRE][other.node]


@function("dc_blocked(point, point)")
def dc_blocked(scope, one: Point, other: Point) -> Truth:
    """Whether no way for a direct current leads from one net to another, rails and devices left out."""
    graph, wire = scope.graph, scope.view(WIRE)
    rails = scope.index.rails[WIRE]
    start, goal = wire.class_of[one.node], wire.class_of[other.node]
    if start == goal:
        return False
    seen, queue = {start}, [start]
    while queue:
        for member in wire.members[queue.pop()]:
            for element, terminal in graph.at_node[member]:
                for node in _dc_neighbours(graph, element, terminal):
                    far = wire.class_of[node]
                    if far == goal:
                        return False
                    if far not in seen and far not in rails:
                        seen.add(far)
                        queue.append(far)
    return True


def _dc_neighbours(graph, element: int, terminal: str) -> tuple[int, ...]:
    """The nodes to which a part leads a direct current from one of its terminals; none for devices and capacitors."""
    part = graph.elements[element]
    if part.kind == "capacitor" or part.kind in DEVICES or part.kind in ("opamp", "ic", "other"):
        return ()
    windings = graph.windings_of.get(element, ())
    if windings:
        node = part.node(terminal)
        return tuple(other for winding in windings if node in winding.nodes for other in winding.nodes)
    return part.nodes


def _motions(scope, one: Point, other: Point) -> tuple[complex, complex] | None:
    """What two nets do when the input is driven; None where that is not known."""
    source = scope.input_node()
    if source is None:
        return None
    first = scope.transfer(source, one.node)
    second = scope.transfer(source, other.node)
    if first is None or second is None:
        return None
    if min(abs(first), abs(second)) <= STANDS_STILL * max(abs(first), abs(second), 1e-12):
        return None
    return first, second


def _cosine(pair: tuple[complex, complex]) -> float:
    return cmath.exp(1j * (cmath.phase(pair[0]) - cmath.phase(pair[1]))).real


@function("antiphase(point, point)")
def antiphase(scope, one: Point, other: Point) -> Truth:
    """Whether two nets move against one another when the input is driven."""
    found = _motions(scope, one, other)
    return None if found is None else _cosine(found) < -PHASE_COSINE


@function("in_phase(point, point)")
def in_phase(scope, one: Point, other: Point) -> Truth:
    """Whether two nets move together when the input is driven."""
    found = _motions(scope, one, other)
    return None if found is None else _cosine(found) > PHASE_COSINE


@function("negative_loop(point, point)")
def negative_loop(scope, output: Point, back: Point) -> Truth:
    """Whether the output moves against the net to which it is fed back, when that net is driven.

    A loop whose gain falls over the whole band by its compensation is a quarter turn late: it turns round at
    direct current where the quarter turn at mid band is one of lag from there.
    """
    found = scope.transfer(back.node, output.node)
    if found is None or abs(found) < STANDS_STILL:
        return None
    return found.imag > 0 if abs(found.real) < QUARTER_TURN * abs(found.imag) else found.real < 0
