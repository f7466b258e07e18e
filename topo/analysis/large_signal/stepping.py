"""One cycle by the trapezoidal rule, with Newton's method among the control voltages of the devices at each step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.dynamics import Dynamics, Ports
from topo.analysis.large_signal.instants import Instants

WEIGHT = 0.501
"""Share of the new instant in a step; 0.5 is the trapezoidal rule. The little more lets ringing from step to step,
which a device that opens starts in a winding, die in some hundreds of steps, and damps a tank as a Q of 20 000 does."""

STEPS = 40
"""Newton steps at one instant before it is approached by smaller ones; most need two or three."""

TOLERANCE = 1e-6
"""An instant is solved when no control voltage moves by more than this, or by 1e-6 of itself: the next step,
square as it converges, would move a current by 1e-9 of itself."""

PLACED_SIEMENS = 1e-3
"""Between the terminals of each device in the linear part; the device's law takes it off again, so it changes
nothing but rounding."""

SMALLEST_SHARE = 1e-4
"""Share of the way between two instants below which a step is given up."""


@dataclass(eq=False)
class Cycle:
    """A cycle of n steps: control voltages (n, m), states before each step (n, r) and after the last (r,), and the
    derivatives of the change of state to the first state (r, r), empty where not asked for."""

    controls: Array
    before: Array
    after: Array
    slopes: Array
    newton_steps: int
    solved: bool


class Stepper:
    """A circuit made ready for steps of one length.

    Each step solves, for the unknowns x and the flows z of the stores (amperes of capacitors, volts of cores, (r,)),
        G x1 + i(x1) + P z1 = s + e1 d,    P^T x1 - z1 theta h / c = w0 theta h / c,    w1 = w0 + z1 / theta
    from the states w (r,), c/(theta h) P^T x for a store whose flow is none. Only control voltages are unknown in it,
    since the linear part is inverted once; flows are unknowns so that a large capacitor's small ones are exact.
    Source: the trapezoidal rule (textbook) in the form of its companion models; elimination of the linear part is
    the compensation method of power-system transients, Dommel (1969) (from memory).
    """

    def __init__(self, system: Dynamics, step: float, weights: Array | None = None):
        """Raises numpy.linalg.LinAlgError where the linear part is singular.

        Args:
            step: seconds; weights: siemens or ohm by which each store stands in the linear part, in place of g c.
        """
        self.system = system
        self.ports = Ports(system.equations)
        at_rest = self.ports.control @ system.start
        self.placed = self.ports.placed(at_rest, PLACED_SIEMENS)
        self.weights = system.sizes / (WEIGHT * step) if weights is None else weights
        n, r = len(system.fixed), len(system.sizes)
        there = self.weights != 0.0
        self._held = np.where(there, 1.0 / np.where(there, self.weights, 1.0), 0.0)
        matrix = np.zeros((n + r, n + r))
        matrix[:n, :n] = system.fixed + self.ports.entry @ self.placed @ self.ports.control
        matrix[:n, n:] = system.stores
        matrix[n:, :n] = np.where(there[:, None], system.stores.T, 0.0)
        matrix[n:, n:] = np.diag(np.where(there, -self._held, 1.0))
        self.inverse = np.zeros_like(matrix)
        self.inverse[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
        control, flows = self.ports.control @ self.inverse[:n], self.inverse[n:]
        self.u_state, self.u_fixed = control[:, n:] * self._held, control[:, :n] @ system.constant
        self.u_input, self.u_current = control[:, :n] @ system.input, control[:, :n] @ self.ports.entry
        self.z_state, self.z_fixed = flows[:, n:] * self._held, flows[:, :n] @ system.constant
        self.z_input, self.z_current = flows[:, :n] @ system.input, flows[:, :n] @ self.ports.entry
        self.controls_at_rest = at_rest
        self.state_at_rest = self.weights * (system.stores.T @ system.start)

    def cycle(self, state: Array, controls: Array, drive: Array, sensitive: bool) -> Cycle:
        """The steps of a cycle from a state, at the generator's volts after each step (n,)."""
        n, m, r = len(drive), self.ports.m, len(state)
        record, before = np.zeros((n, m)), np.zeros((n, r))
        eye, change = np.eye(r), np.zeros((r, r))
        u, earlier, taken = controls, controls, 0
        for at in range(n):
            before[at] = state
            base = self.u_state @ state + self.u_fixed + self.u_input * drive[at]
            # The line through the last two instants is a good start, but for a junction that it would overdrive.
            found = self._newton(base, self.ports.limit(2.0 * u - earlier, u) if m else u, STEPS)
            if found is None:
                found = self._approach(base, u)
            if found is None:
                return Cycle(record, before, state, np.zeros((0, 0)), taken, False)
            earlier, (u, current, bend, jacobian, steps) = u, found
            taken += steps
            record[at] = u
            z = self.z_state @ state + self.z_fixed + self.z_input * drive[at] - self.z_current @ current
            state = state + z / WEIGHT
            if sensitive:
                slopes = eye + change
                du = np.linalg.solve(jacobian, self.u_state @ slopes) if m else np.zeros((0, r))
                change = change + (self.z_state @ slopes - self.z_current @ (bend @ du)) / WEIGHT
        return Cycle(record, before, state, change if sensitive else np.zeros((0, 0)), taken, True)

    def _newton(self, base: Array, u: Array, limit: int) -> tuple[Array, Array, Array, Array, int] | None:
        """Control voltages, currents beyond the placed slopes, their slopes, and the Jacobian, at one instant."""
        ports, eye = self.ports, np.eye(self.ports.m)
        if ports.m == 0:
            return u, np.zeros(0), np.zeros((0, 0)), eye, 0
        ports.begin()
        for step in range(1, limit + 1):
            i, di = ports.branches(u)
            bend = di - self.placed
            jacobian = eye + self.u_current @ bend
            try:
                solved = np.linalg.solve(jacobian, base - self.u_current @ (i - di @ u))
            except np.linalg.LinAlgError:
                return None
            fresh = np.asarray(solved, dtype=np.float64)
            if not np.isfinite(fresh).all():
                return None
            limited = ports.limit(fresh, u)
            room = TOLERANCE * (1.0 + np.abs(fresh))
            done = bool((np.abs(fresh - u) <= room).all() and (np.abs(limited - fresh) <= room).all())
            if done:
                current = i + di @ (fresh - u) - self.placed @ fresh
                return fresh, current, bend, jacobian, step
            u = limited
        return None

    def _approach(self, base: Array, u: Array) -> tuple[Array, Array, Array, Array, int] | None:
        """The same, from control voltages that solve another instant, by shares of the way between the two."""
        i, _ = self.ports.branches(u)
        first = u + self.u_current @ (i - self.placed @ u)
        done, share, steps = 0.0, 0.25, 0
        while True:
            there = min(1.0, done + share)
            found = self._newton(first + there * (base - first), u, STEPS)
            if found is None:
                share /= 4.0
                if share < SMALLEST_SHARE:
                    return None
                continue
            steps += found[4]
            u = found[0]
            done, share = there, share * 2.0
            if done >= 1.0:
                return (*found[:4], steps)

    def unknowns(self, cycle: Cycle, drive: Array) -> Array:
        """All unknowns after each step of a cycle, (n, N)."""
        system = self.system
        right = system.constant[None, :] + drive[:, None] * system.input
        if self.ports.m:
            current = Instants(self.ports, len(drive)).branches(cycle.controls)[0] - cycle.controls @ self.placed.T
            right = right - current @ self.ports.entry.T
        n = len(system.fixed)
        return right @ self.inverse[:n, :n].T + (cycle.before * self._held) @ self.inverse[:n, n:].T
