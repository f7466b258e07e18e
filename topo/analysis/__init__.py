"""The numbers of a circuit: its operating point, and the circuit made linear about it.

Takes a `Circuit` or its `Graph`, gives an `OperatingPoint` (volts of every node, currents into every terminal, the
state of each device) and `Linear` networks, from which impedances and transfers at any frequency follow. Knows the
laws of the devices; knows no views and no patterns, and never guesses a value that was not given without saying so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.netlist.circuit import Circuit

if TYPE_CHECKING:
    from topo.analysis.large_signal import PowerLimit, Setting, Waveforms
    from topo.analysis.linear import Linear
    from topo.analysis.sensitivities import Sensitivity
    from topo.analysis.small_signal import Pair, SmallSignal

__all__ = [
    "OperatingPoint",
    "apply_signal",
    "bias_sensitivities",
    "distortion_by_bias",
    "drive",
    "driven_currents",
    "gain_sensitivities",
    "linearise",
    "most_power",
    "operating_point",
    "skeleton",
]


def operating_point(graph_or_circuit: Graph | Circuit, **options: Any) -> OperatingPoint:
    """The direct-current operating point: see `topo.analysis.solving.solve`."""
    from topo.analysis.solving import solve

    return solve(graph_or_circuit, **options)


def linearise(
    graph: Graph,
    point: OperatingPoint,
    *,
    driven: Mapping[int, float] | None = None,
    generator: tuple[int, int, float] | None = None,
    without: frozenset[int] = frozenset(),
    undriven: bool = False,
) -> Linear:
    """The circuit made linear about its operating point: see `topo.analysis.linearising.linear_network`.

    `undriven` leaves ideal sources at inputs open, for those who put a generator of their own in their place.
    """
    from dataclasses import replace

    from topo.analysis.linearising import linear_network
    from topo.analysis.sources import drives

    absent = drives(graph) if undriven else frozenset()
    linear = linear_network(graph, point, driven=driven, generator=generator, without=without | absent)
    return replace(linear, left_out=linear.left_out - absent) if absent else linear


def skeleton(graph: Graph, point: OperatingPoint) -> Linear:
    """The linear network with every active device taken out: see `topo.analysis.linearising`."""
    from topo.analysis.linearising import skeleton_network

    return skeleton_network(graph, point)


def driven_currents(graph: Graph, point: OperatingPoint, bare: Linear, frequency: float) -> dict[int, float]:
    """Collector currents at which idling devices are linearised: see `topo.analysis.driving`."""
    from topo.analysis.driving import idling_devices

    return idling_devices(graph, point, bare, frequency)


def apply_signal(
    graph_or_circuit: Graph | Circuit,
    point: OperatingPoint | None = None,
    source: Pair | None = None,
    *,
    generator_ohms: float = 0.0,
    load: tuple[Pair, float] | None = None,
) -> SmallSignal:
    """Gain, impedances and corners with a generator and a load in place: see `topo.analysis.small_signal`."""
    from topo.analysis.small_signal import small_signal_of

    solved = operating_point(graph_or_circuit) if point is None else point
    return small_signal_of(solved.graph, solved, source, generator_ohms=generator_ohms, load=load)


def bias_sensitivities(point: OperatingPoint) -> dict[str, tuple[Sensitivity, ...]]:
    """Of each device's quiescent current to every part's value: see `topo.analysis.sensitivities`."""
    from topo.analysis import sensitivities

    return sensitivities.bias_sensitivities(point)


def gain_sensitivities(signal: SmallSignal, out: Pair, frequency: float | None = None) -> tuple[Sensitivity, ...]:
    """Of a gain's magnitude to every part's value: see `topo.analysis.sensitivities`."""
    from topo.analysis import sensitivities

    return sensitivities.gain_sensitivities(signal, out, frequency)


def drive(graph: Graph, point: OperatingPoint, *, amplitude: float, **options: Any) -> Waveforms:
    """The steady cycle of a circuit driven with a sine: see `topo.analysis.large_signal.driving`."""
    from topo.analysis import large_signal

    return large_signal.drive(graph, point, amplitude=amplitude, **options)


def most_power(graph: Graph, point: OperatingPoint, **options: Any) -> PowerLimit:
    """The largest undistorted power at the output: see `topo.analysis.large_signal.power`."""
    from topo.analysis import large_signal

    return large_signal.most_power(graph, point, **options)


def distortion_by_bias(circuit: Circuit, ref: str, settings: Iterable[float], **options: Any) -> tuple[Setting, ...]:
    """Distortion at several settings of a bias trimmer or resistor: see `topo.analysis.large_signal.bias`."""
    from topo.analysis import large_signal

    return large_signal.distortion_by_bias(circuit, ref, settings, **options)
