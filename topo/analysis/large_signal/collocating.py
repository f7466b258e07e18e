"""The cycle that repeats itself, all its instants solved together by Newton's method.

The same equations as of steps one after another, with the last state tied to the first. In each Newton step the
devices are made linear at every instant; the states then go from one instant to the next by a small linear map, and
the map of the whole cycle gives the state that comes back to itself. So a long time constant costs nothing, and the
laws of the devices are evaluated for all instants at once.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.instants import Instants
from topo.analysis.large_signal.repeating import Repeated
from topo.analysis.large_signal.stepping import TOLERANCE, WEIGHT, Cycle, Stepper

STEPS = 60
"""Newton steps before a drive is approached by smaller ones; most cycles need five to fifteen."""

SHARE, TRIES = 0.25, 8
"""That begins with this share of the way, and so many drives are tried on it before the cycle is looked for by stepping
through time; the way to the next is halved where none was found, and else doubled."""


class Collocation:
    """A stepper made ready for whole cycles. Everything is counted from rest, so that a large capacitor's small
    flows are exact. `last` is the last drive (n,) of which a cycle was found, with its control voltages; `steps` counts
    all Newton steps."""

    def __init__(self, stepper: Stepper, instants: int):
        self.stepper = stepper
        self.devices = Instants(stepper.ports, instants)
        self.rest = stepper.controls_at_rest
        ports = stepper.ports
        self.last: tuple[Array, Array] | None = None
        self.steps = 0
        self.current_at_rest = ports.branches(self.rest)[0] if ports.m else np.zeros(0)

    def cycle(self, drive: Array, patient: bool = True) -> Repeated | None:
        """The steady cycle at the generator's volts (n,), from the last one found, from rest, and, if patient, through
        the cycles of drives between the last one and this; None where none is found.

        Source: finite differences with the periodic condition, K. S. Kundert, J. K. White, A. Sangiovanni-Vincentelli,
        Steady-State Methods for Simulating Analog and Microwave Circuits (1990), chapter 4 (from memory).
        """
        rest = np.tile(self.rest, (len(drive), 1))
        found = self._run(drive, self.last[1]) if self.last is not None else None
        found = found or self._run(drive, rest)
        if found is None and patient:
            found = self._approach(drive, *(self.last or (np.zeros_like(drive), rest)))
        if found is not None:
            self.last = drive, found.cycle.controls
        return found

    def _approach(self, drive: Array, near: Array, u: Array) -> Repeated | None:
        """From the control voltages at a near drive, on a straight line from that to this one."""
        done, share, steps = 0.0, SHARE, 0
        for _ in range(TRIES):
            there = min(1.0, done + share)
            found = self._run(near + there * (drive - near), u)
            if found is None:
                share /= 2.0
                continue
            steps += found.cycles
            if there >= 1.0:
                return Repeated(found.cycle, True, steps, steps * len(drive))
            u, done, share = found.cycle.controls, there, share * 2.0
        return None

    def _run(self, drive: Array, u: Array) -> Repeated | None:
        """Newton's method from control voltages (n, m)."""
        n, m = len(drive), self.stepper.ports.m
        self.devices.begin()
        for step in range(1, STEPS + 1):
            self.steps += 1
            found = self._newton(drive, u)
            if found is None:
                return None
            fresh, before, whole = found
            limited = self.devices.limit(fresh, u) if m else fresh
            room = TOLERANCE * (1.0 + np.abs(fresh))
            if bool((np.abs(fresh - u) <= room).all() and (np.abs(limited - fresh) <= room).all()):
                before = before + self.stepper.state_at_rest
                cycle = Cycle(fresh, before, before[0], whole, step * n, True)
                return Repeated(cycle, True, step, step * n)
            u = limited
        return None

    def _newton(self, drive: Array, u: Array) -> tuple[Array, Array, Array] | None:
        """Control voltages (n, m) and states from rest before each step (n, r) of the circuit made linear at u, and
        the derivatives of the change of state in the cycle (r, r)."""
        stepper, n, m = self.stepper, len(drive), self.stepper.ports.m
        r = len(stepper.state_at_rest)
        maps: Array
        if m:
            i, slopes = self.devices.branches(u)
            moved = u - self.rest
            bend = slopes - stepper.placed
            beyond = i - self.current_at_rest - moved @ stepper.placed.T
            jacobian = np.eye(m) + stepper.u_current @ bend
            pulled = drive[:, None] * stepper.u_input - (beyond - _each(bend, moved)) @ stepper.u_current.T
            right = np.concatenate((np.broadcast_to(stepper.u_state, (n, m, r)), pulled[:, :, None]), axis=2)
            try:
                solved = np.linalg.solve(jacobian, right)
            except np.linalg.LinAlgError:
                return None
            by_state, alone = solved[:, :, :r], solved[:, :, r]
            maps = np.asarray((stepper.z_state - stepper.z_current @ (bend @ by_state)) / WEIGHT, dtype=np.float64)
            flow = beyond + _each(bend, alone - moved)
            pushes = (drive[:, None] * stepper.z_input - flow @ stepper.z_current.T) / WEIGHT
        else:
            by_state, alone = np.zeros((n, 0, r)), np.zeros((n, 0))
            maps = np.broadcast_to(stepper.z_state / WEIGHT, (n, r, r))
            pushes = drive[:, None] * stepper.z_input / WEIGHT
        closed = _closed(maps, pushes)
        if closed is None:
            return None
        before, whole = closed
        fresh = self.rest + _each(by_state, before) + alone
        return (fresh, before, whole) if np.isfinite(fresh).all() else None


def _each(matrices: NDArray[np.floating], vectors: NDArray[np.floating]) -> Array:
    """The product of each matrix (n, a, b) with its vector (n, b)."""
    return np.asarray(np.matmul(matrices, vectors[:, :, None])[:, :, 0], dtype=np.float64)


def _closed(maps: Array, pushes: Array) -> tuple[Array, Array] | None:
    """States before each step (n, r) that come back to themselves where step k adds maps[k] w + pushes[k] to the
    state w, and the map of the whole cycle (r, r); None where every state, or none, comes back.

    The cycle is cut into about sqrt(n) rows of as many steps, and all rows are gone through at once.
    """
    n, r = pushes.shape
    length = math.isqrt(n - 1) + 1
    rows = -(-n // length)
    spare = rows * length - n  # Steps that change nothing.
    maps = np.concatenate((maps, np.zeros((spare, r, r)))).reshape(rows, length, r, r)
    pushes = np.concatenate((pushes, np.zeros((spare, r)))).reshape(rows, length, r)
    by_row, row_pushes = np.zeros((rows, r, r)), np.zeros((rows, r))
    for k in range(length):
        by_row = by_row + maps[:, k] + maps[:, k] @ by_row
        row_pushes = row_pushes + pushes[:, k] + _each(maps[:, k], row_pushes)
    whole, pushed = np.zeros((r, r)), np.zeros(r)
    for row in range(rows):
        whole = whole + by_row[row] + by_row[row] @ whole
        pushed = pushed + row_pushes[row] + by_row[row] @ pushed
    try:
        state = np.linalg.solve(-whole, pushed) if r else pushed
    except np.linalg.LinAlgError:
        return None
    states = np.empty((rows, r))
    for row in range(rows):
        states[row] = state
        state = state + by_row[row] @ state + row_pushes[row]
    before = np.empty((rows, length, r))
    for k in range(length):
        before[:, k] = states
        states = states + _each(maps[:, k], states) + pushes[:, k]
    return before.reshape(rows * length, r)[:n], whole
