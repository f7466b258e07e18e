"""Newton's method with junction limiting, then conductance stepping, then source stepping."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import GMIN, Array
from topo.analysis.equations import Equations

STEPS = 60
"""Steps of one Newton run; sound circuits need 5 to 30."""

TIME_STEPS = 25
"""The same for each step of time, which starts near its end."""

VOLT = 1e-9
"""A run is done when no unknown moves by more than this, or by 1e-9 of itself."""

NOISY_STEP = 12
"""From this step on unknowns may move by NOISE_VOLT if Kirchhoff's current law holds: where nothing but the leakage of
a junction holds a net, beside resistances of an ohm, rounding moves it."""

NOISE_VOLT = 1e-3

BUDGET = 2500
"""Steps in all, whatever the way: after them the circuit is called not solved."""

AMPERE = 1e-11
"""A run goes on for a few more steps until Kirchhoff's current law holds to this ..."""

POLISHING = 4
"""... but for no more than these: at kiloamperes rounding leaves more."""


@dataclass(eq=False)
class Solution:
    """Unknowns (N,), ground first; for each group its control voltages and branch currents; whether it converged."""

    unknowns: Array
    controls: list[Array]
    branches: list[Array]
    residual: float
    converged: bool
    steps: int
    way: str


class Solver:
    """One set of equations made ready for many Newton runs."""

    def __init__(self, equations: Equations):
        self.equations = equations
        self.matrix, self.sources = equations.arrays()
        size = equations.count
        self._flat = [(group.at[:, :, None] * size + group.at[:, None, :]).ravel() for group in equations.groups]
        self._where = [group.at.ravel() for group in equations.groups]
        self.budget = BUDGET

    def run(
        self,
        unknowns: Array,
        controls: list[Array],
        gmin: float = GMIN,
        scale: float = 1.0,
        steps: int = STEPS,
        anchor: float = 0.0,
    ) -> Solution:
        """Newton's method from given unknowns and control voltages.

        Args:
            gmin: siemens across each junction; scale: of all sources.
            anchor: siemens that tie every node to the voltage that it starts from (a capacitor's step in time).
        """
        tied = np.zeros(self.equations.count)
        tied[1 : len(self.equations.graph.nets)] = anchor
        pulled = self.sources * scale + tied * unknowns
        for group in self.equations.groups:
            group.begin()
        settled: Solution | None = None
        since = 0
        for step in range(1, steps + 1):
            fresh = self._step(controls, gmin, tied, pulled)
            if fresh is None:
                break
            limited = self._limit(fresh, controls)
            moved = float((np.abs(fresh - unknowns) / (1.0 + np.abs(fresh))).max(initial=0.0))
            unknowns = fresh
            if step == 1 or limited or moved > (VOLT if step < NOISY_STEP else NOISE_VOLT):
                since = step
                continue
            found = self._finish(unknowns, gmin, scale, True, step)
            if found.residual <= AMPERE:
                return found
            if moved > VOLT:
                continue
            settled = found if settled is None or found.residual < settled.residual else settled
            if step - since > POLISHING:
                break
        return settled or self._finish(unknowns, gmin, scale, False, steps)

    def _step(self, controls: list[Array], gmin: float, tied: Array, pulled: Array) -> Array | None:
        """The unknowns that solve the equations made linear at the control voltages; None if they have no solution."""
        size = self.equations.count
        self.budget -= 1
        if self.budget < 0:
            return None
        matrix, right = self.matrix.copy(), pulled.copy()
        matrix[np.diag_indices_from(matrix)] += tied
        flat = matrix.ravel()
        for group, u, where, at in zip(self.equations.groups, controls, self._flat, self._where, strict=True):
            i, di = group.branches(u, gmin)
            fixed = i - np.einsum("nkm,nm->nk", di, u)
            flat += np.bincount(where, group.jacobian(di).ravel(), size * size)
            right -= np.bincount(at, group.terminal_currents(fixed).ravel(), size)
        try:
            fresh = np.concatenate(([0.0], np.linalg.solve(matrix[1:, 1:], right[1:])))
        except np.linalg.LinAlgError:
            return None
        return fresh if np.isfinite(fresh).all() else None

    def _limit(self, unknowns: Array, controls: list[Array]) -> bool:
        """Moves the control voltages to the new unknowns as far as may be; says whether that was not all the way."""
        limited = False
        for place, group in enumerate(self.equations.groups):
            wanted = group.controls(unknowns)
            controls[place] = group.limit(wanted, controls[place])
            limited = limited or bool((np.abs(controls[place] - wanted) > 1e-9 * (1.0 + np.abs(wanted))).any())
        return limited

    def _finish(self, unknowns: Array, gmin: float, scale: float, converged: bool, steps: int) -> Solution:
        """Evaluates everything at the unknowns, and Kirchhoff's current law with it."""
        left = self.matrix @ unknowns - self.sources * scale
        controls, branches = [], []
        for group, at in zip(self.equations.groups, self._where, strict=True):
            u = group.controls(unknowns)
            i, _ = group.branches(u, gmin)
            left += np.bincount(at, group.terminal_currents(i).ravel(), self.equations.count)
            controls.append(u)
            branches.append(i)
        nodes = len(self.equations.graph.nets)
        inner = [row for (kind, _), row in self.equations.rows.items() if kind == "inner"]
        counted = np.concatenate((left[1:nodes], left[inner] if inner else np.zeros(0)))
        residual = float(np.abs(counted).max()) if len(counted) else 0.0
        return Solution(unknowns, controls, branches, residual, converged, steps, "newton")

    def begin(self) -> tuple[Array, list[Array]]:
        """Where a first run starts: all unknowns 0, junctions at their critical voltage."""
        return np.zeros(self.equations.count), [group.start.copy() for group in self.equations.groups]

    def solve(self) -> Solution:
        """The solution by the first way that converges; the last try, marked so, if none does."""
        first = self.run(*self.begin())
        if first.converged:
            return first
        for way in (self._step_conductance, self._step_sources, self._step_time):
            found = way()
            if found is not None and found.converged:
                return found
        return first

    def _step_conductance(self) -> Solution | None:
        """A conductance across each junction, taken away by degrees, each run starting from the last."""
        unknowns, controls = self.begin()
        gmin, factor = 1e-2, 10.0
        reached: Solution | None = None
        while True:
            found = self.run(unknowns, [u.copy() for u in controls], gmin)
            if found.converged:
                reached = found
                unknowns, controls = found.unknowns, found.controls
                if gmin <= GMIN:
                    found.way = "conductance stepping"
                    return found
                factor = min(factor * 2.0, 100.0)
            elif reached is None or factor < 1.02:
                return None
            else:
                gmin, factor = gmin * factor, factor**0.5
            gmin = max(gmin / factor, GMIN)

    def _step_time(self) -> Solution | None:
        """A capacitor at every node, charged in ever longer steps of time: ends where the circuit comes to rest."""
        unknowns = np.zeros(self.equations.count)
        controls = [group.controls(unknowns) for group in self.equations.groups]
        anchor, tries = 1.0, 0
        while anchor > GMIN and tries < 120 and self.budget > 0:
            tries += 1
            found = self.run(unknowns, [u.copy() for u in controls], steps=TIME_STEPS, anchor=anchor)
            if found.converged:
                unknowns, controls = found.unknowns, found.controls
                anchor *= 0.5
            elif anchor > 1e6:
                return None
            else:
                anchor *= 8.0
        found = self.run(unknowns, controls)
        found.way = "time stepping"
        return found

    def _step_sources(self) -> Solution | None:
        """All sources raised from nothing to their full voltage, in steps that shrink where a run fails."""
        unknowns = np.zeros(self.equations.count)
        controls = [group.controls(unknowns) for group in self.equations.groups]
        done, step = 0.0, 0.1
        while step > 1e-5:
            scale = min(1.0, done + step)
            found = self.run(unknowns, [u.copy() for u in controls], GMIN, scale)
            if not found.converged:
                step /= 4.0
                continue
            done, unknowns, controls = scale, found.unknowns, found.controls
            if done >= 1.0:
                found.way = "source stepping"
                return found
            step *= 1.5
        return None
