"""Small-signal figures of a circuit with a generator and a load in place: gain, impedances, corner frequencies."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from topo.analysis.linear import Linear
from topo.analysis.linearising import UNKNOWN_BAND_HZ, linear_network
from topo.analysis.operating_point import OperatingPoint
from topo.errors import CircuitError, UsageError
from topo.graph.graph import Graph

Complex = NDArray[np.complex128]
Pair = str | tuple[str, str]

LOWEST_HZ, HIGHEST_HZ = 1e-3, 1e10
"""Between these corners are looked for."""

POINTS_A_DECADE = 24
"""Of the first look at a response; between these points its peaks and dips are followed to their tips."""

HALF_POWER = math.sqrt(0.5)
BISECTIONS = 60
TIP_STEPS = 40
GOLDEN = 0.5 * (math.sqrt(5.0) - 1.0)


@dataclass(frozen=True)
class Corner:
    """A corner frequency: the response is `falling` above an upper one, and rises towards a lower one."""

    hertz: float
    falling: bool


@dataclass(eq=False)
class SmallSignal:
    """A circuit made linear, driven by a generator of 1 V behind its resistance, with a load.

    `network` is the circuit alone; `plus` and `minus` are the generator's nodes, `load` the nodes and ohms of a load
    that is no part of the circuit. Junctions have no capacitance, so a response has no corner above those of the
    parts that are drawn. Unknowns are those of `network` and then the generator's current; where an ideal source of
    the circuit lies at the generator's nodes, it is that one that drives.
    """

    network: Linear
    plus: int
    minus: int
    generator_ohms: float = 0.0
    load: tuple[int, int, float] | None = None
    _fixed: NDArray[np.float64] = field(init=False, repr=False)
    _rising: NDArray[np.float64] = field(init=False, repr=False)
    row: int = field(init=False)

    def __post_init__(self) -> None:
        own = self.network.fixed
        found = next((row for a, b, row in self.network.sources if (a, b) == (self.plus, self.minus)), None)
        extra = 1 if found is None else 0
        self.row = len(own) if found is None else found
        self._fixed = np.pad(own, (0, extra))
        self._rising = np.pad(self.network.rising, (0, extra))
        if found is None:
            for node, sign in ((self.plus, 1.0), (self.minus, -1.0)):
                self._fixed[node, self.row] += sign
                self._fixed[self.row, node] += sign
        self._fixed[self.row, self.row] -= self.generator_ohms
        if self.load is not None:
            a, b, ohms = self.load
            siemens = 1.0 / ohms
            for at, to, amount in ((a, a, siemens), (b, b, siemens), (a, b, -siemens), (b, a, -siemens)):
                self._fixed[at, to] += amount

    @property
    def middle(self) -> float:
        """The middle of the circuit's signal band (geometric), hertz; 1 kHz where there is none."""
        band = self.network.graph.circuit.band
        return math.sqrt(max(band[0], LOWEST_HZ) * band[1]) if band else UNKNOWN_BAND_HZ

    def nodes(self, pair: Pair) -> tuple[int, int]:
        """The nodes of a net (to ground) or of a pair of nets, by name.

        Raises:
            UsageError: there is no such net, or it lies inside a row of like parts that count as one.
        """
        return _nodes(self.network.graph, pair)

    def matrix(self, frequency: float) -> Complex:
        """A(f) with generator and load, (N, N); the row and column of ground are unused."""
        return self._fixed + 2j * math.pi * frequency * self._rising

    def response(self, frequency: float) -> Complex:
        """All unknowns (N,) for 1 V of the generator; NaN where the equations have no solution."""
        return self._solved(frequency, {self.row: 1.0})

    def gain(self, out: Pair, frequency: float | None = None, *, of: Pair | None = None) -> complex:
        """Volts between two nets for a volt of the generator, or for a volt between the nets `of` while it drives."""
        x = self.response(self.middle if frequency is None else frequency)
        volts = _across(x, self.nodes(out))
        if of is None:
            return volts
        other = _across(x, self.nodes(of))
        return volts / other if other else complex(math.nan)

    def gains(self, out: Pair, frequencies: Sequence[float] | NDArray[np.float64]) -> Complex:
        """The gain at each of several frequencies, (F,)."""
        a, b = self.nodes(out)
        return self._gains(a, b, np.asarray(frequencies, dtype=float))

    def input_impedance(self, frequency: float | None = None) -> complex:
        """What the generator sees beyond its own resistance, with the load in place, ohm."""
        x = self.response(self.middle if frequency is None else frequency)
        amperes = -complex(x[self.row])
        return _across(x, (self.plus, self.minus)) / amperes if amperes else complex(math.inf)

    def output_impedance(self, out: Pair, frequency: float | None = None, *, without: Sequence[str] = ()) -> complex:
        """Impedance of a pair of nets with the generator in place and at rest, ohm.

        The load given to `apply_signal` does not count; nor do two-terminal parts of the circuit that lie between the
        two nets and are named in `without`, such as its loudspeaker.
        """
        f = self.middle if frequency is None else frequency
        a, b = self.nodes(out)
        admittance = 1.0 / self._driving_point(a, b, f)
        if self.load is not None and {self.load[0], self.load[1]} == {a, b}:
            admittance -= 1.0 / self.load[2]
        for ref in without:
            element = self.network.graph.element_of.get(ref)
            own = None if element is None else self.network.admittance_of(element, f)
            if element is None or own is None or set(self.network.graph.elements[element].nodes) != {a, b}:
                raise UsageError(f"{ref} is no two-terminal part between {out}.")
            admittance -= own
        return 1.0 / admittance if admittance else complex(math.inf)

    def impedance(self, pair: Pair, frequency: float | None = None) -> complex:
        """Driving-point impedance of a pair of nets, generator and load in place, ohm."""
        a, b = self.nodes(pair)
        return self._driving_point(a, b, self.middle if frequency is None else frequency)

    def corners(
        self, out: Pair, reference: float | None = None, *, low: float = LOWEST_HZ, high: float = HIGHEST_HZ
    ) -> tuple[Corner, ...]:
        """Frequencies at which the gain is 3.01 dB under that at mid band, from the lowest up.

        Args:
            reference: hertz at which the full gain is taken; the middle of the band if None.
            low, high: hertz between which corners are looked for.
        Each is bracketed on a grid of 24 points a decade, refined at every peak and dip, and found by bisection on the
        logarithm of frequency. None where the gain at the reference is nothing.
        """
        a, b = self.nodes(out)
        middle = self.middle if reference is None else reference
        wanted = float(abs(self._gains(a, b, np.array([middle]))[0])) * HALF_POWER
        if not wanted > 0:
            return ()

        def size(logs: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.abs(self._gains(a, b, np.exp(logs)))

        points = int(math.log10(high / low) * POINTS_A_DECADE) + 2
        grid = np.unique(np.append(np.linspace(math.log(low), math.log(high), points), math.log(middle)))
        grid, sizes = _with_tips(grid, size)
        above = sizes >= wanted
        turns = np.flatnonzero(above[1:] != above[:-1])
        if not len(turns):
            return ()
        lower, upper = grid[turns].copy(), grid[turns + 1].copy()
        for _ in range(BISECTIONS):
            middle_logs = 0.5 * (lower + upper)
            same = (size(middle_logs) >= wanted) == above[turns]
            lower, upper = np.where(same, middle_logs, lower), np.where(same, upper, middle_logs)
        found = np.exp(0.5 * (lower + upper))
        return tuple(Corner(float(hertz), bool(above[turn])) for hertz, turn in zip(found, turns, strict=True))

    def _solved(self, frequency: float, sources: dict[int, complex]) -> Complex:
        right = np.zeros(len(self._fixed), dtype=np.complex128)
        for row, amount in sources.items():
            right[row] += amount
        found = np.zeros_like(right)
        try:
            found[1:] = np.linalg.solve(self.matrix(frequency)[1:, 1:], right[1:])
        except np.linalg.LinAlgError:
            found[1:] = np.nan
        return found

    def _driving_point(self, a: int, b: int, frequency: float) -> complex:
        if a == b:
            return 0j
        return _across(self._solved(frequency, {a: 1.0, b: -1.0} if b else {a: 1.0}), (a, b))

    def _gains(self, a: int, b: int, frequencies: NDArray[np.float64]) -> Complex:
        """Gains at many frequencies at once, in portions that keep the stack of matrices small."""
        size = len(self._fixed) - 1
        portion = max(1, 2_000_000 // max(1, size * size))
        right = np.zeros((size, 1), dtype=np.complex128)
        right[self.row - 1] = 1.0
        rows: list[Complex] = []
        for start in range(0, len(frequencies), portion):
            omega = 2j * math.pi * frequencies[start : start + portion, None, None]
            try:
                x = np.linalg.solve(self._fixed[1:, 1:] + omega * self._rising[1:, 1:], right)[:, :, 0]
                full = np.concatenate((np.zeros((len(x), 1)), x), axis=1)
                rows.append(full[:, a] - full[:, b])
            except np.linalg.LinAlgError:
                few = [_across(self.response(float(f)), (a, b)) for f in frequencies[start : start + portion]]
                rows.append(np.array(few))
        return np.concatenate(rows) if rows else np.zeros(0, dtype=np.complex128)


def small_signal_of(
    graph: Graph,
    point: OperatingPoint,
    source: Pair | None = None,
    *,
    generator_ohms: float = 0.0,
    load: tuple[Pair, float] | None = None,
) -> SmallSignal:
    """The circuit about its operating point, driven at a net or pair of nets.

    Args:
        source: where the generator is; the circuit's first input if None.
        generator_ohms: its resistance.
        load: nets and ohms of a load that is no part of the circuit.
    Raises:
        UsageError: no such net; no input stated and no source named; a resistance that is negative.
        CircuitError: parts without a value, or devices without an operating point, on which every figure would rest.
    """
    if source is None:
        if not graph.circuit.inputs:
            raise UsageError("The circuit states no input: name the nets of the source.")
        port = graph.circuit.inputs[0]
        source = (port.net, port.reference)
    plus, minus = _nodes(graph, source)
    if plus == minus:
        raise UsageError(f"The source at {source} lies on one net.")
    if generator_ohms < 0 or (load is not None and load[1] <= 0):
        raise UsageError("A generator's resistance is 0 or more, a load's more than 0.")
    loaded = None if load is None else (*_nodes(graph, load[0]), load[1])
    network = linear_network(graph, point)
    if network.left_out:
        parts = tuple(ref for index in sorted(network.left_out) for ref in graph.elements[index].members)
        many = len(parts) > 1
        message = (
            f"{', '.join(parts)} {'have' if many else 'has'} no value or operating point, so no gain can be given."
        )
        raise CircuitError(message, parts=parts, mend=" ".join(point.missing))
    return SmallSignal(network, plus, minus, generator_ohms, loaded)


def _nodes(graph: Graph, pair: Pair) -> tuple[int, int]:
    names = (pair, graph.circuit.ground) if isinstance(pair, str) else pair
    found = []
    for name in names:
        shown = graph.circuit.aliases.get(name.casefold(), name)
        node = 0 if shown == graph.circuit.ground else graph.node_of.get(shown)
        if node is None:
            within = (
                " It lies inside a row of like parts: make it an output to keep it." if shown in graph.inner else ""
            )
            raise UsageError(f"There is no net {name} to measure at.{within}", tuple(graph.nets))
        found.append(node)
    return found[0], found[1]


def _across(x: Complex, nodes: tuple[int, int]) -> complex:
    return complex(x[nodes[0]] - x[nodes[1]])


def _with_tips(
    grid: NDArray[np.float64], size: Callable[[NDArray[np.float64]], NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The grid with the tip of every peak and dip put in, found by golden sections; and the sizes on it."""
    sizes = size(grid)
    inner = np.arange(1, len(grid) - 1)
    rises, falls = sizes[inner] > sizes[inner - 1], sizes[inner] > sizes[inner + 1]
    tips = inner[rises == falls]
    if not len(tips):
        return grid, sizes
    sign = np.where(rises[tips - 1], 1.0, -1.0)
    lower, upper = grid[tips - 1].copy(), grid[tips + 1].copy()
    for _ in range(TIP_STEPS):
        first, second = upper - GOLDEN * (upper - lower), lower + GOLDEN * (upper - lower)
        left = sign * size(first) > sign * size(second)
        lower, upper = np.where(left, lower, first), np.where(left, second, upper)
    grid = np.unique(np.append(grid, 0.5 * (lower + upper)))
    return grid, size(grid)
