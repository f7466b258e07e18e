"""Time of a driven cycle and of the largest power, beside `scipy.integrate.solve_ivp` on the same equations.

Samples first: one cycle at half of the largest power, all instants together and by steps in time, and the whole sweep
to that power. Then circuits of which every capacitor and coil may have any value of its own, so that their equations
are ordinary differential ones, dq/dt = z(q, t) / c: scipy takes them from the same steady state through one cycle, and
from rest until the cycle repeats itself. Times are of the processor, on one core. Run:
python -m tests.bench.large_signal
"""

from __future__ import annotations

import math
import os
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.integrate import solve_ivp

from topo.analysis import operating_point
from topo.analysis.large_signal import Waveforms, drive, most_power
from topo.analysis.large_signal.collocating import Collocation
from topo.analysis.large_signal.driving import Bench, set_up
from topo.analysis.large_signal.repeating import repeat
from topo.graph import normalise
from topo.netlist import load, loads

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
SOURCE = 50.0
MOST_CYCLES = 60
REPEATS = 1e-4
"""Volts or amperes by which a state may differ after a cycle that counts as repeating itself."""

CIRCUITS = {
    "rectifier, 50 Hz": (
        "input a\noutput c\nR1 10 : a b\nD1 rectifier IS=1e-14 : b c\nC1 47u : c gnd\nR2 1k : c gnd",
        10.0,
        50.0,
        1.0,
    ),
    "common-emitter stage, 1 kHz": (
        """
        supply v 12V
        input a
        output out
        C1 1u : a b
        R1 47k : v b
        R2 10k : b gnd
        Q1 npn : b=b c=c e=e
        R3 4.7k : v c
        R4 1k : e gnd
        C2 10u : e gnd
        C3 1u : c out
        R5 10k : out gnd
        """,
        0.05,
        1e3,
        600.0,
    ),
    "push-pull followers, 1 kHz": (
        """
        supply vp 12V
        supply vn -12V
        input in
        output out
        C1 10u : in m
        R1 1k : vp up
        D1 diode : up m
        D2 diode : m low
        R2 1k : low vn
        Q1 npn : b=up c=vp e=e1
        Q2 pnp : b=low c=vn e=e2
        R3 0R47 : e1 o
        R4 0R47 : e2 o
        C2 1m : o out
        R5 16 : out gnd
        """,
        8.0,
        1e3,
        50.0,
    ),
    "tuned class-C stage, 5.2 MHz": (
        """
        supply vcc 15V
        input in
        output c
        C1 10n : in b
        R1 10k : b gnd
        Q1 npn IS=1e-14 hFE=100 : b=b c=c e=gnd
        L1 2u rdc=0.65 : vcc c
        C2 470p : c vcc
        R2 1k : c gnd
        """,
        1.5,
        5.191e6,
        50.0,
    ),
}


