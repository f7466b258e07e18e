"""The circuit made linear about its operating point."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from topo.analysis.devices.group import GMIN, Array, Group
from topo.analysis.equations import Equations, add_devices
from topo.analysis.linear import Block, Coil, Linear, Link
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.parameters import ACTIVE, DIODES, device_parameters
from topo.analysis.resistances import (
    COILS,
    LEAST_OHM,
    MEMBER_OF_LOAD,
    coil_sections,
    lamp_ohms,
    load_ohms,
    thermistor_ohms,
    track_ohms,
)
from topo.analysis.sources import add_sources, drives
from topo.graph.graph import Element, Graph
from topo.graph.links import RADIO_HZ

LEAK_SIEMENS = 1e-11
"""From each node to ground: keeps what floats determined, and is far under the 0.1 microsiemens of "no current"."""

MAGNETISING_OHM = 1e6
"""Reactance at the bottom of the band of a first winding whose `primary` is not given: as good as ideal."""

LEAKY_OHM = 1e3
"""The same where the coupling `k` is given, since the leakage inductance is (1 - k^2) of it."""

BEAD_OHM = 100.0
"""A bead in the signal band of a radio-frequency circuit, if it does not say: the netlist language's own figure."""

BEAD_RATED_HZ = 100e6
"""Beads are rated at this frequency (common practice); far below it they are the inductance that gives that figure."""

UNKNOWN_BAND_HZ = 1e3
"""Stands for the bottom of the band where none is stated."""


class Network:
    """A network as it is put together."""

    def __init__(self, graph: Graph, point: OperatingPoint, without: frozenset[int]):
        self.graph, self.point, self.without = graph, point, without
        self.equations = Equations(graph, graph.circuit.temperature, len(graph.nets))
        self.rising: list[tuple[int, int, float]] = []
        self.links: dict[int, list[Link]] = {}
        self.coils: dict[int, list[Coil]] = {}
        self.blocks: dict[int, Block] = {}
        self.unknown: set[int] = set(without)
        self.assumed: dict[str, str] = {}

    def link(self, element: Element, ends: tuple[int, int], siemens: float = 0.0, farad: float = 0.0) -> None:
        """A conductance and capacitance between two terminals of an element."""
        a, b = element.nodes[ends[0]], element.nodes[ends[1]]
        self.links.setdefault(element.index, []).append(Link(ends, a, b, siemens, farad))
        if siemens:
            self.equations.conductance(a, b, siemens)
        if farad:
            self.rising += [(a, a, farad), (b, b, farad), (a, b, -farad), (b, a, -farad)]

    def low_edge(self, element: Element) -> float:
        """The bottom of the band that holds for an element, hertz."""
        band = self.graph.circuit.bands.get(element.part.section) or self.graph.circuit.bands.get(None)
        return max(band[0], 1e-3) if band else UNKNOWN_BAND_HZ


def linear_network(
    graph: Graph,
    point: OperatingPoint,
    *,
    driven: Mapping[int, float] | None = None,
    generator: tuple[int, int, float] | None = None,
    without: frozenset[int] = frozenset(),
) -> Linear:
    """The circuit made linear about its operating point.

    Rails and sources stand still (with their resistance, if any); capacitors, coils and transformers are as
    they are; devices are their slopes at rest. A transformer without `primary` has 1 Mohm of magnetising
    reactance at the bottom of the band, one without `k` is perfectly coupled. Elements without a value and devices
    without a known operating point are left out, and named in `left_out`.

    Args:
        graph: normalised; point: its operating point.
        driven: amperes of collector, drain, anode or diode current at which a device is taken instead of its own.
        generator: node, reference node and ohm of a signal source's resistance.
        without: elements to leave out.
    Source: modified nodal equations, Ho, Ruehli, Brennan (1975); coupled coils L_ij = k sqrt(L_i L_j) (textbook).
    """
    network = assemble(graph, point, without)
    _add_slopes(network, driven or {})
    if generator is not None:
        network.equations.conductance(generator[0], generator[1], 1.0 / max(generator[2], 1e-6))
    return _finish(network, driven or {})


