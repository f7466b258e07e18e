"""A circuit driven with a sine at its input, until its cycle repeats itself."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.dynamics import Dynamics, Termination, dynamics
from topo.analysis.large_signal.measuring import measure
from topo.analysis.large_signal.repeating import Repeated, repeat
from topo.analysis.large_signal.stepping import Stepper
from topo.analysis.large_signal.waveforms import Waveforms
from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.netlist.circuit import Port

INSTANTS = 256
"""Steps of a cycle; the trapezoidal rule errs by a share of about (2 pi / 256)^2 / 12 = 5e-5 at the fundamental."""

LEAST_SOURCE_OHM = 1e-3
"""A generator without resistance keeps this much."""

UNKNOWN_HERTZ = 1e3
"""The frequency where neither the call nor the file gives one."""

GROWS = 1.001
"""A cycle from which a small disturbance grows by more than this factor in each further one is none that lasts."""


def drive(
    graph: Graph,
    point: OperatingPoint,
    *,
    amplitude: float,
    source: float = 0.0,
    load: float | None = None,
    frequency: float | None = None,
    entry: Port | None = None,
    exit: Port | None = None,
    method: str = "auto",
    instants: int = INSTANTS,
) -> Waveforms:
    """The steady cycle of a circuit driven with a sine.

    Args:
        graph: normalised; point: its operating point.
        amplitude: volts of the generator's crest, behind its resistance.
        source: ohm of the generator, which has the input's standing volts behind it and so draws nothing at rest.
        load: ohm added at the output in the same way; None adds none.
        frequency: hertz; the middle of the file's band if None, else 1 kHz.
        entry, exit: ports, in place of the file's first input and output.
        method: "time stepping", "quasi-static", or "auto" for the cheaper one that holds.
        instants: steps of the cycle, an even number.
    Returns:
        `Waveforms`, whatever happens: its `status` and `missing` say what is wrong.
    """
    bench = set_up(
        graph,
        point,
        source=source,
        load=load,
        frequency=frequency,
        entry=entry,
        exit=exit,
        method=method,
        instants=instants,
    )
    return bench if isinstance(bench, Waveforms) else bench.run(amplitude)


@dataclass(eq=False)
class Bench:
    """A circuit between its generator and its load, ready to be driven at several amplitudes."""

    system: Dynamics
    stepper: Stepper
    frequency: float
    input: tuple[int, int]
    output: tuple[int, int]
    generator: Termination
    load: Termination | None
    method: str
    reason: str
    instants: int
    last: Repeated | None = None
    last_amplitude: float = 0.0

    def run(self, amplitude: float) -> Waveforms:
        """The steady cycle at an amplitude, found from the last one where there is one."""
        phase = 2.0 * math.pi * np.arange(1, self.instants + 1) / self.instants
        wave = amplitude * np.sin(phase)
        with np.errstate(all="ignore"):
            found = self._repeat(wave, amplitude)
            if found.steady:
                self.last, self.last_amplitude = found, amplitude
            return self._result(found, wave, amplitude)

    def _repeat(self, wave: Array, amplitude: float) -> Repeated:
        """From the last steady cycle, else from rest."""
        if self.last is not None:
            cycle = self.last.cycle
            near = repeat(self.stepper, wave, cycle.before[0], cycle.controls[-1])
            if near.steady:
                return near
        return repeat(self.stepper, wave)

    def _result(self, found: Repeated, wave: Array, amplitude: float) -> Waveforms:
        graph = self.system.graph
        blank = Waveforms(
            graph,
            "not solved",
            method=self.method,
            reason=self.reason,
            frequency=self.frequency,
            amplitude=amplitude,
            cycles=found.cycles,
            newton_steps=found.newton_steps,
        )
        if not found.cycle.solved:
            return replace(blank, missing=("the equations of an instant did not converge: no cycle can be given",))
        status, missing, growth = "steady", (), _growth(found.cycle.monodromy)
        if not found.steady:
            status, missing = "not steady", (f"the cycle does not repeat itself after {found.cycles} cycles",)
        elif growth > GROWS:
            words = "a small disturbance grows from cycle to cycle: the circuit oscillates by itself"
            status, missing = "not steady", (words,)
        unknowns = self.stepper.unknowns(found.cycle, wave)
        partly = replace(blank, status=status, missing=missing, growth=growth)
        return measure(partly, self.system, unknowns, wave, self.input, self.output, self.generator, self.load)


def set_up(
    graph: Graph,
    point: OperatingPoint,
    *,
    source: float = 0.0,
    load: float | None = None,
    frequency: float | None = None,
    entry: Port | None = None,
    exit: Port | None = None,
    method: str = "auto",
    instants: int = INSTANTS,
) -> Bench | Waveforms:
    """A circuit made ready to be driven; `Waveforms` without a cycle, which say why, where it cannot be."""
    nodes = [_nodes(graph, port) for port in (entry or _first(graph, 0), exit or _first(graph, 1))]
    if nodes[0] is None or nodes[1] is None:
        lacking = " and ".join(
            word for word, pair in zip(("an input", "an output"), nodes, strict=True) if pair is None
        )
        return Waveforms(graph, "no ports", (f"{lacking} is needed, on nets of the circuit",))
    hertz = frequency if frequency is not None else _middle(graph)
    if not (hertz > 0 and math.isfinite(hertz)):
        return Waveforms(graph, "not solved", ("the frequency must be above 0 Hz",))
    if point.status != "solved":
        words = point.missing or ("the operating point is not known",)
        return Waveforms(graph, "not solved", tuple(words), frequency=hertz)
    generator = Termination(*nodes[0], max(source, LEAST_SOURCE_OHM))
    outside = None if load is None else Termination(*nodes[1], max(load, LEAST_SOURCE_OHM))
    system = dynamics(graph, point, generator, outside)
    words = "the circuit does not come to rest between its generator and its load"
    if system is None:
        return Waveforms(graph, "not solved", (words,), frequency=hertz)
    try:
        with np.errstate(all="ignore"):
            stepper = Stepper(system, 1.0 / (hertz * instants))
    except np.linalg.LinAlgError:
        words = "the equations in time are singular: ideal parts contradict each other"
        return Waveforms(graph, "not solved", (words,), frequency=hertz)
    return Bench(system, stepper, hertz, nodes[0], nodes[1], generator, outside, "time stepping", "asked for", instants)


def _growth(monodromy: Array) -> float:
    """The factor by which the worst small disturbance grows in a cycle."""
    if not monodromy.size:
        return 0.0
    return float(np.abs(np.linalg.eigvals(monodromy)).max())


def _first(graph: Graph, side: int) -> Port | None:
    """The file's first input (0) or output (1)."""
    ports = (graph.circuit.inputs, graph.circuit.outputs)[side]
    return ports[0] if ports else None


def _nodes(graph: Graph, port: Port | None) -> tuple[int, int] | None:
    """The two nodes of a port; None where a net is in no part, or both are one."""
    if port is None:
        return None
    aliases = graph.circuit.aliases
    found = [graph.node_of.get(aliases.get(net.casefold(), net)) for net in (port.net, port.reference)]
    plus, minus = found
    return None if plus is None or minus is None or plus == minus else (plus, minus)


def _middle(graph: Graph) -> float:
    """The geometric middle of the file's band."""
    band = graph.circuit.band
    return math.sqrt(band[0] * band[1]) if band and band[0] > 0 and band[1] > 0 else UNKNOWN_HERTZ
