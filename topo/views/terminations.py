"""What is assumed at the ports: the generator behind an input and the load at an output, each said in words."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence

from topo.graph.graph import Graph
from topo.netlist.circuit import Port
from topo.quantities import show
from topo.views.bands import TRANSDUCERS, is_radio, port_band
from topo.views.kinds import DEVICES, TWO_ENDED, control_terminals
from topo.views.network import Network, Termination
from topo.views.plain import node_of
from topo.views.view import Tank

GENERATOR_SHARE = 0.1
GENERATOR_RANGE = (1.0, 10e3)
RADIO_OHM = 50.0
LOAD_RATIO = 10.0
LOAD_RANGE = (100.0, 1e6)
SOURCES = frozenset({"microphone", "antenna", "source"})
CONNECTORS = frozenset({"jack", "plug", "terminal"})


def terminate(
    graph: Graph, network: Network, bands: Sequence[tuple[float, float]], tanks: Sequence[Tank]
) -> tuple[Network, float | None, str, tuple[str, ...]]:
    """The network with generators and loads at its ports, each judged in its own band.

    A generator is a tenth of the input impedance (1 ohm to 10 kilohm) at audio and 50 ohm at radio frequency; none
    where a microphone or aerial is drawn or the input net is a tuned circuit. A load is ten times the output
    impedance (50 ohm at radio frequency), where nothing hangs on the output net but what leads to it.

    Returns:
        (network, generator ohm or None, how it was chosen, what was assumed).
    """
    inputs = [_port_pair(graph, port) for port in graph.circuit.inputs]
    outputs = [_port_pair(graph, port) for port in graph.circuit.outputs]
    told = bool(inputs), bool(outputs)
    given = {pair[0] for pair in (*inputs, *outputs) if pair is not None}
    for node, is_input in _open_ends(graph):
        if node in given:
            continue
        if is_input and not told[0] and not _drawn(graph, SOURCES):
            inputs.append((node, 0))
        elif not is_input and not told[1]:
            outputs.append((node, 0))

    def band_at(node: int) -> tuple[float, float]:
        return bands[port_band(graph, tanks, node, bands)] if len(bands) > 1 else bands[0]

    terminations: list[Termination] = []
    generator, words = None, ""
    for pair in inputs:
        if pair is None:
            continue
        ohm, reason = _generator(graph, network, pair, band_at(pair[0]), tanks)
        generator, words = (ohm, reason) if not words else (generator, words)
        if ohm is not None:
            terminations.append(Termination(pair, ohm, reason))
    for pair in outputs:
        if pair is not None and _is_unloaded(graph, pair[0], is_radio(band_at(pair[0]))) and pair not in inputs:
            terminations.append(_load(graph, network, pair, band_at(pair[0])))
    assumed = tuple(item.words for item in terminations)
    if not words:
        words = "no input is given"
    return Network(network.linear, tuple(terminations)), generator, words, assumed


def _port_pair(graph: Graph, port: Port) -> tuple[int, int] | None:
    node, reference = node_of(graph, port.net), node_of(graph, port.reference)
    return None if node is None or reference is None or node == reference else (node, reference)


def _drawn(graph: Graph, kinds: frozenset[str]) -> bool:
    return any(element.kind in kinds for element in graph.elements)


def _generator(
    graph: Graph,
    network: Network,
    pair: tuple[int, int],
    band: tuple[float, float],
    tanks: Sequence[Tank],
) -> tuple[float | None, str]:
    """Source resistance at an input, and why."""
    middle = (band[0] * band[1]) ** 0.5
    name = graph.nets[pair[0]]
    for index, _ in graph.at_node[pair[0]] + (graph.at_node[pair[1]] if pair[1] else ()):
        element = graph.elements[index]
        if element.kind == "source":
            if ohm := element.params.get("R"):
                return ohm, f"the generator at {name} is {element.name}, {show(ohm, 'ohm')}"
        elif element.kind in SOURCES:
            return None, f"no generator is assumed at {name}: {element.name} is the source"
    tuned = {node for tank in tanks for node in tank.nodes}
    if pair[0] in tuned and is_radio(band):
        return None, f"no generator is assumed at {name}: it is a tuned circuit"
    if is_radio(band):
        return RADIO_OHM, f"a generator of {show(RADIO_OHM, 'ohm')} is assumed at {name}"
    ohm = abs(network.across(*pair, middle)) * GENERATOR_SHARE
    ohm = min(max(ohm, GENERATOR_RANGE[0]), GENERATOR_RANGE[1])
    words = f"a generator of {show(ohm, 'ohm', 2)} is assumed at {name}, a tenth of the input impedance"
    return ohm, words


def _load(graph: Graph, network: Network, pair: tuple[int, int], band: tuple[float, float]) -> Termination:
    """The load assumed at an output that shows none."""
    middle = (band[0] * band[1]) ** 0.5
    near = _behind(graph, pair[0])
    if is_radio(band):
        ohm = RADIO_OHM
    else:
        ohm = min(max(abs(network.across(near, 0, middle)) * LOAD_RATIO, LOAD_RANGE[0]), LOAD_RANGE[1])
    words = f"a load of {show(ohm, 'ohm', 2)} is assumed at {graph.nets[pair[0]]}"
    return Termination(pair, ohm, words)


def _behind(graph: Graph, node: int) -> int:
    """The far node of the single part that leads to an end, the node itself if there are more."""
    parts = [graph.elements[index] for index, _ in graph.at_node[node] if graph.elements[index].kind not in CONNECTORS]
    if len(parts) == 1 and len(parts[0].nodes) == 2:
        a, b = parts[0].nodes
        return b if a == node else a
    return node


def _is_unloaded(graph: Graph, node: int, radio: bool) -> bool:
    """Whether nothing at a node but a capacitor or coil (at radio frequency, a winding) that leads to it could take
    power."""
    elements = [graph.elements[index] for index, _ in graph.at_node[node]]
    leading = CONNECTORS | {"capacitor", "bead", "inductor"} | ({"transformer"} if radio else set())
    return all(element.kind in leading for element in elements)


def _open_ends(graph: Graph) -> Iterator[tuple[int, bool]]:
    """Nets that look like ends of the signal's way, and whether the first electrode met from there is a control."""
    fixed = {0, *graph.rails}
    for node in range(1, len(graph.nets)):
        if node in fixed:
            continue
        elements = [graph.elements[index] for index, _ in graph.at_node[node]]
        kinds = {element.kind for element in elements}
        inner = [
            element for element in elements if not _is_shunt(element.nodes, fixed) and element.kind not in CONNECTORS
        ]
        if len(inner) != 1 or inner[0].kind not in ("capacitor", "resistor", "potentiometer", "transformer"):
            continue
        if kinds & (TRANSDUCERS | SOURCES | DEVICES) or (inner[0].kind != "capacitor" and not kinds & CONNECTORS):
            continue
        first = _first_electrode(graph, node, fixed)
        if first is not None:
            yield node, first


def _is_shunt(nodes: Sequence[int], fixed: set[int]) -> bool:
    return len(nodes) == 2 and bool(set(nodes) & fixed)


def _first_electrode(graph: Graph, start: int, fixed: set[int]) -> bool | None:
    """Whether the nearest device electrode is a control terminal; None if no device is reached."""
    seen, queue = {start}, deque([start])
    while queue:
        node = queue.popleft()
        met = []
        for index, terminal in graph.at_node[node]:
            element = graph.elements[index]
            if element.kind in DEVICES or element.kind == "opamp":
                met.append(terminal in control_terminals(element))
        if met:
            return any(met)
        for index, _ in graph.at_node[node]:
            element = graph.elements[index]
            if element.kind in TWO_ENDED or element.kind == "potentiometer":
                onward: Sequence[int] = element.nodes
            else:
                onward = [n for w in graph.windings_of.get(index, ()) if node in w.nodes for n in w.nodes]
            for other in onward:
                if other not in seen and other not in fixed:
                    seen.add(other)
                    queue.append(other)
    return None
