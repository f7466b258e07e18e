"""Where the signal enters and leaves, found from the circuit where the file does not say it."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass

from topo.graph.graph import Element, Graph
from topo.netlist.circuit import GROUND, Circuit, Part, Port
from topo.reading.flow import Flow, cheapest, electrode, flow_by_position, is_device
from topo.views.view import View, Views

_OUTPUT_KINDS = frozenset({"speaker", "headphones"})
_INPUT_KINDS = frozenset({"microphone"})
_EITHER_KINDS = frozenset({"antenna"})
_CONNECTOR_KINDS = frozenset({"jack", "plug", "terminal"})
_PASSIVE = frozenset(
    {"resistor", "potentiometer", "capacitor", "inductor", "choke", "bead", "transformer", "thermistor", "crystal"}
)
# An end is worth less than a connector, and that less than a transducer.
_TRANSDUCER, _CONNECTOR, _END, _BARE_CONTROL = range(4)


@dataclass(frozen=True)
class Candidate:
    """A node at which the signal may enter ("input") or leave ("output").

    `preference` is 0 for a transducer, 1 for a connector, 2 for an end of the wiring, 3 for a control electrode on
    its own; `ohms` is the way to the nearest electrode at mid band.
    """

    node: int
    direction: str
    preference: int
    ohms: float
    reference: int = 0


def infer_ports(views: Views, *, inputs: bool, outputs: bool) -> tuple[tuple[Port, ...], tuple[Port, ...]]:
    """The likeliest input and output, each one port or none; only those that are asked for."""
    found = sorted(candidates(views), key=lambda item: (item.preference, item.ohms, item.node))
    circuit = views.graph.circuit
    given = {views.graph.node_of.get(port.net) for port in (*circuit.inputs, *circuit.outputs)}
    found = [item for item in found if item.node not in given]
    ins = [item for item in found if item.direction == "input"] if inputs else []
    outs = [item for item in found if item.direction == "output"] if outputs else []
    if ins and outs:
        pairs = [(start, end) for start in ins for end in outs if _leads_to(views, start.node, end.node)]
        pairs.sort(
            key=lambda pair: (pair[0].preference + pair[1].preference, found.index(pair[0]), found.index(pair[1]))
        )
        ins, outs = ([pairs[0][0]], [pairs[0][1]]) if pairs else (ins, outs)
    if ins and ins[0].preference == _BARE_CONTROL and outputs and not outs:
        ins = []
    return _ports(views.graph, ins[0] if ins else None), _ports(views.graph, outs[0] if outs else None)


def _leads_to(views: Views, start: int, end: int) -> bool:
    """Whether a signal may get from one node to another by position, through one band or from band to band."""
    graph = views.graph
    flows = [flow_by_position(graph, view) for view in views.signals]
    if len(flows) > 1:
        still = {node for node in range(len(graph.nets)) if all(v.class_of[node] == v.zero for v in views.signals)}
        flows.append(flow_by_position(graph, views.signal, still=still))
    table = {
        node: tuple(edge for flow in flows for edge in flow.leaving.get(node, ()))
        for flow in flows
        for node in flow.leaving
    }
    return cheapest(Flow(graph, table, None), start, {end}) is not None


def _ports(graph: Graph, chosen: Candidate | None) -> tuple[Port, ...]:
    """A candidate as the circuit's ports."""
    if chosen is None:
        return ()
    reference = graph.nets[chosen.reference] if chosen.reference else GROUND
    return (Port(graph.nets[chosen.node], reference),)


def candidates(views: Views) -> list[Candidate]:
    """All nodes that may be a port, with the direction that a walk to the nearest electrode gives."""
    graph, view = views.graph, views.signal
    found: list[Candidate] = []
    seen: set[int] = set()
    tuned = {node for tank in views.tanks for node in tank.nodes}
    for element in graph.elements:
        kind = element.kind
        if kind in _OUTPUT_KINDS | _INPUT_KINDS | _EITHER_KINDS:
            own, node, other = _live_view(element, views)
            if node is None:
                continue
            seen.add(node)
            walked = nearest_electrode(views, node, own)
            direction = "output" if kind in _OUTPUT_KINDS else "input" if kind in _INPUT_KINDS else None
            if direction is None and walked is not None:
                direction = walked[0]
            if direction is not None:
                found.append(Candidate(node, direction, _TRANSDUCER, walked[1] if walked else math.inf, other))
    for node, preference in [*_connectors(views), *_ends(views)]:
        if node in seen or view.class_of[node] == view.zero:
            continue
        seen.add(node)
        walked = nearest_electrode(views, node)
        # The live end of a tuned circuit that nothing else is on gives nothing away.
        idle = preference == _END and walked is not None and walked[0] == "output" and node in tuned
        if walked is not None and not idle:
            found.append(Candidate(node, walked[0], preference, walked[1]))
    return found


def _live_view(element: Element, views: Views) -> tuple[View, int | None, int]:
    """The signal view in which a transducer lives, with its live end and the other: an aerial's is one of radio
    frequency where the declared band holds it still."""
    for view in views.signals if element.kind in _EITHER_KINDS else views.signals[:1]:
        node, other = _live_end(element, view)
        if node is not None and (view is views.signals[-1] or nearest_electrode(views, node, view) is not None):
            return view, node, other
    return views.signal, *_live_end(element, views.signal)


def _live_end(element: Element, view: View) -> tuple[int | None, int]:
    """The end of a transducer that is not at 0, and the other one."""
    first, second = element.nodes[0], element.nodes[1]
    if view.class_of[first] != view.zero:
        return first, second if view.class_of[second] != view.zero else 0
    return (second, 0) if view.class_of[second] != view.zero else (None, 0)


