"""The spread of the operating point: what a meter may show on a sound specimen of the circuit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from topo.analysis.inner_nets import inner_voltages
from topo.analysis.many import Samples, driving_resistances, solve_many
from topo.analysis.newton import Solution, Solver
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.solving import Ready, set_up, solve
from topo.analysis.sources import source_name
from topo.analysis.tolerances import Array, Draws, Tolerances, draw, draw_assumed
from topo.graph.graph import Graph
from topo.graph.normalising import normalise
from topo.netlist.circuit import Circuit

SAMPLES = 1000
ASSUMED_SAMPLES = 64
INNER_PERCENT = (5.0, 95.0)

FEW_PERCENT = 0.02
"""A figure rests on an assumed value where that moves it by more than this share ..."""

FEW_MILLIVOLT = 0.002
"""... and, of a voltage, by more than this."""


@dataclass(frozen=True)
class Range:
    """A figure with its range, in volts or amperes; NaN where not known."""

    low: float
    typical: float
    high: float

    @property
    def known(self) -> bool:
        """Whether there is a figure at all."""
        return math.isfinite(self.typical)

    @property
    def ranged(self) -> bool:
        """Whether the range is known too."""
        return self.known and math.isfinite(self.low) and math.isfinite(self.high)


UNKNOWN = Range(math.nan, math.nan, math.nan)


@dataclass(frozen=True, eq=False)
class Spread:
    """The operating point as drawn, and that of many specimens with parts inside of their tolerances.

    `volts` (S, nodes); `currents` (S,) by element and terminal, of devices; `supplies` (S,) by the name that
    `point.supply_currents` has; samples that did not converge are left out, and `failed` counts them.
    `inner` has the volts of nets inside merged elements.
    `ohms` (nodes,) is what a meter to ground sees; the `assumed_` tables are of samples in which only
    assumed values differ. `percent` are the ends of each range, (0, 100) for the extremes.
    """

    point: OperatingPoint
    tolerances: Tolerances
    count: int
    failed: int
    volts: Array
    currents: Mapping[tuple[int, str], Array]
    supplies: Mapping[str, Array]
    ohms: Array
    assumed_volts: Array
    assumed_currents: Mapping[tuple[int, str], Array] = field(default_factory=dict)
    assumed_supplies: Mapping[str, Array] = field(default_factory=dict)
    percent: tuple[float, float] = INNER_PERCENT
    inner: Mapping[str, Array] = field(default_factory=dict)
    assumed_inner: Mapping[str, Array] = field(default_factory=dict)

    def inner_voltage(self, net: str) -> Range:
        """Volts of a net inside a merged element to ground."""
        return self._range(self.point.inner_volts.get(net, math.nan), self.inner.get(net))

    def inner_voltage_rests(self, net: str) -> bool:
        """Whether such a voltage rests on an assumed value."""
        return _rests(self.assumed_inner.get(net), FEW_MILLIVOLT)

    def voltage(self, node: int, reference: int = 0) -> Range:
        """Volts of a node to ground or to another node."""
        typical = self.point.volts[node] - self.point.volts[reference]
        return self._range(typical, self.volts[:, node] - self.volts[:, reference] if len(self.volts) else None)

    def current(self, element: int, terminal: str) -> Range:
        """Amperes into a device's terminal."""
        item = self.point.graph.elements[element]
        typical = self.point.currents[element][item.terminals.index(terminal)]
        return self._range(typical, self.currents.get((element, terminal)))

    def supply(self, name: str) -> Range:
        """Amperes that a supply delivers."""
        return self._range(self.point.supply_currents[name], self.supplies.get(name))

    def voltage_rests(self, node: int, reference: int = 0) -> bool:
        """Whether a voltage rests on an assumed value."""
        if not len(self.assumed_volts):
            return False
        return _rests(self.assumed_volts[:, node] - self.assumed_volts[:, reference], FEW_MILLIVOLT)

    def current_rests(self, element: int, terminal: str) -> bool:
        """Whether a current rests on an assumed value."""
        return _rests(self.assumed_currents.get((element, terminal)), 0.0)

    def supply_rests(self, name: str) -> bool:
        """Whether what a supply delivers rests on an assumed value."""
        return _rests(self.assumed_supplies.get(name), 0.0)

    def _range(self, typical: float, samples: Array | None) -> Range:
        if not math.isfinite(typical):
            return UNKNOWN
        if samples is None or not len(samples):
            return Range(math.nan, typical, math.nan)
        low, high = np.percentile(samples, self.percent)
        return Range(min(float(low), typical), typical, max(float(high), typical))