def assemble(graph: Graph, point: OperatingPoint, without: frozenset[int] = frozenset()) -> Network:
    """A circuit's parts, sources and groups of devices as equations at any frequency, devices not yet made linear.

    `equations` hold what does not depend on frequency, with the volts of the sources; `rising` the capacitances and
    (negative, in the rows of coils) inductances. Each node leaks to ground by `LEAK_SIEMENS`.
    """
    network = Network(graph, point, without)
    for element in graph.elements:
        if element.index not in without:
            _add_passive(network, element)
    unfed = frozenset(node for node, volts in enumerate(point.volts) if math.isnan(volts))
    trouble = add_sources(network.equations, without, unfed)
    add_devices(network.equations, frozenset(trouble.left_out | without))
    for node in range(1, len(graph.nets)):
        network.equations.stamps.append((node, node, LEAK_SIEMENS))
    return network


def skeleton_network(graph: Graph, point: OperatingPoint) -> Linear:
    """The linear network with every active device taken out; diodes and fixed regulators stay."""
    devices = [element.index for element in graph.elements if element.kind in ACTIVE and element.kind != "regulator"]
    return linear_network(graph, point, without=drives(graph).union(devices))


def _finish(network: Network, driven: Mapping[int, float]) -> Linear:
    fixed, _ = network.equations.arrays()
    rising = np.zeros_like(fixed)
    if network.rising:
        rows, columns, amounts = zip(*network.rising, strict=True)
        np.add.at(rising, (np.array(rows), np.array(columns)), np.array(amounts))
    for block in network.blocks.values():
        np.add.at(fixed, (block.at[:, None], block.at[None, :]), block.slopes)
    rows_of = network.equations.rows
    return Linear(
        graph=network.graph,
        point=network.point,
        fixed=fixed,
        rising=rising,
        links=network.links,
        coils=network.coils,
        blocks=network.blocks,
        source_rows={int(str(key)): row for (kind, key), row in rows_of.items() if kind == "element"},
        supply_rows={str(key): row for (kind, key), row in rows_of.items() if kind == "supply"},
        sources=_ideal_sources(network),
        left_out=frozenset(network.unknown),
        driven=dict(driven),
        assumed=network.assumed,
    )


def _ideal_sources(network: Network) -> tuple[tuple[int, int, int], ...]:
    """Nodes and row of every source without a resistance."""
    graph, found = network.graph, []
    soft = {supply.net for supply in graph.circuit.supplies if supply.resistance > 0}
    for (kind, key), row in network.equations.rows.items():
        if kind == "supply" and key not in soft:
            found.append((graph.node_of[str(key)], 0, row))
        elif kind == "element" and isinstance(key, int) and not graph.elements[key].params.get("R"):
            found.append((graph.elements[key].nodes[0], graph.elements[key].nodes[1], row))
    return tuple(found)


def _add_passive(network: Network, element: Element) -> None:
    """Adds a part that is no device and no source."""
    kind = element.kind
    if kind in ("capacitor", "electrolytic"):
        _add_value(network, element, element.value, capacitor=True)
    elif kind == "bead":
        _add_bead(network, element)
    elif kind in COILS:
        _add_coil(network, element)
    elif kind == "potentiometer" and len(element.nodes) == 3:
        for ends, ohms in zip(((0, 1), (1, 2)), track_ohms(element), strict=True):
            _add_value(network, element, ohms, ends)
    elif len(element.nodes) >= 2:
        found, ohms = _signal_ohms(network, element)
        if found:
            _add_value(network, element, ohms)


def _signal_ohms(network: Network, element: Element) -> tuple[bool, float | None]:
    """Whether an element is a resistance for the signal, and its ohms (None where not known)."""
    kind, value = element.kind, element.value
    if kind in ("resistor", "relay"):
        return True, value
    if kind == "thermistor":
        return True, thermistor_ohms(element, network.graph.circuit.temperature)
    if kind == "lamp":
        return True, lamp_ohms(element)
    if kind in MEMBER_OF_LOAD:
        return True, value if value is not None else load_ohms(element, network.assumed)
    if kind == "microphone" and value is not None:
        return True, value
    return False, None


def _add_value(
    network: Network, element: Element, value: float | None, ends: tuple[int, int] = (0, 1), capacitor: bool = False
) -> None:
    """Adds a resistance or capacitance; one without a value is left out."""
    if value is None:
        network.unknown.add(element.index)
    elif capacitor:
        network.link(element, ends, farad=value)
    else:
        network.link(element, ends, siemens=1.0 / max(value, LEAST_OHM))


