"""A circuit driven with a sine at its input, until its cycle repeats itself."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.collocating import Collocation
from topo.analysis.large_signal.dynamics import Dynamics, Termination, dynamics
from topo.analysis.large_signal.measuring import measure
from topo.analysis.large_signal.quasi_static import QuasiStatic
from topo.analysis.large_signal.repeating import Repeated, repeat
from topo.analysis.large_signal.stepping import Cycle, Stepper
from topo.analysis.large_signal.waveforms import Waveforms
from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Element, Graph
from topo.netlist.circuit import Port

INSTANTS = 256
"""Steps of a cycle; the trapezoidal rule errs by a share of about (2 pi / 256)^2 / 12 = 5e-5 at the fundamental."""

LEAST_SOURCE_OHM = 1e-3
"""A generator without resistance keeps this much."""

UNKNOWN_HERTZ = 1e3
"""The frequency where neither the call nor the file gives one."""

QUASI_STATIC = "at this frequency every capacitor, coil and core either keeps still or follows at once"
TIME_STEPPING = "a capacitor, coil or core neither keeps still nor follows at once at this frequency"

STORES = ("capacitor", "inductor")

RESTLESS = "the circuit does not come to rest between its generator and its load"
SINGULAR = "the equations in time are singular: ideal parts contradict each other"

STEPPED_COST = 12
"""A cycle stepped through time takes about so many times as long as a Newton step of the whole cycle."""

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
    patience: float = math.inf,
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
        patience: as of `Bench`.
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
    if isinstance(bench, Waveforms):
        return bench
    bench.patience = patience
    return bench.run(amplitude)


@dataclass(eq=False)
class Bench:
    """A circuit between its generator and its load, ready to be driven at several amplitudes.

    `patience` is how many Newton steps of whole cycles, and their worth in `stepped` cycles, may be spent until a drive
    whose cycle is not found soon is given up.
    """

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
    static: QuasiStatic | None = None
    last: Repeated | None = None
    whole: Collocation | None = None
    patience: float = math.inf
    stepped: int = 0

    def run(self, amplitude: float) -> Waveforms:
        """The steady cycle at an amplitude, found from the last one where there is one."""
        phase = 2.0 * math.pi * np.arange(1, self.instants + 1) / self.instants
        wave = amplitude * np.sin(phase)
        with np.errstate(all="ignore"):
            static = self.static.cycle(wave) if self.static is not None else None
            if self.static is not None and static is not None:
                return self._result(static, self.static.stepper, wave, amplitude)
            if self.method == "quasi-static":
                words = "the quasi-static path does not hold on the way: ask for time stepping"
                return self._blank(amplitude, words)
            found = self._repeat(wave)
            if found.steady:
                self.last = found
            return self._result(found, self.stepper, wave, amplitude)

    def _blank(self, amplitude: float, words: str, method: str = "", reason: str = "") -> Waveforms:
        return Waveforms(
            self.system.graph,
            "not solved",
            (words,) if words else (),
            method,
            reason,
            frequency=self.frequency,
            amplitude=amplitude,
        )

    def _repeat(self, wave: Array) -> Repeated:
        """All instants together, from the last steady cycle and from rest; else step by step, in the same order."""
        if self.whole is None:
            self.whole = Collocation(self.stepper, self.instants)
        patient = self.whole.steps + STEPPED_COST * self.stepped < self.patience
        found = self.whole.cycle(wave, patient)
        if found is not None:
            return found
        if not patient:
            nothing = np.zeros((0, self.stepper.ports.m))
            states = self.stepper.state_at_rest
            return Repeated(Cycle(nothing, nothing, states, np.zeros((0, 0)), 0, False), False, 0, 0)
        found = self._step(wave)
        self.stepped += found.cycles
        if found.steady:
            self.whole.last = wave, found.cycle.controls
        return found

    def _step(self, wave: Array) -> Repeated:
        """Step by step, from the last steady cycle, else from rest."""
        if self.last is not None:
            cycle = self.last.cycle
            near = repeat(self.stepper, wave, cycle.before[0], cycle.controls[-1])
            if near.steady:
                return near
        return repeat(self.stepper, wave)

    def _result(self, found: Repeated, stepper: Stepper, wave: Array, amplitude: float) -> Waveforms:
        if not found.cycle.solved:
            return self._blank(amplitude, "the equations of an instant did not converge: no cycle can be given")
        stepped = stepper is self.stepper
        reason = self.reason if stepped or self.method == "quasi-static" else QUASI_STATIC
        if stepped and self.static is not None:
            reason = "a part neither keeps still nor follows at once at the currents of this drive"
        blank = self._blank(amplitude, "", "time stepping" if stepped else "quasi-static", reason)
        blank = replace(blank, cycles=found.cycles, newton_steps=found.newton_steps)
        status, words = "steady", ""
        growth = _growth(found.cycle.slopes) if stepped else math.nan
        if not found.steady:
            status, words = "not steady", f"the cycle does not repeat itself after {found.cycles} cycles"
        elif growth > GROWS:
            status, words = "not steady", "a small disturbance grows with each cycle: the circuit oscillates by itself"
        missing = (words,) if words else ()
        unknowns = stepper.unknowns(found.cycle, wave)
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
        why = point.missing or ("the operating point is not known",)
        return Waveforms(graph, "not solved", tuple(why), frequency=hertz)
    unknown = [f"{e.name} has no value: the signal in it is not known" for e in graph.elements if _is_without_value(e)]
    if unknown:
        return Waveforms(graph, "not solved", tuple(unknown), frequency=hertz)
    generator = Termination(*nodes[0], max(source, LEAST_SOURCE_OHM))
    outside = None if load is None else Termination(*nodes[1], max(load, LEAST_SOURCE_OHM))
    system = dynamics(graph, point, generator, outside)
    if system is None:
        return Waveforms(graph, "not solved", (RESTLESS,), frequency=hertz)
    try:
        with np.errstate(all="ignore"):
            stepper = Stepper(system, 1.0 / (hertz * instants))
            static = None if method == "time stepping" else _static(system, hertz, instants)
    except np.linalg.LinAlgError:
        return Waveforms(graph, "not solved", (SINGULAR,), frequency=hertz)
    if static is None and method == "quasi-static":
        return Waveforms(graph, "not solved", (TIME_STEPPING,), frequency=hertz)
    reason = "asked for" if method != "auto" else TIME_STEPPING
    return Bench(system, stepper, hertz, nodes[0], nodes[1], generator, outside, method, reason, instants, static)


def _static(system: Dynamics, hertz: float, instants: int) -> QuasiStatic | None:
    """The quasi-static path, where it holds at rest."""
    try:
        return QuasiStatic(system, hertz, instants)
    except ValueError:
        return None


def _growth(slopes: Array) -> float:
    """The factor by which the worst small disturbance grows in a cycle, from slopes of the change in it."""
    return float(np.abs(1.0 + np.linalg.eigvals(slopes)).max()) if slopes.size else 0.0


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


def _is_without_value(element: Element) -> bool:
    """Whether an element stores, and nobody knows how much."""
    return element.kind in STORES and element.value is None


def _middle(graph: Graph) -> float:
    """The geometric middle of the file's band."""
    band = graph.circuit.band
    return math.sqrt(band[0] * band[1]) if band and band[0] > 0 and band[1] > 0 else UNKNOWN_HERTZ