def spread(
    graph_or_circuit: Graph | Circuit,
    *,
    tolerances: Tolerances | None = None,
    count: int = SAMPLES,
    extremes: bool = False,
) -> Spread:
    """Ranges of the operating point by a fixed table of samples (see `topo.analysis.tolerances`).

    Args:
        tolerances: of supplies and parts; the stated usual ones if None.
        count: of samples.
        extremes: ranges hold every sample, and not the middle nine tenths of them.
    Returns:
        A `Spread`, always; where the circuit as drawn is not solved, its tables are empty.
    """
    graph = graph_or_circuit if isinstance(graph_or_circuit, Graph) else normalise(graph_or_circuit)
    chosen = tolerances or Tolerances()
    point = solve(graph)
    percent = (0.0, 100.0) if extremes else INNER_PERCENT
    if point.status == "not solved":
        nothing = np.zeros((0, len(graph.nets)))
        blank = np.full(len(graph.nets), math.nan)
        return Spread(point, chosen, 0, 0, nothing, {}, {}, blank, nothing, percent=percent)
    ready = set_up(graph, graph.circuit.temperature)
    with np.errstate(all="ignore"):
        nominal = Solver(ready.equations).solve()
        found = _tables(ready, draw(graph.circuit, chosen, count), nominal)
        small = draw_assumed(graph.circuit, point.assumed, ASSUMED_SAMPLES)
        resting = (
            _tables(ready, small, nominal) if _draws_any(small) else _Tables(np.zeros((0, len(graph.nets))), {}, {}, {})
        )
        ohms = driving_resistances(ready, nominal)
    return Spread(
        point,
        chosen,
        count,
        count - len(found.volts),
        found.volts,
        found.currents,
        found.supplies,
        ohms,
        resting.volts,
        resting.currents,
        resting.supplies,
        percent,
        found.inner,
        resting.inner,
    )


@dataclass(frozen=True, eq=False)
class _Tables:
    volts: Array
    currents: dict[tuple[int, str], Array]
    supplies: dict[str, Array]
    inner: dict[str, Array]


def _tables(ready: Ready, draws: Draws, nominal: Solution) -> _Tables:
    """Voltages and currents of the samples that converged."""
    samples = solve_many(ready, draws, nominal)
    kept = samples.converged
    equations = ready.equations
    nodes = samples.unknowns[:, : len(equations.graph.nets)]
    inner = {net: volts[kept] for net, volts in inner_voltages(ready, draws, nodes).items()}
    return _Tables(nodes[kept], _currents(ready, samples), _supplies(ready, samples), inner)


def _currents(ready: Ready, samples: Samples) -> dict[tuple[int, str], Array]:
    found: dict[tuple[int, str], Array] = {}
    for group, table in zip(ready.equations.groups, samples.amperes, strict=True):
        for place, index in enumerate(group.elements):
            for column, name in enumerate(group.names):
                if name in ready.equations.graph.elements[index].terminals:
                    found[index, name] = table[samples.converged, place, column]
    return found


def _supplies(ready: Ready, samples: Samples) -> dict[str, Array]:
    found: dict[str, Array] = {}
    for (kind, key), row in ready.equations.rows.items():
        amperes = -samples.unknowns[samples.converged, row]
        if kind == "supply":
            found[str(key)] = amperes
        elif kind == "element" and isinstance(key, int):
            found[source_name(ready.equations.graph.elements[key])] = amperes
    return found


def _draws_any(draws: Draws) -> bool:
    return any((draws.factors, draws.gains, draws.saturations, draws.thresholds, draws.moves))


def _rests(samples: Array | None, least: float) -> bool:
    """Whether samples in which assumed values differ are spread by more than a little."""
    if samples is None or not len(samples):
        return False
    width = float(samples.max() - samples.min())
    return width > least and width > FEW_PERCENT * float(np.abs(samples).max())
