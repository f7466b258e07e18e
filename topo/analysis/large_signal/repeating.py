"""The cycle that repeats itself: cycles stepped one after another, speeded up by Newton's method on the states."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.stepping import WEIGHT, Cycle, Stepper

CORRECTIONS = 20
"""Cycles of one course of corrections; sound circuits need two to six."""

PLAIN = (2, 15)
"""Cycles stepped plainly from rest before the first course of corrections, and more before the second."""

MOST_STEPS = 12_000
"""Newton steps after which the search ends; sound circuits need a few thousand at most."""

WORSE = 2.0
"""A correction after which the gap has grown by more than this is cut to a quarter."""

REACH, REACH_SHARE = (0.3, 0.01), 0.3
"""A correction moves no store by more than these volts or amperes and this share of its largest value."""

SHARE, FLOOR = 1e-5, (1e-6, 1e-8)
"""A cycle repeats itself when no store's state would have to be corrected by more than this share of its largest value
in the cycle, or by these volts of a capacitor and amperes of a core; and ..."""

FLOW_SHARE, LEAST_FLOW = 1e-4, (1e-9, 1e-7)
"""... no mean current of a capacitor, or mean voltage of a core, is left over this share of its crest, or over these
amperes and volts."""

NOISE = 1e-3
"""Where what is left is this share of that, the state is taken as it is: nothing charges or discharges such a store."""


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
    Newton's method, with the derivatives of a cycle's end to its beginning, until it comes back to itself. Where
    that does not end, more cycles are stepped plainly from rest first. All cycles are counted.
    Source: T. J. Aprille, T. N. Trick, Proc. IEEE 60 (1972) 108-114 (from memory).

    Args:
        drive: volts of the generator after each step, (n,).
    """
    if state is not None and controls is not None:
        return _correct(stepper, drive, state, controls)
    state, controls = stepper.state_at_rest, stepper.controls_at_rest
    taken = cycles = 0
    found: Repeated | None = None
    for plain in PLAIN:
        for _ in range(plain if len(state) else 0):
            cycle = stepper.cycle(state, controls, drive, False)
            taken, cycles = taken + cycle.newton_steps, cycles + 1
            if not cycle.solved:
                return found or Repeated(cycle, False, cycles, taken)
            state, controls = cycle.after, cycle.controls[-1]
            found = Repeated(cycle, False, cycles, taken)
            if taken > MOST_STEPS:
                return found
        tried = _correct(stepper, drive, state, controls)
        taken, cycles = taken + tried.newton_steps, cycles + tried.cycles
        if tried.steady or found is None or taken > MOST_STEPS:
            return Repeated(tried.cycle, tried.steady, cycles, taken)
    return Repeated(found.cycle, False, cycles, taken) if found else tried


def _correct(stepper: Stepper, drive: Array, w: Array, u: Array) -> Repeated:
    """Newton's method on the state at the beginning of a cycle; a correction that makes things worse is cut."""
    scales = np.abs(stepper.weights)
    floor, least, reach = (np.where(stepper.system.sizes > 0, *pair) for pair in (FLOOR, LEAST_FLOW, REACH))
    whole = len(drive) / WEIGHT  # The change of state in a cycle is so many times the mean flow.
    taken = 0
    held: tuple[float, Array, Array] | None = None  # Size of the last gap, and state and correction there.
    for cycles in range(1, CORRECTIONS + 1):
        cycle = stepper.cycle(w, u, drive, True)
        taken += cycle.newton_steps
        gap = cycle.after - w if cycle.solved else np.full(len(w), np.inf)
        largest = np.abs(cycle.before).max(axis=0, initial=0.0) / scales
        crest = np.abs(np.diff(cycle.before, axis=0)).max(axis=0, initial=0.0) * WEIGHT
        room = np.maximum(SHARE * largest, floor)
        size = float((np.abs(gap) / whole / np.maximum(FLOW_SHARE * crest, least)).max(initial=0.0))
        if held is not None and size <= NOISE:
            return Repeated(cycle, True, cycles, taken)
        if held is not None and size > WORSE * held[0] and cycles < CORRECTIONS:
            held = (held[0] * WORSE, held[1], held[2] / 4.0)
            w = held[1] + held[2]
            continue
        if not cycle.solved or taken > MOST_STEPS:
            break
        step = _correction(cycle, w)
        if size <= 1.0 and float((np.abs(step) / scales / room).max(initial=0.0)) <= 1.0:
            return Repeated(cycle, True, cycles, taken)
        step /= max(1.0, float((np.abs(step) / scales / (reach + REACH_SHARE * largest)).max(initial=0.0)))
        held = (size, w, step)
        w, u = w + step, cycle.controls[-1]
    return Repeated(cycle, False, cycles, taken)


def _correction(cycle: Cycle, w: Array) -> Array:
    """What takes the state to where the cycle's end meets its beginning, by its derivatives; else the next cycle."""
    gap = cycle.after - w
    try:
        step = np.asarray(np.linalg.solve(-cycle.slopes, gap), dtype=np.float64)
    except np.linalg.LinAlgError:
        return gap
    return step if np.isfinite(step).all() else gap