def _add_bead(network: Network, element: Element) -> None:
    """A bead: its ohms in the band of a radio-frequency circuit, in parallel with the coil that it is below that."""
    graph = network.graph
    ohms = BEAD_OHM if element.value is None else element.value
    band = graph.circuit.bands.get(element.part.section) or graph.circuit.bands.get(None)
    if element.value is None:
        network.assumed[element.members[0]] = f"{BEAD_OHM:g} ohm in the signal band assumed"
    network.link(element, (0, 1), siemens=1.0 / max(ohms, 1e-6))
    if band is not None:
        henry = 10.0 * ohms / (2.0 * math.pi * band[0]) if band[1] >= RADIO_HZ else ohms / (2 * math.pi * BEAD_RATED_HZ)
        _add_sections(network, element, henry, 1.0)


def _add_coil(network: Network, element: Element) -> None:
    """A coil or transformer, each section with a current of its own."""
    coupling = min(1.0, abs(float(element.params.get("k", 1.0))))
    if element.kind == "transformer":
        henry = element.params.get("primary")
        if henry is None:
            reactance = MAGNETISING_OHM if coupling == 1.0 else LEAKY_OHM
            henry = reactance / (2.0 * math.pi * network.low_edge(element))
            network.assumed[element.members[0]] = f"magnetising reactance of {reactance:g} ohm at the lowest frequency"
    else:
        henry = element.value
    if henry is None:
        network.unknown.add(element.index)
    else:
        _add_sections(network, element, float(henry), coupling)


def _add_sections(network: Network, element: Element, henry: float, coupling: float) -> None:
    """Rows v = r i + jw sum M i of all sections of a core; `henry` is that of the whole first winding."""
    equations = network.equations
    sections = coil_sections(network.graph, element)
    rows = [equations.unknown("coil", (element.index, place)) for place in range(len(sections))]
    for section, row in zip(sections, rows, strict=True):
        a, b = section.a, section.b
        equations.stamps += [(a, row, 1.0), (b, row, -1.0), (row, a, 1.0), (row, b, -1.0), (row, row, -section.ohms)]
        for other, column in zip(sections, rows, strict=True):
            share = 1.0 if other.winding == section.winding else coupling
            network.rising.append((row, column, -henry * section.turns * other.turns * share))
        own = henry * section.turns**2
        coil = Coil(section.ends, section.winding, row, section.ohms, own, section.turns)
        network.coils.setdefault(element.index, []).append(coil)


def _add_slopes(network: Network, driven: Mapping[int, float]) -> None:
    """Adds each device's slopes at its operating point, or at the current that it is driven to."""
    unknowns = _unknowns_at(network)
    with np.errstate(all="ignore"):
        for group in network.equations.groups:
            controls = group.controls(unknowns)
            for place, index in enumerate(group.elements):
                if index in driven:
                    controls[place] = group.driven(place, abs(float(driven[index])), controls[place])
            known = np.asarray(np.isfinite(controls).all(axis=1))
            _, slopes = group.branches(np.where(known[:, None], controls, group.start), GMIN)
            matrices = group.jacobian(slopes)
            for place, index in enumerate(group.elements):
                if not known[place]:
                    network.unknown.add(index)
                    _keep_regular(network, group, place)
                    continue
                element = network.graph.elements[index]
                spots = tuple(
                    element.terminals.index(name) if name in element.terminals else -1 for name in group.names
                )
                network.blocks[index] = Block(spots, group.at[place], matrices[place])


def _keep_regular(network: Network, group: Group, place: int) -> None:
    """Gives the unknowns of a device that is left out a row of their own."""
    for unknown in group.at[place]:
        if unknown >= len(network.graph.nets):
            network.equations.stamps.append((int(unknown), int(unknown), 1.0))


def _unknowns_at(network: Network) -> Array:
    """All unknowns at the operating point: volts of the nodes, and what follows from the terminal currents."""
    graph, point = network.graph, network.point
    unknowns = np.zeros(network.equations.count)
    unknowns[: len(graph.nets)] = point.volts
    for (kind, key), row in network.equations.rows.items():
        if kind == "output" and isinstance(key, int):
            element = graph.elements[key]
            unknowns[row] = -point.currents[key][element.terminals.index("out")]
        elif kind == "inner" and isinstance(key, tuple):
            index, terminal = key
            element = graph.elements[index]
            values, _ = device_parameters(element.part)
            ohms = values["RS"] if element.kind in DIODES else values[f"r{terminal}"]
            spot = element.terminals.index(terminal)
            unknowns[row] = point.volts[element.nodes[spot]] - point.currents[index][spot] * ohms
    return unknowns
