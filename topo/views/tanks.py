"""Tuned circuits: one coil and the capacitors that close a loop across it, padders and taps included."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from topo.graph.graph import Graph, WindingElement
from topo.views.kinds import DEVICES, DIODES, is_polarised
from topo.views.network import Network
from topo.views.view import Tank

LEAST_HERTZ = 20e3
LEAST_Q = 5.0
LEAST_FELLOW_Q = 1.0
CRYSTAL_Q = 10e3
"""A crystal's Q, at the least (common practice)."""
FELLOW_SHARE = 0.15
"""A loop of lower Q is a tuned circuit all the same if one of LEAST_Q is tuned within this of it: a detector or an
aerial loads it."""
LEAST_SHARE = 0.05
"""A capacitor that holds less of the loop's energy does not tune it: it bypasses or couples."""
FILTER_OHM = 50.0
"""A plain inductor from a rail with its capacitors to ground and sqrt(L/C) under this filters the supply."""
LEAST_FARAD = 1e-14
"""Less than this between two nodes is no capacitor, but what the sums leave."""
LEAST_TIE = 1e-12
"""What keeps a node determined that no capacitor ties to the loop, as a share of the capacitance at it."""
STEPS = 4


@dataclass(frozen=True)
class Coil:
    """A coil or a part of one that capacitors may lie across: element, winding, its two nodes, henries."""

    element: int
    winding: int | None
    nodes: tuple[int, int]
    henries: float


def winding_henries(graph: Graph, winding: WindingElement) -> float | None:
    """Inductance of a whole winding: the given inductance, by the square of the turns; None where not known.

    `primary` of a transformer is that of its first winding; the value of a tapped inductor is its whole.
    """
    element = graph.elements[winding.element]
    given = element.params.get("primary", element.value)
    first = sum(graph.windings_of[winding.element][0].turns)
    if not given or not first:
        return None
    return float(given) * (sum(winding.turns) / first) ** 2


def coils(graph: Graph) -> Iterator[Coil]:
    """Everything that may be the coil of a tuned circuit: inductors, windings, and their sections."""
    for element in graph.elements:
        if element.kind == "inductor" and len(element.nodes) == 2 and element.value and not element.part.windings:
            yield Coil(element.index, None, (element.nodes[0], element.nodes[1]), element.value)
    for winding in graph.windings:
        henries = winding_henries(graph, winding)
        if henries is None:
            continue
        whole = sum(winding.turns)
        count = len(winding.nodes)
        spans = [(0, count - 1)] + [(i, j) for i in range(count) for j in range(i + 1, count) if j - i < count - 1]
        for i, j in spans:
            share = sum(winding.turns[i:j]) / whole if whole else 0.0
            if share and winding.nodes[i] != winding.nodes[j]:
                yield Coil(winding.element, winding.index, (winding.nodes[i], winding.nodes[j]), henries * share**2)


def tanks(graph: Graph, network: Network, passive: Network | None = None) -> tuple[Tank, ...]:
    """All tuned circuits above 20 kHz with a Q of 5 or more, no generator connected, in order of frequency; and those
    of lower Q that are tuned as one of them is.

    A circuit that a device keeps going has the frequency and the Q that it has without the device, in the passive
    network: as it swings, the device gives no more than the losses take.

    Excluded are chokes, beads and loops that an electrolytic takes part in, and supply filters. For one coil the
    span with the most of it is taken; spans that resonate at the same frequency are one tuned circuit.
    """
    capacitors = _Capacitors(graph)
    found: list[Tank] = []
    for coil in coils(graph):
        loop = capacitors.across(coil.nodes)
        if loop is None:
            continue
        farads, shares = loop
        members = tuple(index for index, share in shares.items() if share >= LEAST_SHARE)
        if any(is_polarised(graph, graph.elements[index]) for index in members):
            continue
        guess = 1.0 / (2.0 * math.pi * math.sqrt(coil.henries * farads))
        if guess <= LEAST_HERTZ or not _is_for_signals(graph, capacitors, coil, farads, members):
            continue
        if any(tank.element == coil.element and set(tank.capacitors) >= set(members) for tank in found):
            continue
        frequency, impedance = _resonance(network, coil, farads, guess)
        if impedance.real < 0.0 and passive is not None:
            frequency, impedance = _resonance(passive, coil, farads, guess)
        q = abs(impedance) / (2.0 * math.pi * frequency * coil.henries)
        if frequency > LEAST_HERTZ and q >= LEAST_FELLOW_Q:
            found.append(Tank(coil.element, coil.winding, coil.nodes, members, float(frequency), float(q)))
    found += _crystals(graph, capacitors)
    sharp = [tank.frequency for tank in found if tank.q >= LEAST_Q]
    kept = [tank for tank in found if tank.q >= LEAST_Q or _has_fellow(tank, sharp)]
    return tuple(sorted(kept, key=lambda tank: (tank.frequency, tank.element)))