def _connectors(views: Views) -> list[tuple[int, int]]:
    """Nodes of jacks, plugs and terminals."""
    return [
        (node, _CONNECTOR)
        for element in views.graph.elements
        if element.kind in _CONNECTOR_KINDS
        for node in dict.fromkeys(element.nodes)
    ]


def _ends(views: Views) -> list[tuple[int, int]]:
    """Nodes with at most one terminal that is not of a shunt to 0; supplies are none."""
    graph, view = views.graph, views.signal
    found = []
    for node in range(1, len(graph.nets)):
        if node in graph.rails or view.class_of[node] == view.zero:
            continue
        series = [
            graph.elements[index] for index, _ in graph.at_node[node] if not _is_shunt(graph.elements[index], view)
        ]
        if len(series) != 1:
            continue
        element = series[0]
        if element.kind in _PASSIVE:
            found.append((node, _END))
        elif is_device(element) and node == _electrode_node(element, "ctl"):
            found.append((node, _BARE_CONTROL))
    return found


def _electrode_node(element: Element, name: str) -> int | None:
    """The node of a generic electrode."""
    terminal = electrode(element, name)
    return None if terminal is None else element.node(terminal)


def _is_shunt(element: Element, view: View) -> bool:
    """Whether a two-terminal part lies from its net to 0."""
    if len(element.nodes) != 2:
        return False
    return any(view.class_of[node] == view.zero for node in element.nodes)


def nearest_electrode(views: Views, start: int, view: View | None = None) -> tuple[str, float] | None:
    """Walks from a node through passive parts that pass the band, and windings, to the nearest electrode.

    Args:
        view: the signal view to walk in; that of the declared band when None.
    Returns:
        "input" for a control electrode, or an emitter whose control electrode is held at 0; "output" for a
        collector or another emitter; and the ohms passed on the way. None where no device is met.
    """
    view = view or views.signal
    best = {view.class_of[start]: 0.0}
    queue = [(0.0, view.class_of[start])]
    done: set[int] = set()
    links = _links(views, view)
    electrodes = _electrodes(views, view)
    while queue:
        ohms, cls = heapq.heappop(queue)
        if cls in done:
            continue
        done.add(cls)
        if cls in electrodes:
            return electrodes[cls], ohms
        for other, more in links.get(cls, ()):
            if ohms + more < best.get(other, math.inf):
                best[other] = ohms + more
                heapq.heappush(queue, (ohms + more, other))
    return None


def _electrodes(views: Views, view: View) -> dict[int, str]:
    """For each class with a device electrode on it: which way a port there would go."""
    table: dict[int, str] = {}
    for element in views.graph.elements:
        if element.kind == "opamp":
            table.setdefault(view.class_of[element.node("out")], "output")
        if not is_device(element):
            continue
        for name in ("col", "emt"):
            node = _electrode_node(element, name)
            if node is not None and view.class_of[node] != view.zero:
                control = _electrode_node(element, "ctl")
                held = control is not None and view.class_of[control] == view.zero
                table.setdefault(view.class_of[node], "input" if name == "emt" and held else "output")
    for element in views.graph.elements:
        names = ("in+", "in-") if element.kind == "opamp" else ("ctl",) if is_device(element) else ()
        for name in names:
            node = element.node(name) if element.kind == "opamp" else _electrode_node(element, name)
            if node is not None and view.class_of[node] != view.zero:
                table.setdefault(view.class_of[node], "input")
    return table


def _links(views: Views, view: View) -> dict[int, list[tuple[int, float]]]:
    """Passive ways between classes of a signal view, with their ohms at mid band; 0 is passed by none."""
    table: dict[int, list[tuple[int, float]]] = {}
    for branch in view.branches:
        a, b = branch.ends
        if a == b or view.zero in (a, b) or branch.kind not in _PASSIVE:
            continue
        ohms = _ohms(branch.kind, branch.value, view.middle)
        table.setdefault(a, []).append((b, ohms))
        table.setdefault(b, []).append((a, ohms))
    for element in views.graph.elements:
        if element.kind != "transformer":
            continue
        classes = [cls for cls in dict.fromkeys(view.class_of[node] for node in element.nodes) if cls != view.zero]
        for a in classes:
            table.setdefault(a, []).extend((b, 1.0) for b in classes if b != a)
    return table


def _ohms(kind: str, value: float | None, frequency: float | None) -> float:
    """|Z| of a passive part at a frequency; a thousand ohms where it is not known."""
    if value is None or (kind not in ("resistor", "potentiometer", "thermistor") and not frequency):
        return 1e3
    if kind == "capacitor":
        return 1 / (2 * math.pi * (frequency or 1.0) * value) if value else 1e9
    if kind in ("inductor", "choke"):
        return 2 * math.pi * (frequency or 1.0) * value
    return value


def is_connector(part: Part) -> bool:
    """Whether a part only leads nets out of the drawing."""
    return part.kind in _CONNECTOR_KINDS


def is_transducer(part: Part) -> bool:
    """Whether a part turns the signal into or out of electricity, so that it belongs at an end of the path."""
    return part.kind in _OUTPUT_KINDS | _INPUT_KINDS | _EITHER_KINDS


def is_drive(part: Part, circuit: Circuit) -> bool:
    """Whether a part is an ideal source that lies at an input: the signal itself, no supply."""
    nets = {terminal.net for terminal in part.terminals}
    return part.kind in ("source", "current") and any(nets == {port.net, port.reference} for port in circuit.inputs)
