"""The signal's way as a graph: which element hands the signal on from which node to which, and how surely.

By power where the circuit is solved: a passive part carries the signal from a to b if real power goes in at a and
comes out at b. By position, with no direction in passive parts, where it is not.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from topo.analysis.sources import is_steady
from topo.graph.graph import Element, Graph
from topo.matching.kinds import ELECTRODES
from topo.views.view import View

# From an electrode to another: sign of the signal, and what a step costs beside the share. A follower's way is
# dearer than an inverter's, since every common-emitter stage has both (tested on circuits of all families).
_DEVICE_STEPS = {
    ("ctl", "col"): (-1, 0.0),
    ("ctl", "emt"): (+1, 1.0),
    ("emt", "col"): (+1, 0.0),
}
_PART_COST = 0.3
_NO_REAL_POWER = 1e-6
_NO_REAL_POWER_COST = 5.0
_AGAINST_POWER_COST = 12.0
_FEEDBACK_COST = 4.0
_DEAREST_DEVICE = 5.0
# With the power, however little of what arrives goes that way, is cheaper than against it.
_DEAREST_PART = 9.0
_POSITION_COSTS = {"resistor": 1.0, "potentiometer": 0.8, "capacitor": 0.3, "transformer": 0.3, "diode": 0.5}

_OPAQUE = frozenset(
    {"ic", "other", "relay", "jack", "plug", "terminal", "regulator", "battery", "source", "current", "fuse"}
)
_LOADS = frozenset({"speaker", "headphones", "antenna", "microphone", "meter", "lamp"})


@dataclass(frozen=True)
class Edge:
    """One step of the signal: from a node to a node through an element.

    `sign` is +1 or -1 for a device, 0 for a passive part (the driven solution tells). `way` is "power",
    "device", "position", "faint" (next to no real power) or "against" (against the power).
    """

    source: int
    target: int
    element: int
    cost: float
    sign: int = 0
    way: str = "power"


@dataclass(frozen=True)
class Flow:
    """The signal's graph: edges leaving each node, and the node volts of the driven solution (None by position).

    `fellows` are, for a device of a set in parallel, the elements of the whole set.
    """

    graph: Graph
    leaving: Mapping[int, tuple[Edge, ...]]
    volts: tuple[complex, ...] | None
    frequency: float | None = None
    fellows: Mapping[int, tuple[int, ...]] = field(default_factory=dict)


def electrode(element: Element, name: str) -> str | None:
    """The terminal's own name for "ctl", "col" or "emt"; None where the element has none."""
    names = ELECTRODES.get(element.kind)
    own = names[("ctl", "emt", "col").index(name)] if names else None
    return own if own in element.terminals else None


def is_device(element: Element) -> bool:
    """Whether an element is an active device with control, collecting and emitting electrodes."""
    return element.kind in ELECTRODES


def flow_by_power(
    graph: Graph,
    view: View,
    volts: Iterable[complex],
    powers: Mapping[int, tuple[complex, ...]],
    frequency: float,
    *,
    idle: Collection[int] = (),
    feedback: Collection[int] = (),
    without: Collection[int] = (),
) -> Flow:
    """The signal's graph from a driven solution.

    Args:
        volts: complex volts of every node.
        powers: for each element, complex power into each terminal, watts for the drive used.
        idle: device elements that do not act (off, saturated); they hand nothing on.
        feedback: elements claimed as feedback: passed only if there is no other way.
        without: elements left out (neutralising parts).
    """
    still = {node for node in range(len(graph.nets)) if view.class_of[node] == view.zero}
    arriving: dict[int, float] = {}
    # What feedback takes is not lost to the device behind: round a strong loop it is nearly all.
    onward: dict[int, float] = {}
    for element in graph.elements:
        for node, power in zip(element.nodes, powers.get(element.index, ()), strict=False):
            arriving[node] = arriving.get(node, 0.0) + max(0.0, power.real)
            if element.index not in feedback:
                onward[node] = onward.get(node, 0.0) + max(0.0, power.real)
    edges: list[Edge] = []
    for element in graph.elements:
        if element.index in without or (element.kind in _OPAQUE and not is_steady(graph, element)):
            continue
        if is_device(element) or element.kind == "opamp":
            if element.index not in idle:
                edges += _device_edges(element, still, onward, powers)
        elif element.index in powers and element.kind not in _LOADS:
            extra = _FEEDBACK_COST if element.index in feedback else 0.0
            edges += _passive_edges(element, still, arriving, powers[element.index], list(volts), extra)
    return Flow(graph, _by_source(edges), tuple(volts), frequency)


def flow_by_position(
    graph: Graph, view: View, *, feedback: Collection[int] = (), still: Collection[int] | None = None
) -> Flow:
    """The signal's graph without numbers: passive parts pass both ways, devices from control to collector.

    Args:
        still: the nodes that no signal passes; those at 0 in the view when None. Rails are always among them.
    """
    if still is None:
        still = {node for node in range(len(graph.nets)) if view.class_of[node] == view.zero}
    still = {*still, 0, *graph.rails}
    edges: list[Edge] = []
    for element in graph.elements:
        if is_device(element) or element.kind == "opamp":
            edges += _device_edges(element, still, {}, {})
        elif (element.kind not in _OPAQUE or is_steady(graph, element)) and element.kind not in _LOADS:
            cost = _POSITION_COSTS.get(element.kind, 0.5) + (_FEEDBACK_COST if element.index in feedback else 0.0)
            nodes = [node for node in dict.fromkeys(element.nodes) if node not in still]
            edges += [
                Edge(a, b, element.index, _PART_COST + cost, 0, "position") for a in nodes for b in nodes if a != b
            ]
    return Flow(graph, _by_source(edges), None)


