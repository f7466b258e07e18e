"""Newton's method with junction limiting, then conductance stepping, then source stepping."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import GMIN, Array
from topo.analysis.equations import Equations
from topo.analysis.gathering import Gathering

STEPS = 60
"""Steps of one Newton run; sound circuits need 5 to 30."""

TIME_STEPS = 25
"""The same for each step of time, which starts near its end."""

VOLT = 1e-9
"""A run is done when no unknown moves by more than this, or by 1e-9 of itself."""

NEAR_VOLT = 1e-6
"""A run is done as well where no unknown moves by more than this and Kirchhoff's current law holds to AMPERE: so near,
each step squares what is left, to picovolts."""

NOISY_STEP = 12
"""From this step on unknowns may move by NOISE_VOLT if Kirchhoff's current law holds: where nothing but the leakage of
a junction holds a net, beside resistances of an ohm, rounding moves it."""

NOISE_VOLT = 1e-3

ROUNDING = 100.0 * float(np.finfo(np.float64).eps)
"""Of the sum of all currents at a node: what is left of it is rounding."""

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
        self.gathering = Gathering(equations.groups, equations.count)
        nodes = range(1, len(equations.graph.nets))
        inner = (row for (kind, _), row in equations.rows.items() if kind == "inner")
        self._counted = np.array([*nodes, *inner], dtype=np.intp)
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
        matrix, pulled = self.matrix, self.sources * scale
        if anchor:
            tied = np.zeros(self.equations.count)
            tied[1 : len(self.equations.graph.nets)] = anchor
            matrix, pulled = matrix + np.diag(tied), pulled + tied * unknowns
        for group in self.equations.groups:
            group.begin()
        at = np.concatenate([u.ravel() for u in controls]) if controls else np.zeros(0)
        settled: Solution | None = None
        since = 0
        for step in range(1, steps + 1):
            fresh = self._step(at, gmin, matrix, pulled)
            if fresh is None:
                break
            at, limited = self._limit(fresh, at)
            moved = float((np.abs(fresh - unknowns) / (1.0 + np.abs(fresh))).max(initial=0.0))
            unknowns = fresh
            if step == 1 or limited or moved > (NEAR_VOLT if step < NOISY_STEP else NOISE_VOLT):
                since = step
                continue
            found = self._finish(unknowns, gmin, scale, True, step)
            if found.residual <= AMPERE or (step >= NOISY_STEP and found.residual <= self._rounding(unknowns)):
                return found
            if moved > VOLT:
                since = step if step < NOISY_STEP else since
                continue
            settled = found if settled is None or found.residual < settled.residual else settled
            if step - since > POLISHING:
                break
        return settled or self._finish(unknowns, gmin, scale, False, steps)

    def _rounding(self, unknowns: Array) -> float:
        """Amperes of a node's sum that rounding alone may leave: a milliohm beside megohms makes them nanoamperes."""
        return ROUNDING * float((np.abs(self.matrix) @ np.abs(unknowns))[self._counted].max(initial=0.0))

    def _evaluate(self, controls: Array, gmin: float) -> tuple[Array, Array]:
        """Branch currents (k,) and their slopes, all groups' one after another, at control voltages (m,)."""
        found = [
            group.branches(u, gmin)
            for group, u in zip(self.equations.groups, self.gathering.views(controls), strict=True)
        ]
        if not found:
            return np.zeros(0), np.zeros(0)
        return np.concatenate([i.ravel() for i, _ in found]), np.concatenate([di.ravel() for _, di in found])

    def _step(self, controls: Array, gmin: float, matrix: Array, pulled: Array) -> Array | None:
        """The unknowns that solve the equations made linear at the control voltages; None if they have no solution."""
        size = self.equations.count
        self.budget -= 1
        if self.budget < 0:
            return None
        currents, slopes = self._evaluate(controls, gmin)
        whole = matrix + self.gathering.slopes_between(slopes).reshape(size, size)
        right = pulled - self.gathering.into_nodes(currents - self.gathering.along(slopes, controls))
        fresh = np.zeros(size)
        try:
            fresh[1:] = np.linalg.solve(whole[1:, 1:], right[1:])
        except np.linalg.LinAlgError:
            return None
        return fresh if np.isfinite(fresh).all() else None

    def _limit(self, unknowns: Array, controls: Array) -> tuple[Array, bool]:
        """The control voltages moved to the new unknowns as far as may be, and whether that was not all the way."""
        wanted = self.gathering.controls_at(unknowns)
        if not len(wanted):
            return wanted, False
        views = self.gathering.views
        limited = [
            group.limit(new, old).ravel()
            for group, new, old in zip(self.equations.groups, views(wanted), views(controls), strict=True)
        ]
        made = np.concatenate(limited)
        return made, bool((np.abs(made - wanted) > 1e-9 * (1.0 + np.abs(wanted))).any())

    def _finish(self, unknowns: Array, gmin: float, scale: float, converged: bool, steps: int) -> Solution:
        """Evaluates everything at the unknowns, and Kirchhoff's current law with it."""
        controls = self.gathering.views(self.gathering.controls_at(unknowns))
        branches = [group.branches(u, gmin)[0] for group, u in zip(self.equations.groups, controls, strict=True)]
        left = self.matrix @ unknowns - self.sources * scale
        if branches:
            left += self.gathering.into_nodes(np.concatenate([i.ravel() for i in branches]))
        residual = float(np.abs(left[self._counted]).max(initial=0.0))
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
