"""All views of a circuit, in the order in which each rests on the one before."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Element, Graph
from topo.views.bands import Bands, choose_bands, device_bands
from topo.views.driving import driven_devices
from topo.views.junctions import Conductor, chains, junctions, multipliers, switches
from topo.views.kinds import DEVICES, DIODES
from topo.views.network import Network
from topo.views.plain import dc_view, wire_view
from topo.views.rails import derived_rails
from topo.views.signals import signal_view
from topo.views.tanks import tanks
from topo.views.terminations import terminate
from topo.views.view import Tank, View, Views

DETECTED, STILL = 0.02, 0.5
"""A detector's diode: one end has at least this share of the tuned circuit's volts, the other less than this of it."""

if TYPE_CHECKING:
    from topo.analysis.linear import Linear


def views(graph: Graph, point: OperatingPoint) -> Views:
    """All views of a normalised circuit at its operating point.

    Args:
        graph: the normalised circuit.
        point: its operating point; if it is not solved, everything is judged by position and said to be assumed.
    Returns:
        `Views`. Never fails on a circuit that could be read: what cannot be computed is judged by position.
    """
    wire, dc = wire_view(graph), dc_view(graph, point)
    bare = _linear(graph, point, {})
    conductors, closed = _conducting(graph, point, wire, None if bare is None else bare.linear)
    skeleton = None if bare is None else _skeleton(graph, point)
    found = tanks(graph, bare, skeleton) if bare is not None else ()
    detecting = _detectors(graph, found, bare)
    conductors = tuple(item for item in conductors if not set(item.elements) <= detecting)
    bands = choose_bands(graph, found, bool(detecting))
    driven: Mapping[int, float] = {}
    network = bare
    if bare is not None and skeleton is not None:
        driven = driven_devices(graph, point, skeleton, _frequencies(graph, bands))
        network = (_linear(graph, point, driven) or bare) if driven else bare
    generator: float | None = None
    words = "the circuit is not solved"
    assumed: tuple[str, ...] = ("everything is judged by position",)
    if network is not None:
        network, generator, words, assumed = terminate(graph, network, bands.bands, bands.tanks)
        skeleton = None if skeleton is None else Network(skeleton.linear, network.terminations)
    signals = tuple(
        signal_view(graph, band, number, network, conductors, closed, bands.tanks)
        for number, band in enumerate(bands.bands)
    )
    of_devices = device_bands(graph, bands, signals)
    derived = derived_rails(graph, point, dc, signals, closed, conductors, of_devices, bands.tanks)
    if derived:
        nodes = [rail.node for rail in derived]
        wire, dc = wire_view(graph, nodes), dc_view(graph, point, nodes)
    return Views(
        graph,
        point,
        wire,
        dc,
        signals,
        derived,
        _spreaders(conductors, signals),
        assumptions=(*bands.assumptions, *assumed),
        linears=tuple(None if network is None else network.linear for _ in signals),
        skeleton=None if skeleton is None else skeleton.linear,
        generator=generator,
        generator_words=words,
        tanks=bands.tanks,
        bands_of=of_devices,
        switches=closed,
        driven=dict(driven),
        by_position=network is None,
        network=network,
        skeleton_network=skeleton,
    )


def _conducting(
    graph: Graph, point: OperatingPoint, wire: View, linear: Linear | None
) -> tuple[tuple[Conductor, ...], tuple[int, ...]]:
    """What conducts at rest, and the closed switches; a multiplier is no junction by itself."""
    multiplied = multipliers(graph, point, wire, linear)
    single = junctions(graph, point, wire, linear)
    return (*single, *multiplied, *chains(graph, wire, (*single, *multiplied))), switches(graph, point)


def _detectors(graph: Graph, found: Sequence[Tank], network: Network | None) -> set[int]:
    """The diodes that hang on a tuned circuit by one end alone, straight or by a resistor of their own: what such a
    diode does at rest says nothing."""
    if network is None:
        return set()
    diodes = [element for element in graph.elements if element.kind in DIODES and len(element.nodes) == 2]
    return {
        element.index
        for element in diodes
        if any(_moves_one_end(graph, _through_resistors(graph, element), tank, network) for tank in found)
    }


def _through_resistors(graph: Graph, diode: Element) -> tuple[int, ...]:
    """The ends of a diode, or those of the resistors in series with it that meet nothing else there."""
    ends = []
    for node in diode.nodes:
        others = [graph.elements[index] for index, _ in graph.at_node[node] if index != diode.index]
        lone = node not in {0, *graph.rails} and len(others) == 1 and others[0].kind == "resistor"
        ends.append(next((end for end in others[0].nodes if end != node), node) if lone else node)
    return tuple(ends)


def _moves_one_end(graph: Graph, ends: Sequence[int], tank: Tank, network: Network) -> bool:
    """Whether a tuned circuit moves one of two nodes, a winding of its core being on it, and the other hardly."""
    cores = {node for winding in graph.windings_of.get(tank.element, ()) for node in winding.nodes} | set(tank.nodes)
    hot = next((node for node in tank.nodes if node not in {0, *graph.rails}), None)
    for near, far in (ends, ends[::-1]):
        if hot is not None and near in cores and near not in {0, *graph.rails}:
            moved = [
                abs(network.transfer(hot, node, tank.frequency) or 0.0) if node != hot else 1.0 for node in (near, far)
            ]
            if moved[0] > DETECTED and moved[1] < STILL * moved[0]:
                return True
    return False


def _spreaders(conductors: Sequence[Conductor], signals: Sequence[View]) -> tuple[tuple[int, ...], ...]:
    """The elements of each chain or multiplier that is a wire in some band."""
    return tuple(
        conductor.elements
        for conductor in conductors
        if conductor.what != "junction"
        and any(all(view.class_of[a] == view.class_of[b] for a, b, _ in conductor.wires) for view in signals)
    )


def _linear(graph: Graph, point: OperatingPoint, driven: Mapping[int, float]) -> Network | None:
    """The linearised circuit, None where no operating point was found."""
    if point.status == "not solved":
        return None
    from topo.analysis import linearise

    return Network(linearise(graph, point, driven=driven, undriven=True))


def _skeleton(graph: Graph, point: OperatingPoint) -> Network:
    from topo.analysis import skeleton

    return Network(skeleton(graph, point))


def _frequencies(graph: Graph, bands: Bands) -> dict[int, float]:
    """Mid band of each device: of the tuned circuit that it touches, else of its section's or the declared band."""
    at: dict[int, Tank] = {}
    for tank in bands.tanks:
        for node in _tank_nodes(graph, tank):
            at.setdefault(node, tank)
    found = {}
    for element in graph.elements:
        if element.kind in DEVICES:
            met = [at[node].band for node in element.nodes if node in at and node not in graph.rails]
            number = met[0] if met else bands.section_band.get(element.part.section or "", 0)
            found[element.index] = math.sqrt(bands.bands[number][0] * bands.bands[number][1])
    return found


def _tank_nodes(graph: Graph, tank: Tank) -> Sequence[int]:
    nodes = [*tank.nodes]
    for winding in graph.windings_of.get(tank.element, ()):
        nodes.extend(winding.nodes)
    return [node for node in nodes if node != 0]
