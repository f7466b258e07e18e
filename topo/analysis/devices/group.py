"""What all groups of devices have in common."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LARGEST_EXPONENT = 80.0
"""Beyond this a junction's exponential goes on as its tangent, so that no step overflows."""

GMIN = 1e-12
"""Siemens across every junction and channel: keeps a node that only cut-off devices touch determined."""


@dataclass(eq=False)
class Group:
    """Devices of one law.

    `at` (n, t) are the unknowns of each device's terminals (0 is ground), `names` (t,) the terminals. Control voltages
    are `polarity * (control @ v)`, (n, m), with `control` (m, t); terminal currents, into the device, are
    `polarity * (entry @ i)` with `entry` (t, k) and branch currents i (n, k). `start` (n, m) is where Newton begins.
    """

    names: ClassVar[tuple[str, ...]] = ()
    elements: list[int]
    at: NDArray[np.intp]
    polarity: Array
    start: Array
    control: Array = field(default_factory=lambda: np.zeros((0, 0)))
    entry: Array = field(default_factory=lambda: np.zeros((0, 0)))

    count: Array = field(default_factory=lambda: np.ones(0))
    """How many like devices each stands for, (n,); empty where each is one."""

    def branches(self, u: Array, gmin: float) -> tuple[Array, Array]:
        """Branch currents (n, k) and their derivatives (n, k, m) at control voltages u (n, m)."""
        i, di = self.branches_of_one(u, gmin)
        return (i * self.count[:, None], di * self.count[:, None, None]) if len(self.count) else (i, di)

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        """The same of one device of each."""
        raise NotImplementedError

    def begin(self) -> None:
        """Forgets what earlier steps were limited by; called when a run begins."""

    def limit(self, new: Array, old: Array) -> Array:
        """The part of a step from the old control voltages to the new ones that may be trusted."""
        return new

    def state(self, index: int, u: Array, i: Array) -> str | None:
        """The state of device `index`, from its control voltages (m,) and branch currents (k,)."""
        return None

    def driven(self, index: int, amperes: float, u: Array) -> Array:
        """Control voltages (m,) at which device `index` carries a given main current, near those at rest."""
        return self.driven_one(index, amperes / self.count[index] if len(self.count) else amperes, u)

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        """The same of one device."""
        return u

    def controls(self, unknowns: Array) -> Array:
        """Control voltages (n, m) at a vector of unknowns, ground first."""
        return self.polarity[:, None] * (unknowns[self.at] @ self.control.T)

    def terminal_currents(self, i: Array) -> Array:
        """Currents into the terminals (n, t) from branch currents (n, k)."""
        return self.polarity[:, None] * (i @ self.entry.T)

    def jacobian(self, di: Array) -> Array:
        """Derivatives of terminal currents to terminal voltages (n, t, t)."""
        return np.matmul(np.matmul(self.entry, di), self.control)


def junction(v: Array, saturation: Array, thermal: Array) -> tuple[Array, Array]:
    """Current and conductance of a junction: I = IS (exp(v / (N VT)) - 1).

    Source: Shockley's diode law, as in Ebers and Moll, Proc. IRE 42 (1954) 1761-1772 (from memory).
    """
    x = v / thermal
    bounded = np.minimum(x, LARGEST_EXPONENT)
    e = np.exp(bounded)
    return saturation * (e * (1.0 + x - bounded) - 1.0), saturation * e / thermal


def limit_junction(new: Array, old: Array, thermal: Array, critical: Array) -> Array:
    """A junction's step, logarithmic above its critical voltage, where the exponential would run away.

    Source: the limiting of Nagel's thesis, ERL-M520, Berkeley (1975) (from memory).
    """
    runs = (new > critical) & (np.abs(new - old) > 2.0 * thermal)
    if not runs.any():
        return new
    rise = 1.0 + (new - old) / thermal
    from_on = np.where(rise > 0, old + thermal * np.log(np.maximum(rise, 1e-30)), critical)
    from_off = thermal * np.log(np.maximum(new / thermal, 1e-30))
    return np.where(runs, np.where(old > 0, from_on, from_off), new)


def critical_voltage(saturation: Array, thermal: Array) -> Array:
    """The voltage at which a junction's curve bends most: N VT ln(N VT / (IS sqrt 2))."""
    return thermal * np.log(thermal / (np.sqrt(2.0) * saturation))
