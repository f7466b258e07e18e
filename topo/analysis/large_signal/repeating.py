"""The cycle that repeats itself: cycles stepped one after another, speeded up by Newton's method on the states."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.stepping import Cycle, Stepper

CYCLES = 40
"""Cycles in all, the first plain ones among them; sound circuits need five to ten."""

PLAIN = 2
"""Cycles stepped plainly from rest before states are corrected."""

SHARE = 1e-5
"""A cycle repeats itself when no store's state would have to be corrected by more than this of its largest value
in the cycle, or ..."""

FLOOR = (1e-6, 1e-8)
"""... by this: volts of a capacitor, amperes of a core."""

NOISE_SHARE = 1e-8
"""Ends are the same, within rounding, where they differ by under this: a store that nothing charges or discharges may
have any state."""


@dataclass(eq=False)
class Repeated:
    """The last cycle, whether it repeats itself, how many were stepped, and Newton steps in all."""

    cycle: Cycle
    steady: bool
    cycles: int
    newton_steps: int


def repeat(stepper: Stepper, drive: Array, state: Array | None = None, controls: Array | None = None) -> Repeated:
    """The steady cycle of a driven circuit.

    From rest (or a state near the steady one) a few cycles are stepped plainly; then the state is corrected by
    Newton's method, with the derivatives of a cycle's end to its beginning, until it comes back to itself.
    A correction that makes things worse is halved; the number of cycles is counted.
    Source: T. J. Aprille, T. N. Trick, Proc. IEEE 60 (1972) 108-114 (from memory).

    Args:
        drive: volts of the generator after each step, (n,).
    """
    w = stepper.state_at_rest if state is None else state
    u = stepper.controls_at_rest if controls is None else controls
    taken, cycles = 0, 0
    scales = stepper.gain * np.abs(stepper.system.sizes)
    floor = np.where(stepper.system.sizes > 0, *FLOOR)
    for _ in range(PLAIN if state is None and len(w) else 0):
        plain = stepper.cycle(w, u, drive, False)
        taken, cycles = taken + plain.newton_steps, cycles + 1
        if not plain.solved:
            return Repeated(plain, False, cycles, taken)
        w, u = plain.after, plain.controls[-1]
    held: tuple[float, Array, Array] | None = None  # Size of the gap, state and correction before the last one.
    while True:
        cycle = stepper.cycle(w, u, drive, True)
        taken, cycles = taken + cycle.newton_steps, cycles + 1
        gap = (cycle.after - w) / scales if cycle.solved else np.full(len(w), np.inf)
        largest = np.abs(cycle.before).max(axis=0, initial=0.0) / scales
        room = np.maximum(SHARE * largest, floor)
        size = float((np.abs(gap) / room).max(initial=0.0))
        if cycle.solved and size <= NOISE_SHARE / SHARE and held is not None:
            return Repeated(cycle, True, cycles, taken)
        if held is not None and size > 2.0 * held[0] and cycles < CYCLES:
            held = (held[0], held[1], held[2] / 4.0)
            w = held[1] + held[2]
            if float(np.abs(held[2] / scales / room).max()) > 1e-3:
                continue
            held = None
        if not cycle.solved or cycles >= CYCLES:
            return Repeated(cycle, False, cycles, taken)
        step = _correction(cycle, w)
        if float((np.abs(step / scales) / room).max(initial=0.0)) <= 1.0 and size <= 1.0:
            return Repeated(cycle, True, cycles, taken)
        held = (size, w, step)
        w, u = w + step, cycle.controls[-1]


def _correction(cycle: Cycle, w: Array) -> Array:
    """What takes the state to where the cycle's end meets its beginning, by its derivatives; else the next cycle."""
    gap = cycle.after - w
    try:
        step = np.linalg.solve(np.eye(len(w)) - cycle.monodromy, gap)
    except np.linalg.LinAlgError:
        return gap
    return step if np.isfinite(step).all() else gap
