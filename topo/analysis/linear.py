"""A linear network at rest: impedances, transfers, responses, and the power that each terminal takes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph

Complex = NDArray[np.complex128]

KEPT_INVERSES = 64
"""So many frequencies keep their inverse; a reading asks for a handful."""


@dataclass(frozen=True)
class Link:
    """A linear two-terminal path of an element between two of its terminals (by position): siemens and farad."""

    ends: tuple[int, int]
    a: int
    b: int
    siemens: float = 0.0
    farad: float = 0.0


@dataclass(frozen=True)
class Coil:
    """A section of a coil: positions of its terminals, its winding, its current's row, ohm and henry of its own."""

    ends: tuple[int, int]
    winding: int
    row: int
    ohms: float
    henry: float
    turns: float


@dataclass(frozen=True, eq=False)
class Block:
    """A device made linear: positions of its terminals, their unknowns (t,), and derivatives (t, t), siemens."""

    terminals: tuple[int, ...]
    at: NDArray[np.intp]
    slopes: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Response:
    """What a network does when driven: complex volts of each node, and the currents in its coils and sources.

    `response[node]` are the volts of a node to ground; `numpy.asarray(response)` is the row of all nodes.
    """

    frequency: float
    unknowns: Complex
    nodes: int

    @property
    def volts(self) -> Complex:
        """Complex volts of every node, ground first."""
        return self.unknowns[: self.nodes]

    def __getitem__(self, node: int) -> complex:
        return complex(self.unknowns[node])

    def __len__(self) -> int:
        return self.nodes

    def __array__(self, dtype: object = None, copy: object = None) -> Complex:
        return self.volts


