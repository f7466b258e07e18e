"""Junction and insulated-gate field-effect transistors."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from topo.analysis.devices.bipolar import ON_AMPERE
from topo.analysis.devices.group import Array, Group, critical_voltage, junction, limit_junction

OHMIC_SHARE = 0.25
"""A channel with VDS under this share of VGS - VTH works as a closed switch."""

_ROOM = np.array([1.0, 2.0])
_LEAST_ROOM = np.array([2.0, 4.0])
"""A step may move VGS by 2 V and its distance from the threshold, VDS by 4 V and twice itself (by trial)."""


@dataclass(eq=False)
class FieldEffect(Group):
    """Square laws, the channel's two ends alike.

        saturation: ID = K (VGS - VTH)^2 (1 + VDS / VA)
        below:      ID = K VDS (2 (VGS - VTH) - VDS) (1 + VDS / VA)

    For a JFET K = IDSS / VP^2 and VTH = VP, and both ends of the channel are junctions to the gate (`gate` is
    their saturation current, 0 for an insulated gate). Terminals g, d, s; control voltages VGS, VDS; branches
    ID (drain to source), gate to source, gate to drain.
    Source: W. Shockley, Proc. IRE 40 (1952) 1365; H. Shichman, D. A. Hodges, IEEE J. Solid-State Circuits SC-3
    (1968) 285 (both from memory).
    """

    names: ClassVar[tuple[str, ...]] = ("g", "d", "s")
    factor: Array = field(default_factory=lambda: np.zeros(0))
    threshold: Array = field(default_factory=lambda: np.zeros(0))
    early: Array = field(default_factory=lambda: np.zeros(0))
    gate: Array = field(default_factory=lambda: np.zeros(0))
    thermal: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.control = np.array([[1.0, 0.0, -1.0], [0.0, 1.0, -1.0]])
        self.entry = np.array([[0.0, 1.0, 1.0], [1.0, 0.0, -1.0], [-1.0, -1.0, 0.0]])
        self._gated = self.gate > 0
        self._middle = np.stack((self.threshold, np.zeros_like(self.threshold)), axis=1)
        self._any_gated = bool(self._gated.any())
        self._critical = critical_voltage(np.where(self._gated, self.gate, 1e-14), self.thermal)

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        vgs, vds = u[:, 0], u[:, 1]
        turned = vds < 0
        over = np.maximum(np.where(turned, vgs - vds, vgs) - self.threshold, 0.0)
        across = np.abs(vds)
        inside = np.minimum(across, over)
        length = 1.0 + across * self.early
        current = self.factor * inside * (2.0 * over - inside) * length
        to_gate = self.factor * 2.0 * inside * length
        to_drain = self.factor * (2.0 * (over - inside) * length + inside * (2.0 * over - inside) * self.early)
        currents = np.zeros((len(vgs), 3))
        slopes = np.zeros((len(vgs), 3, 2))
        currents[:, 0] = np.where(turned, -current, current) + gmin * vds
        slopes[:, 0, 0] = np.where(turned, -to_gate, to_gate)
        slopes[:, 0, 1] = np.where(turned, to_gate + to_drain, to_drain) + gmin
        if self._any_gated:
            v = np.stack((vgs, vgs - vds), axis=1)
            i, g = junction(v, self.gate[:, None], self.thermal[:, None])
            gated = self._gated[:, None]
            currents[:, 1:] = np.where(gated, i + gmin * v, 0.0)
            g = np.where(gated, g + gmin, 0.0)
            slopes[:, 1:, 0] = g
            slopes[:, 2, 1] = -g[:, 1]
        return currents, slopes

    def limit(self, new: Array, old: Array) -> Array:
        room = np.abs(old - self._middle) * _ROOM + _LEAST_ROOM
        bounded = np.minimum(np.maximum(new, old - room), old + room)
        vgs, vds = bounded[:, 0], bounded[:, 1]
        if self._any_gated:
            limited = limit_junction(vgs, old[:, 0], self.thermal, self._critical)
            vgs = np.where(self._gated, limited, vgs)
            vgd = limit_junction(vgs - vds, old[:, 0] - old[:, 1], self.thermal, self._critical)
            vds = np.where(self._gated, vgs - vgd, vds)
        return np.stack((vgs, vds), axis=1)

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        over = float(np.sqrt(amperes / self.factor[index]))
        across = float(u[1]) if np.isfinite(u[1]) and u[1] > over else over + 1.0
        over = float(np.sqrt(amperes / (self.factor[index] * (1.0 + across * self.early[index]))))
        return np.array([self.threshold[index] + over, across])

    def state(self, index: int, u: Array, i: Array) -> str:
        if abs(i[0]) < ON_AMPERE:
            return "off"
        vgs, vds = float(u[0]), float(u[1])
        over = max(vgs, vgs - vds) - float(self.threshold[index])
        if abs(vds) < OHMIC_SHARE * over:
            return "saturated"
        return "reversed" if vds < 0 else "on"
