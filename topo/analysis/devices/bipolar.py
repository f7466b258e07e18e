"""Bipolar transistors."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from topo.analysis.devices.group import Array, Group, critical_voltage, junction, limit_junction

ON_AMPERE = 1e-6
"""A device that carries less than a microampere is off: no signal stage idles below it (common practice)."""

SATURATION_RATIO = 1e-4
"""Saturated: this share of the transport current flows back, so VCE is under VT ln 10^4 = 0.24 V ..."""

SATURATION_FORWARD = 2.0
"""... and the collector junction is forward by more than this many VT."""


@dataclass(eq=False)
class Bipolar(Group):
    """The transport form of the Ebers-Moll equations with the Early effect.

        ICT = IS (exp(VBE / (N VT)) - exp(VBC / (N VT))) (1 - VBC / VA)
        IBE = IS (exp(VBE / (N VT)) - 1) / hFE,  IBC = IS (exp(VBC / (N VT)) - 1) / hFER

    Terminals b, c, e; control voltages VBE, VBC; branches ICT (collector to emitter), IBE, IBC.
    Source: J. J. Ebers, J. L. Moll, Proc. IRE 42 (1954) 1761-1772; transport form as in I. Getreu, Modeling the
    Bipolar Transistor (1976), section 2 (both from memory).
    """

    names: ClassVar[tuple[str, ...]] = ("b", "c", "e")
    saturation: Array = field(default_factory=lambda: np.zeros(0))
    thermal: Array = field(default_factory=lambda: np.zeros(0))
    forward: Array = field(default_factory=lambda: np.zeros(0))
    reverse: Array = field(default_factory=lambda: np.zeros(0))
    early: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.control = np.array([[1.0, 0.0, -1.0], [1.0, -1.0, 0.0]])
        self.entry = np.array([[0.0, 1.0, 1.0], [1.0, 0.0, -1.0], [-1.0, -1.0, 0.0]])
        self._thermal = self.thermal[:, None]
        self._saturation = self.saturation[:, None]
        self._critical = critical_voltage(self._saturation, self._thermal)
        self._gain = np.stack((self.forward, self.reverse), axis=1)

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        i, g = junction(u, self._saturation, self._thermal)
        width = 1.0 - u[:, 1] * self.early
        through = i[:, 0] - i[:, 1]
        currents = np.empty((len(u), 3))
        slopes = np.zeros((len(u), 3, 2))
        currents[:, 0] = through * width
        slopes[:, 0, 0] = g[:, 0] * width
        slopes[:, 0, 1] = -g[:, 1] * width - through * self.early
        currents[:, 1:] = i / self._gain + gmin * u
        to_base = g / self._gain + gmin
        slopes[:, 1, 0] = to_base[:, 0]
        slopes[:, 2, 1] = to_base[:, 1]
        return currents, slopes

    def limit(self, new: Array, old: Array) -> Array:
        return limit_junction(new, old, self._thermal, self._critical)

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        reverse = float(u[1]) if np.isfinite(u[1]) and u[1] < 0 else -1.0
        current = amperes / (1.0 - reverse * self.early[index])
        return np.array([self.thermal[index] * np.log1p(current / self.saturation[index]), reverse])

    def state(self, index: int, u: Array, i: Array) -> str:
        least = max(ON_AMPERE, 10.0 * float(self.saturation[index]))
        thermal = float(self.thermal[index])
        collector, emitter = i[0] - i[2], -i[0] - i[1]
        if max(abs(collector), abs(emitter)) < least:
            return "off"
        vbe, vbc = float(u[0]), float(u[1])
        if vbc > vbe:
            return "reversed"
        if vbc > SATURATION_FORWARD * thermal and vbe - vbc < -thermal * np.log(SATURATION_RATIO):
            return "saturated"
        return "on"
