"""Diodes, rectifiers, zener diodes, light-emitting diodes, varactors."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from topo.analysis.devices.bipolar import ON_AMPERE
from topo.analysis.devices.group import LARGEST_EXPONENT, Array, Group, critical_voltage, junction, limit_junction


@dataclass(eq=False)
class Diode(Group):
    """I = IS (exp(v / (N VT)) - 1) - IZ exp(-(v + VZ) / VT): the second term where the diode has a zener voltage.

    VZ is the voltage at the current IZ. Terminals a, k; control voltage v; one branch, anode to cathode.
    Source: Shockley's law; an exponential breakdown is common practice.
    """

    names: ClassVar[tuple[str, ...]] = ("a", "k")
    saturation: Array = field(default_factory=lambda: np.zeros(0))
    thermal: Array = field(default_factory=lambda: np.zeros(0))
    zener: Array = field(default_factory=lambda: np.zeros(0))
    test_current: Array = field(default_factory=lambda: np.zeros(0))
    breakdown_thermal: float = 0.02586

    def __post_init__(self) -> None:
        self.control = np.array([[1.0, -1.0]])
        self.entry = np.array([[1.0], [-1.0]])
        self._critical = critical_voltage(self.saturation, self.thermal)
        vt = np.full_like(self.thermal, self.breakdown_thermal)
        self._breakdown_thermal = vt
        self._breakdown_critical = np.maximum(critical_voltage(self.test_current, vt), 0.0)
        self._breaks = np.isfinite(self.zener)
        self._any_breaks = bool(self._breaks.any())

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        v = u[:, 0]
        current, slope = junction(v, self.saturation, self.thermal)
        if self._any_breaks:
            x = np.where(self._breaks, -(v + self.zener) / self._breakdown_thermal, -LARGEST_EXPONENT * 10)
            bounded = np.clip(x, -700.0, LARGEST_EXPONENT)
            e = self.test_current * np.exp(bounded)
            current = current - e * (1.0 + np.maximum(x - bounded, 0.0))
            slope = slope + e / self._breakdown_thermal
        return (current + gmin * v)[:, None], (slope + gmin)[:, None, None]

    def limit(self, new: Array, old: Array) -> Array:
        v_new, v_old = new[:, 0], old[:, 0]
        limited = limit_junction(v_new, v_old, self.thermal, self._critical)
        if self._any_breaks:
            beyond_new, beyond_old = -(v_new + self.zener), -(v_old + self.zener)
            mirrored = limit_junction(
                np.where(self._breaks, beyond_new, -1.0),
                np.where(self._breaks, beyond_old, -1.0),
                self._breakdown_thermal,
                self._breakdown_critical,
            )
            breaking = self._breaks & (beyond_new > self._breakdown_critical)
            limited = np.where(breaking, -(mirrored + self.zener), limited)
        return limited[:, None]

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        return np.array([self.thermal[index] * np.log1p(amperes / self.saturation[index])])

    def state(self, index: int, u: Array, i: Array) -> str:
        if i[0] > ON_AMPERE:
            return "forward"
        if self._breaks[index] and i[0] < -ON_AMPERE and u[0] < -0.5 * self.zener[index]:
            return "breakdown"
        return "off"