def _crystals(graph: Graph, capacitors: _Capacitors) -> list[Tank]:
    """Crystals of given frequency with the capacitors that close a loop across them: these load it and divide its
    signal, and are neither wires nor nothing."""
    found = []
    for element in graph.elements:
        if element.kind == "crystal" and len(element.nodes) == 2 and element.value:
            loop = capacitors.across((element.nodes[0], element.nodes[1]))
            if loop is not None:
                members = tuple(index for index, share in loop[1].items() if share >= LEAST_SHARE)
                nodes = (element.nodes[0], element.nodes[1])
                found.append(Tank(element.index, None, nodes, members, float(element.value), CRYSTAL_Q))
    return found


def _has_fellow(tank: Tank, frequencies: Sequence[float]) -> bool:
    """Whether one of the frequencies is near that of a tuned circuit."""
    return any(abs(tank.frequency / other - 1.0) <= FELLOW_SHARE for other in frequencies)


def _resonance(network: Network, coil: Coil, farads: float, guess: float) -> tuple[float, complex]:
    """The frequency near a guess where the susceptance across the coil vanishes, and the impedance there.

    Source: Newton's method on Im(1/Z); its slope at resonance of a simple tank is 2 C by angular frequency.
    """
    frequency = guess
    for _ in range(STEPS):
        across = network.across(*coil.nodes, frequency)
        if across == 0:
            break
        step = (1.0 / across).imag / (2.0 * farads) / (2.0 * math.pi)
        frequency = min(max(frequency - step, 0.7 * frequency), 1.4 * frequency)
        if abs(step) < 1e-4 * frequency:
            break
    return frequency, network.across(*coil.nodes, frequency)


def _is_for_signals(graph: Graph, capacitors: _Capacitors, coil: Coil, farads: float, members: tuple[int, ...]) -> bool:
    """Whether a loop meets a device, and is no supply filter."""
    fixed = {0, *graph.rails}
    if any(node in graph.rails for node in coil.nodes) and coil.winding is None:
        rail_end = next(node for node in coil.nodes if node in graph.rails)
        to_ground = all(set(graph.elements[index].nodes) & (fixed - {rail_end}) for index in members)
        if to_ground and math.sqrt(coil.henries / farads) < FILTER_OHM:
            return False
    nodes = capacitors.reached(coil.nodes) - fixed
    if coil.winding is not None:
        if len(graph.windings_of[coil.element]) > 1:
            return True
        nodes |= {node for winding in graph.windings_of[coil.element] for node in winding.nodes} - fixed
    meets = DEVICES | DIODES | {"antenna", "crystal", "opamp", "transformer", "ic", "other"}
    return any(
        graph.elements[index].kind in meets and index != coil.element
        for node in sorted(nodes)
        for index, _ in graph.at_node[node]
    )


class _Capacitors:
    """The network of capacitors alone; ground and hard rails are one node."""

    def __init__(self, graph: Graph) -> None:
        self.fixed = {0, *graph.rails}
        self.links: list[tuple[int, int, int, float]] = []
        self.at: dict[int, list[int]] = {}
        for element in graph.elements:
            if element.kind == "capacitor" and len(element.nodes) == 2 and element.value:
                a, b = (self._fold(node) for node in element.nodes)
                if a != b:
                    for node in (a, b):
                        self.at.setdefault(node, []).append(len(self.links))
                    self.links.append((a, b, element.index, element.value))

    def _fold(self, node: int) -> int:
        return 0 if node in self.fixed else node

    def reached(self, nodes: tuple[int, int]) -> set[int]:
        """Nodes that capacitors join to these without passing ground or a rail."""
        seen = {self._fold(node) for node in nodes}
        queue = sorted(seen - {0})
        while queue:
            node = queue.pop()
            for position in self.at.get(node, ()):
                for other in self.links[position][:2]:
                    if other not in seen:
                        seen.add(other)
                        if other != 0:
                            queue.append(other)
        return seen

    def across(self, nodes: tuple[int, int]) -> tuple[float, Mapping[int, float]] | None:
        """Farads that the capacitors show between two nodes, all others free, and each one's share of the energy."""
        a, b = (self._fold(node) for node in nodes)
        if a == b or not self.at.get(a) or not self.at.get(b):
            return None
        place = {a: 0, b: 1}
        queue = [a, b]
        while queue:
            node = queue.pop()
            for position in self.at.get(node, ()):
                for other in self.links[position][:2]:
                    if other not in place:
                        place[other] = len(place)
                        queue.append(other)
        links = [link for link in self.links if link[0] in place]
        table = np.zeros((len(place), len(place)))
        for first, second, _, farads in links:
            i, j = place[first], place[second]
            table[i, i] += farads
            table[j, j] += farads
            table[i, j] -= farads
            table[j, i] -= farads
        volts = np.zeros(len(place))
        volts[0] = 1.0
        if len(place) > 2:
            scale = table.diagonal()[2:, None]
            free = table[2:, 2:] / scale + LEAST_TIE * np.eye(len(place) - 2)
            volts[2:] = np.linalg.solve(free, -table[2:, 0] / scale[:, 0])
        energies = {index: float(farads * (volts[place[i]] - volts[place[j]]) ** 2) for i, j, index, farads in links}
        total = sum(energies.values())
        if total <= LEAST_FARAD:
            return None
        return total, {index: energy / total for index, energy in sorted(energies.items())}
