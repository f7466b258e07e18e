"""The steady cycle where nothing reactive matters: every instant on its own, all instants together.

At the frequency of the drive each store is either slow - a coupling or bypass capacitor that keeps its volts, a core
that keeps its magnetising current and so is an ideal transformer - or fast: a capacitor that is open, a coil that
is its wire. What the slow ones keep is corrected until no capacitor's mean current and no core's mean voltage is left.
"""

from __future__ import annotations

import numpy as np

from topo.analysis.devices.group import Array
from topo.analysis.large_signal.dynamics import Dynamics
from topo.analysis.large_signal.instants import Instants
from topo.analysis.large_signal.repeating import FLOOR, FLOW_SHARE, LEAST_FLOW, SHARE, Repeated
from topo.analysis.large_signal.stepping import TOLERANCE, Cycle, Stepper

FAR = 20.0
"""A store is slow or fast where its susceptance (reactance, for a core) is over this many times what it faces, or
under this part of it: a reactance of a twentieth in series changes an amplitude by 0.1 % and turns it by 3 degrees."""

HELD_SHARE = 1e-3
"""A slow store stands in the equations by its own reactance times this, in place of nothing: it keeps what lies across
an ideal source determined, and no store moves by more than this share of what it would."""

STEPS = 60
"""Newton steps of all instants together before the path is given up for time stepping."""

CORRECTIONS = 12
"""Corrections of what the slow stores keep."""


def is_slow(system: Dynamics, slopes: Array, entry: Array, control: Array, frequency: float) -> Array | None:
    """Which stores are slow (r,) with the devices at given slopes (k, m); None where one is neither slow nor fast.

    With the stores' susceptance b = 2 pi f c, what a store faces is 1/(p^T A^-1 p) - j b, all others in place.
    """
    matrix = system.fixed + entry @ slopes @ control
    omega = 2.0 * np.pi * frequency
    whole = matrix + 1j * omega * (system.stores * system.sizes) @ system.stores.T
    p = system.stores[1:]
    across = np.einsum("nr,nr->r", p, np.linalg.solve(whole[1:, 1:], p.astype(complex)))
    own = omega * system.sizes
    faced = np.abs(1.0 / across - 1j * own)
    slow, fast = np.abs(own) >= FAR * faced, np.abs(own) <= faced / FAR
    # Across an ideal source a store faces a short: it moves nothing, and stands as slow.
    slow |= np.abs(across) * np.abs(own) < 1e-6
    return slow if bool((slow | fast).all()) else None


class QuasiStatic:
    """A circuit made ready for quasi-static cycles."""

    def __init__(self, system: Dynamics, frequency: float, instants: int):
        """Raises numpy.linalg.LinAlgError where the equations are singular, ValueError where the path does not hold
        at rest."""
        self.system, self.frequency = system, frequency
        self.rest = Stepper(system, 1.0 / (frequency * instants))
        ports = self.rest.ports
        at_rest = ports.branches(self.rest.controls_at_rest)[1] if ports.m else np.zeros((0, 0))
        slow = is_slow(system, at_rest, ports.entry, ports.control, frequency)
        if slow is None:
            raise ValueError("a store is neither slow nor fast at rest")
        self.slow = slow
        held = 2.0 * np.pi * frequency * system.sizes / HELD_SHARE
        self.stepper = Stepper(system, 1.0 / (frequency * instants), np.where(slow, held, 0.0))
        self.devices = Instants(self.stepper.ports, instants)

    def cycle(self, drive: Array) -> Repeated | None:
        """The steady cycle at the generator's volts (n,); None where it is not found, or does not hold on the way."""
        stepper, ports, n = self.stepper, self.stepper.ports, len(drive)
        state = stepper.state_at_rest.copy()
        slow = np.flatnonzero(self.slow)
        u = np.tile(stepper.controls_at_rest, (n, 1))
        steps = 0
        floor, least = (np.where(self.system.sizes[slow] > 0, *pair) for pair in (FLOOR, LEAST_FLOW))
        for _ in range(CORRECTIONS):
            found = self._instants(state, drive, u)
            if found is None:
                return None
            u, current, bends, jacobians, taken = found
            steps += taken
            z = (stepper.z_state @ state + stepper.z_fixed)[None, :] + np.outer(drive, stepper.z_input)
            z = (z - current @ stepper.z_current.T)[:, slow]
            left = z.mean(axis=0)
            du = np.linalg.solve(jacobians, stepper.u_state[None, :, slow]) if ports.m else np.zeros((n, 0, len(slow)))
            mean = (bends @ du).mean(axis=0) if ports.m else np.zeros((0, len(slow)))
            slopes = stepper.z_state[np.ix_(slow, slow)] - stepper.z_current[slow] @ mean
            try:
                change = np.linalg.solve(slopes, -left) if len(slow) else left
            except np.linalg.LinAlgError:
                return None
            kept = np.abs(state[slow] / stepper.weights[slow])
            moved = np.abs(change / stepper.weights[slow])
            still = np.abs(left) <= np.maximum(FLOW_SHARE * np.abs(z).max(axis=0, initial=0.0), least)
            if bool(((moved <= np.maximum(SHARE * kept, floor)) & still).all()):
                before = np.tile(state, (n, 1))
                cycle = Cycle(u, before, state, np.zeros((0, 0)), steps, True)
                return Repeated(cycle, True, 1, steps) if self._holds(u) else None
            state[slow] += change
        return None

    def _holds(self, u: Array) -> bool:
        """Whether the same stores are slow at the four quarters of the cycle, with the devices as they are there."""
        ports, n = self.stepper.ports, len(u)
        for place in (n // 4 - 1, n // 2 - 1, 3 * n // 4 - 1, n - 1) if ports.m else ():
            slopes = ports.branches(u[place])[1]
            slow = is_slow(self.system, slopes, ports.entry, ports.control, self.frequency)
            if slow is None or bool((slow != self.slow).any()):
                return False
        return True

    def _instants(self, state: Array, drive: Array, u: Array) -> tuple[Array, Array, Array, Array, int] | None:
        """All instants: control voltages (n, m), currents, slopes and Jacobians, and steps taken."""
        stepper, ports = self.stepper, self.stepper.ports
        n, eye = len(drive), np.eye(self.stepper.ports.m)
        base = (stepper.u_state @ state + stepper.u_fixed)[None, :] + np.outer(drive, stepper.u_input)
        if ports.m == 0:
            return base, np.zeros((n, 0)), np.zeros((n, 0, 0)), np.zeros((n, 0, 0)), 0
        self.devices.begin()
        for step in range(1, STEPS + 1):
            i, di = self.devices.branches(u)
            bend = di - stepper.placed
            jacobian = eye + stepper.u_current @ bend
            right = base - (i - np.einsum("tkm,tm->tk", di, u)) @ stepper.u_current.T
            try:
                fresh = np.linalg.solve(jacobian, right[:, :, None])[:, :, 0]
            except np.linalg.LinAlgError:
                return None
            if not np.isfinite(fresh).all():
                return None
            limited = self.devices.limit(fresh, u)
            room = TOLERANCE * (1.0 + np.abs(fresh))
            if bool((np.abs(fresh - u) <= room).all() and (np.abs(limited - fresh) <= room).all()):
                current = i + np.einsum("tkm,tm->tk", di, fresh - u) - fresh @ stepper.placed.T
                return fresh, current, bend, jacobian, step * n
            u = limited
        return None