def cheapest(
    flow: Flow, start: int, goals: Collection[int], *, without: Collection[int] = ()
) -> tuple[Edge, ...] | None:
    """The cheapest way from a node to the nearest of the goals, leaving out some elements; None if there is none.

    Source: Dijkstra's method; ties go to the lower node number, so that the result is always the same.
    """
    best: dict[int, float] = {start: 0.0}
    came: dict[int, Edge] = {}
    queue: list[tuple[float, int]] = [(0.0, start)]
    done: set[int] = set()
    while queue:
        cost, node = heapq.heappop(queue)
        if node in done:
            continue
        done.add(node)
        if node in goals:
            return _trace(came, node, start)
        for edge in flow.leaving.get(node, ()):
            if edge.element in without:
                continue
            total = cost + edge.cost
            if total < best.get(edge.target, math.inf):
                best[edge.target] = total
                came[edge.target] = edge
                heapq.heappush(queue, (total, edge.target))
    return None


def reached(flow: Flow, start: int) -> dict[int, tuple[Edge, ...]]:
    """The cheapest way from a node to every node that can be reached without going against the power."""
    best: dict[int, float] = {start: 0.0}
    came: dict[int, Edge] = {}
    queue: list[tuple[float, int]] = [(0.0, start)]
    done: set[int] = set()
    while queue:
        cost, node = heapq.heappop(queue)
        if node in done:
            continue
        done.add(node)
        for edge in flow.leaving.get(node, ()):
            total = cost + edge.cost
            if edge.way != "against" and total < best.get(edge.target, math.inf):
                best[edge.target] = total
                came[edge.target] = edge
                heapq.heappush(queue, (total, edge.target))
    return {node: _trace(came, node, start) for node in best}


def _trace(came: Mapping[int, Edge], node: int, start: int) -> tuple[Edge, ...]:
    """The edges that led to a node, from the start."""
    way: list[Edge] = []
    while node != start:
        way.append(came[node])
        node = came[node].source
    return tuple(reversed(way))


def _by_source(edges: Iterable[Edge]) -> dict[int, tuple[Edge, ...]]:
    """Edges by the node they leave, in a stable order."""
    table: dict[int, list[Edge]] = {}
    for edge in edges:
        # Costs that differ by rounding alone are equal: the choice is then that of the file.
        table.setdefault(edge.source, []).append(replace(edge, cost=round(edge.cost, 6)))
    return {node: tuple(row) for node, row in sorted(table.items())}


def _device_edges(
    element: Element,
    still: Collection[int],
    arriving: Mapping[int, float],
    powers: Mapping[int, tuple[complex, ...]],
) -> list[Edge]:
    """What an active device hands on, each step at the cost of the share that goes past the device."""
    if element.kind == "opamp":
        steps = [
            (element.node("in+"), element.node("out"), +1, 0.0),
            (element.node("in-"), element.node("out"), -1, 0.0),
        ]
    else:
        steps = []
        for (source, target), (sign, extra) in _DEVICE_STEPS.items():
            first, second = electrode(element, source), electrode(element, target)
            if first is not None and second is not None:
                steps.append((element.node(first), element.node(second), sign, extra))
    found = []
    for a, b, sign, extra in steps:
        if a in still or b in still or a == b:
            continue
        taken = sum(
            max(0.0, power.real)
            for node, power in zip(element.nodes, powers.get(element.index, ()), strict=False)
            if node == a
        )
        share = taken / arriving[a] if arriving.get(a) else 1.0
        cost = min(_DEAREST_DEVICE, -math.log(share)) if share > 0 else _DEAREST_DEVICE
        found.append(Edge(a, b, element.index, _PART_COST + cost + extra, sign, "device"))
    return found


def _leads_on(entering: complex, leaving: complex, by_volts: bool) -> bool:
    """Whether a part leads on where next to no real power comes out: by the real power at the other end, if there is
    any (a winding with a tuned circuit and a grid behind it), else from the larger to the smaller voltage."""
    weighty = [abs(power.real) > _NO_REAL_POWER * abs(power) for power in (entering, leaving)]
    if weighty[0] and not weighty[1]:
        return entering.real > 0
    if weighty[1] and not weighty[0]:
        return leaving.real < 0
    return by_volts


def _passive_edges(
    element: Element,
    still: Collection[int],
    arriving: Mapping[int, float],
    powers: tuple[complex, ...],
    volts: list[complex],
    extra: float,
) -> list[Edge]:
    """Edges from where power enters a part to where it comes out; faint and contrary ones dearer."""
    at: dict[int, complex] = {}
    for node, power in zip(element.nodes, powers, strict=True):
        at[node] = at.get(node, 0j) + power
    nodes = [node for node in at if node not in still]
    found = []
    for a in nodes:
        for b in nodes:
            if a == b:
                continue
            faint = min(abs(at[a].real), abs(at[b].real)) <= _NO_REAL_POWER * max(abs(at[a]), abs(at[b]))
            if faint:
                forward = _leads_on(at[a], at[b], abs(volts[a]) >= abs(volts[b]))
                way, cost = ("faint", _NO_REAL_POWER_COST) if forward else ("against", _AGAINST_POWER_COST)
            elif at[a].real > 0 and at[b].real < 0:
                share = at[a].real / arriving[a] if arriving.get(a) else 1.0
                way, cost = "power", min(-math.log(min(share, 1.0)), _DEAREST_PART) if share > 0 else _DEAREST_PART
            else:
                way, cost = "against", _AGAINST_POWER_COST
            found.append(Edge(a, b, element.index, _PART_COST + cost + extra, 0, way))
    return found