@dataclass(eq=False)
class Linear:
    """A circuit made linear: A(f) x = b with A(f) = G + j 2 pi f C.

    Unknowns x are the node voltages (0 is ground), then currents of coil sections and sources. `fixed` is G and
    `rising` is C, both (N, N) with the row of ground unused. `left_out` are elements that have no part in it, since
    their value or operating point is not known; `driven` are the amperes at which devices were taken instead of
    their own; `sources` are plus node, minus node and row of each ideal source. Junctions have no capacitance: the
    model is ideal.
    """

    graph: Graph
    point: OperatingPoint
    fixed: NDArray[np.float64]
    rising: NDArray[np.float64]
    links: dict[int, list[Link]] = field(default_factory=dict)
    coils: dict[int, list[Coil]] = field(default_factory=dict)
    blocks: dict[int, Block] = field(default_factory=dict)
    source_rows: dict[int, int] = field(default_factory=dict)
    supply_rows: dict[str, int] = field(default_factory=dict)
    sources: tuple[tuple[int, int, int], ...] = ()
    left_out: frozenset[int] = frozenset()
    driven: Mapping[int, float] = field(default_factory=dict)
    assumed: Mapping[str, str] = field(default_factory=dict)
    _inverses: dict[float, Complex] = field(default_factory=dict, repr=False)

    @property
    def nodes(self) -> int:
        """How many nodes there are, ground among them."""
        return len(self.graph.nets)

    def matrix(self, frequency: float) -> Complex:
        """A(f), (N, N)."""
        return self.fixed + 2j * math.pi * frequency * self.rising

    def inverse(self, frequency: float) -> Complex:
        """The inverse of A(f), (N, N), with zeros in the row and column of ground; kept for the next time.

        Where A(f) is singular (nothing but contradictory ideal parts makes it so) all entries are NaN.
        """
        found = self._inverses.get(frequency)
        if found is None:
            found = np.zeros(self.fixed.shape, dtype=np.complex128)
            try:
                found[1:, 1:] = np.linalg.inv(self.matrix(frequency)[1:, 1:])
            except np.linalg.LinAlgError:
                found[1:, 1:] = np.nan
            found.setflags(write=False)
            if len(self._inverses) >= KEPT_INVERSES:
                self._inverses.pop(next(iter(self._inverses)))
            self._inverses[frequency] = found
        return found

    def impedances(self, frequency: float) -> Complex:
        """Volts at each node for an ampere into each node, (nodes, nodes), ohm; row and column 0 are ground."""
        return self.inverse(frequency)[: self.nodes, : self.nodes]

    def impedance(self, a: int, b: int | None, frequency: float) -> complex:
        """Driving-point impedance between two nodes, ohm; b None is ground."""
        z, other = self.inverse(frequency), b or 0
        return complex(z[a, a] - z[a, other] - z[other, a] + z[other, other])

    def across(self, element: int, frequency: float) -> complex:
        """Driving-point impedance across a two-terminal element, itself included, ohm."""
        nodes = self.graph.elements[element].nodes
        return self.impedance(nodes[0], nodes[1], frequency)

    def facing(self, a: int, b: int, own: complex, frequency: float) -> complex:
        """Admittance of the rest of the circuit between two nodes, siemens: 1 / Zdp less the group's own.

        Infinite where the two nodes are ideally held.
        """
        z = self.impedance(a, b, frequency)
        return complex(math.inf) if z == 0 else 1.0 / z - own

    def admittance_of(self, element: int, frequency: float) -> complex | None:
        """Admittance of a two-terminal element at a frequency, siemens; None for others and what is left out.

        A coil counts with its winding resistance, a diode with its slope at rest.
        """
        if len(self.graph.elements[element].nodes) != 2 or element in self.left_out:
            return None
        omega = 2.0 * math.pi * frequency
        total, found = 0j, False
        for link in self.links.get(element, ()):
            total, found = total + complex(link.siemens, omega * link.farad), True
        for coil in self.coils.get(element, ()):
            total, found = total + 1.0 / complex(coil.ohms, omega * coil.henry), True
        block = self.blocks.get(element)
        if block is not None:
            return total + complex(block.slopes[0, 0])
        return total if found else None

    def winding_admittance(self, winding: int, frequency: float) -> complex | None:
        """Admittance of one winding (by its index in the graph) with all others open, siemens."""
        owner = self.graph.windings[winding].element
        first = self.graph.windings_of[owner][0].index
        sections = [coil for coil in self.coils.get(owner, ()) if coil.winding == winding - first]
        if not sections:
            return None
        ohms = sum(coil.ohms for coil in sections)
        henry = sum(math.sqrt(coil.henry) for coil in sections) ** 2
        return 1.0 / complex(ohms, 2.0 * math.pi * frequency * henry)

    def response(self, frequency: float, injected: Mapping[int, complex]) -> Response:
        """The whole network's response to currents into nodes, amperes."""
        inverse = self.inverse(frequency)
        unknowns = np.zeros(len(inverse), dtype=np.complex128)
        for node, amperes in injected.items():
            unknowns += inverse[:, node] * amperes
        return Response(frequency, unknowns, self.nodes)

    def transfer(
        self, drive: int, out: int, frequency: float, *, drive_reference: int = 0, out_reference: int = 0
    ) -> complex:
        """Volts at `out` for a volt at `drive`, each to its reference, with nothing else driven.

        Where an ideal source lies between `drive` and its reference, it is that source that gives the volt; NaN
        where the two are held in another way.
        """
        z = self.inverse(frequency)
        row = self._source_between(drive, drive_reference)
        if row is not None:
            return complex(z[out, row] - z[out_reference, row])
        column = z[:, drive] - z[:, drive_reference]
        across = column[drive] - column[drive_reference]
        return complex(math.nan) if across == 0 else complex((column[out] - column[out_reference]) / across)

    def _source_between(self, plus: int, minus: int) -> int | None:
        """The row of an ideal source between two nodes, the first being its positive end."""
        return next((row for a, b, row in self.sources if (a, b) == (plus, minus)), None)

    def currents(self, element: int, response: Response) -> Complex:
        """Complex amperes into each terminal of an element, in the order of its terminals."""
        row = np.zeros(len(self.graph.elements[element].nodes), dtype=np.complex128)
        x, omega = response.unknowns, 2.0 * math.pi * response.frequency
        for link in self.links.get(element, ()):
            current = complex(link.siemens, omega * link.farad) * (x[link.a] - x[link.b])
            row[link.ends[0]] += current
            row[link.ends[1]] -= current
        for coil in self.coils.get(element, ()):
            row[coil.ends[0]] += x[coil.row]
            row[coil.ends[1]] -= x[coil.row]
        block = self.blocks.get(element)
        if block is not None:
            amperes = block.slopes @ x[block.at]
            for place, terminal in enumerate(block.terminals):
                if terminal >= 0:
                    row[terminal] += amperes[place]
        if element in self.source_rows:
            row[0] += x[self.source_rows[element]]
            row[1] -= x[self.source_rows[element]]
        return row

    def powers(self, element: int, response: Response) -> Complex:
        """Complex power into each terminal of an element, v i*, volt-amperes (amplitudes, so twice the mean)."""
        nodes = list(self.graph.elements[element].nodes)
        return response.unknowns[nodes] * np.conj(self.currents(element, response))

    def winding_powers(self, element: int, response: Response) -> list[complex]:
        """Complex power that each winding of an element takes (negative real part: gives), in their order."""
        windings = self.graph.windings_of.get(element, ())
        totals = [0j] * max(1, len(windings))
        nodes = self.graph.elements[element].nodes
        for coil in self.coils.get(element, ()):
            across = response.unknowns[nodes[coil.ends[0]]] - response.unknowns[nodes[coil.ends[1]]]
            totals[coil.winding] += complex(across * np.conj(response.unknowns[coil.row]))
        return totals
