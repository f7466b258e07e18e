"""Operational amplifiers and fixed regulators: controlled voltages, each with its output current as an unknown."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from topo.analysis.devices.group import Array, Group

DROP_VOLT = 1.0
"""A regulator wants this much more than its output at its input (common practice: 0.3 V to 2 V)."""

KNEE_VOLT = 0.05
"""Width of the bend where a regulator runs out of input voltage."""

OUTPUT_OHM = 1e-6
"""Output resistance of both: nothing, but it keeps an output determined that is wired to its own supply."""

SPLIT_AMPERE = 1e-6
"""Width of the change-over between sourcing from the positive and sinking into the negative supply pin."""


@dataclass(eq=False)
class OpAmp(Group):
    """VOUT = M + H tanh((GAIN VD - M) / H), between the limits M - H and M + H.

    The limits are 1.5 V inside the supply pins, or +-VMAX, or none. Inputs draw nothing; the output current
    comes from the positive supply pin or goes into the negative one. Terminals in+, in-, out, v+, v-, and the output
    current as an unknown of its own; control voltages VD, V+, V-, IOUT, VOUT.
    Source: the ideal operational amplifier with finite gain and limits (common practice).
    """

    names: ClassVar[tuple[str, ...]] = ("in+", "in-", "out", "v+", "v-", "")
    gain: Array = field(default_factory=lambda: np.zeros(0))
    limit_volt: Array = field(default_factory=lambda: np.zeros(0))
    supplied: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    margin: float = 1.5

    def __post_init__(self) -> None:
        self.control = np.zeros((5, 6))
        self.control[0, 0], self.control[0, 1] = 1.0, -1.0
        self.control[1, 3] = self.control[2, 4] = self.control[3, 5] = self.control[4, 2] = 1.0
        self.entry = np.zeros((6, 4))
        self.entry[5, 0] = self.entry[2, 1] = self.entry[3, 2] = self.entry[4, 3] = 1.0
        self.begin()

    def _span(self, u: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Middle, half width of the output range, and whether that width follows the supply pins."""
        half: Array = np.where(self.supplied, 0.5 * (u[:, 1] - u[:, 2]) - self.margin, self.limit_volt)
        moving = self.supplied & (half > 0.01)
        return np.where(self.supplied, 0.5 * (u[:, 1] + u[:, 2]), 0.0), np.maximum(half, 0.01), moving

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        middle, half, moving = self._span(u)
        x = np.clip((self.gain * u[:, 0] - middle) / half, -300.0, 300.0)
        bend = np.tanh(x)
        steep = 1.0 - bend**2
        currents, slopes = np.zeros((len(x), 4)), np.zeros((len(x), 4, 5))
        currents[:, 0] = u[:, 4] - (middle + half * bend) + OUTPUT_OHM * u[:, 3]
        slopes[:, 0, 3] = OUTPUT_OHM
        slopes[:, 0, 0] = -self.gain * steep
        d_middle = np.where(self.supplied, 0.5 * (1.0 - steep), 0.0)
        d_half = np.where(moving, 0.5 * (bend - x * steep), 0.0)
        slopes[:, 0, 1], slopes[:, 0, 2], slopes[:, 0, 4] = -(d_middle + d_half), -(d_middle - d_half), 1.0
        j = u[:, 3]
        root = np.sqrt(j**2 + SPLIT_AMPERE**2)
        currents[:, 1], slopes[:, 1, 3] = -j, -1.0
        currents[:, 2] = np.where(self.supplied, 0.5 * (j + root), 0.0)
        slopes[:, 2, 3] = np.where(self.supplied, 0.5 * (1.0 + j / root), 0.0)
        currents[:, 3] = np.where(self.supplied, 0.5 * (j - root), 0.0)
        slopes[:, 3, 3] = np.where(self.supplied, 0.5 * (1.0 - j / root), 0.0)
        return currents, slopes

    def begin(self) -> None:
        self._stopped = np.zeros(len(self.gain), dtype=np.bool_)

    def limit(self, new: Array, old: Array) -> Array:
        """From one limit towards the other it stops in the linear range, every other time: a loop with negative
        feedback is found there, one with positive feedback is thrown back and must be let through."""
        middle, half, _ = self._span(old)
        centre, width = middle / self.gain, 3.0 * half / self.gain
        crosses = (np.abs(old[:, 0] - centre) > width) & ((old[:, 0] - centre) * (new[:, 0] - centre) < 0)
        stops = crosses & ~self._stopped
        self._stopped = np.where(crosses, stops, self._stopped)
        limited = new.copy()
        limited[:, 0] = np.where(stops, centre, new[:, 0])
        return limited

    def state(self, index: int, u: Array, i: Array) -> str:
        middle, half, _ = (column[index] for column in self._span(np.broadcast_to(u, (len(self.gain), 5))))
        return "saturated" if abs(u[4] - middle) > 0.99 * half else "on"


@dataclass(eq=False)
class Regulator(Group):
    """A fixed output voltage as long as the input is a volt above it; below, the output follows the input.

    Terminals in, out, common, and the output current as an unknown; control voltages in and out to common, IOUT.
    The output current is drawn from the input; no current flows in the common lead. Polarity -1 for a negative one.
    Source: common practice.
    """

    names: ClassVar[tuple[str, ...]] = ("in", "out", "common", "")
    volts: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.control = np.array([[1.0, 0.0, -1.0, 0.0], [0.0, 1.0, -1.0, 0.0], [0.0, 0.0, 0.0, 1.0]])
        self.entry = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        lack = (self.volts + DROP_VOLT - u[:, 0]) / KNEE_VOLT
        soft = np.maximum(lack, 0.0) + np.log1p(np.exp(-np.abs(lack)))
        follows = np.exp(-np.logaddexp(0.0, -lack))
        wanted = (self.volts - KNEE_VOLT * soft) / KNEE_VOLT
        output = KNEE_VOLT * (np.maximum(wanted, 0.0) + np.log1p(np.exp(-np.abs(wanted))))
        positive = np.exp(-np.logaddexp(0.0, -wanted))
        currents, slopes = np.zeros((len(lack), 3)), np.zeros((len(lack), 3, 3))
        currents[:, 0] = u[:, 1] - output + OUTPUT_OHM * u[:, 2]
        slopes[:, 0, 2] = OUTPUT_OHM
        slopes[:, 0, 0], slopes[:, 0, 1] = -follows * positive, 1.0
        currents[:, 1], slopes[:, 1, 2] = -u[:, 2], -1.0
        currents[:, 2], slopes[:, 2, 2] = u[:, 2], 1.0
        return currents, slopes

    def state(self, index: int, u: Array, i: Array) -> str:
        if u[1] < 0.05 * self.volts[index]:
            return "off"
        return "saturated" if u[0] < self.volts[index] + DROP_VOLT else "on"