class Equations:
    """dq/dt of the stores of a bench, by Newton's method among the control voltages of the devices."""

    def __init__(self, bench: Bench, amplitude: float):
        stepper, system = bench.stepper, bench.system
        self.ports, self.placed, self.sizes = stepper.ports, stepper.placed, system.sizes
        self.amplitude, self.turn = amplitude, 2.0 * math.pi * bench.frequency
        n, r = len(system.fixed), len(self.sizes)
        matrix = np.zeros((n + r, n + r))
        matrix[:n, :n] = system.fixed + self.ports.entry @ self.placed @ self.ports.control
        matrix[:n, n:], matrix[n:, :n] = system.stores, system.stores.T
        inverse = np.zeros_like(matrix)
        inverse[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
        control, flows = self.ports.control @ inverse[:n], inverse[n:]
        self.u_of = [control[:, n:], control[:, :n] @ system.constant, control[:, :n] @ system.input]
        self.z_of = [flows[:, n:], flows[:, :n] @ system.constant, flows[:, :n] @ system.input]
        self.u_current, self.z_current = control[:, :n] @ self.ports.entry, flows[:, :n] @ self.ports.entry
        self.u, self.calls = stepper.controls_at_rest, 0

    def rate(self, t: float, q: np.ndarray) -> np.ndarray:
        """The rate of change of the states at a time."""
        self.calls += 1
        volts = self.amplitude * math.sin(self.turn * t)
        base = self.u_of[0] @ q + self.u_of[1] + self.u_of[2] * volts
        u, eye = self.u, np.eye(self.ports.m)
        self.ports.begin()
        for _ in range(100):
            i, slopes = self.ports.branches(u)
            jacobian = eye + self.u_current @ (slopes - self.placed)
            fresh = np.linalg.solve(jacobian, base - self.u_current @ (i - slopes @ u))
            done = np.abs(fresh - u).max() < 1e-9
            u = self.ports.limit(fresh, u)
            if done:
                break
        self.u = u
        i, _ = self.ports.branches(u)
        z = self.z_of[0] @ q + self.z_of[1] + self.z_of[2] * volts - self.z_current @ (i - self.placed @ u)
        return z / self.sizes

    def cycle(self, state: np.ndarray, number: int, hertz: float) -> np.ndarray:
        """The states after a cycle, by scipy with its variable steps for stiff equations."""
        span = (number / hertz, (number + 1) / hertz)
        room = np.where(self.sizes > 0, 1e-6, 1e-9)
        return solve_ivp(self.rate, span, state, "LSODA", rtol=1e-5, atol=room, max_step=0.02 / hertz).y[:, -1]


def seconds(work, rounds: int = 3):
    """The shortest of a few times, and what came of it."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        result = work()
        times.append(time.process_time() - start)
    return min(times), result


def ready(graph, **options) -> Bench:
    bench = set_up(graph, operating_point(graph), **options)
    if isinstance(bench, Waveforms):
        raise SystemExit(str(bench.missing))
    return bench


def tell_sample(file: Path) -> None:
    """A line about a sample."""
    graph = normalise(load(file))
    if not (graph.circuit.inputs and graph.circuit.outputs):
        return
    point = operating_point(graph)
    sweep, limit = seconds(lambda: most_power(graph, point, source=SOURCE), 1)
    amplitude = limit.amplitude * math.sqrt(0.5)
    one, cycle = seconds(lambda: drive(graph, point, amplitude=amplitude, source=SOURCE))
    bench = ready(graph, method="time stepping", source=SOURCE)
    wave = amplitude * np.sin(2 * np.pi * np.arange(1, bench.instants + 1) / bench.instants)
    steps, _ = seconds(lambda: repeat(bench.stepper, wave), 1)
    print(f"{file.name:26s} {len(graph.circuit.parts):3d} parts: cycle {1e3 * one:5.0f} ms ({cycle.method}), ", end="")
    print(f"by steps {1e3 * steps:5.0f} ms; largest power {1e3 * sweep:5.0f} ms, {len(limit.drives)} drives")


def tell_circuit(name: str) -> None:
    """A line about a circuit beside scipy."""
    text, amplitude, hertz, source = CIRCUITS[name]
    graph = normalise(loads(text))
    point = operating_point(graph)
    options = {"frequency": hertz, "source": source, "method": "time stepping"}
    ours, cycle = seconds(lambda: drive(graph, point, amplitude=amplitude, **options))
    bench = ready(graph, **options)
    wave = amplitude * np.sin(2 * np.pi * np.arange(1, bench.instants + 1) / bench.instants)
    found = Collocation(bench.stepper, bench.instants).cycle(wave)
    if found is None:
        raise SystemExit(f"{name}: no cycle")
    steady = found.cycle.before[0] / bench.stepper.weights
    equations = Equations(bench, amplitude)
    one, after = seconds(lambda: equations.cycle(steady, 0, hertz), 1)
    start, state = time.process_time(), bench.stepper.state_at_rest / bench.stepper.weights
    for number in range(MOST_CYCLES):
        before, state = state, equations.cycle(state, number, hertz)
        if np.abs(state - before).max() < REPEATS:
            break
    whole = time.process_time() - start
    print(f"{name:28s} {1e3 * ours:5.1f} ms here ({cycle.status}); scipy: one cycle {1e3 * one:5.0f} ms, ", end="")
    print(f"{one / ours:4.1f} times as long (ends {np.abs(after - steady).max():.0e} off); from rest ", end="")
    print(f"{number + 1} cycles, {whole:4.1f} s, {whole / ours:4.0f} times as long")


def main() -> None:
    """One line a sample, then one a circuit beside scipy."""
    for file in sorted(SAMPLES.glob("*.net")):
        tell_sample(file)
    for name in CIRCUITS:
        tell_circuit(name)


if __name__ == "__main__":
    main()
