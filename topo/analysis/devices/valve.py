"""Triodes, tetrodes and pentodes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from topo.analysis.devices.bipolar import ON_AMPERE
from topo.analysis.devices.group import Array, Group

GRID_PERVEANCE = 5e-4
"""Grid current is this many amperes times a positive grid's volts to the power 3/2: a milliampere or so at
+1.5 V, as small receiving valves draw (from memory)."""

SCREEN_VOLT = 5.0
"""Below about this a screen grid's current falls away to nothing at 0 V, where the fit alone would break off."""


def _softplus(x: Array) -> tuple[Array, Array]:
    """ln(1 + exp x) and its derivative, without overflow."""
    value = np.maximum(x, 0.0) + np.log1p(np.exp(-np.abs(x)))
    return value, np.exp(-np.logaddexp(0.0, -x))


def _grid(v: Array) -> tuple[Array, Array]:
    """Current of a positive control grid, and its slope."""
    above = np.maximum(v, 0.0)
    return GRID_PERVEANCE * above**1.5, 1.5 * GRID_PERVEANCE * np.sqrt(above)


def _grid_for(group: Group, index: int, amperes: float, u: Array) -> Array:
    """Control voltages at which the anode carries a current, the grid's found by halving between -200 and +50 V."""
    low, high = -200.0, 50.0
    trial = np.repeat(u[None, :], len(group.elements), axis=0)
    for _ in range(60):
        trial[index, 0] = 0.5 * (low + high)
        current = group.branches(trial, 0.0)[0][index, 0]
        low, high = (trial[index, 0], high) if current < amperes else (low, trial[index, 0])
    return trial[index]


def _step(new: Array, old: Array, least: float, share: float) -> Array:
    room = least + share * np.abs(old)
    return np.clip(new, old - room, old + room)


@dataclass(eq=False)
class Triode(Group):
    """E1 = (VA/KP) ln(1 + exp(KP (1/MU + VG / sqrt(KVB + VA^2)))),  IA = 2 E1^EX / KG1.

    Terminals a, g, k; control voltages VG, VA to the cathode; branches anode current, grid current.
    Source: N. Koren, Glass Audio 8 (1996) no. 5, eqs. for triodes (from memory). Grid current: this page's own
    three-halves law.
    """

    names: ClassVar[tuple[str, ...]] = ("a", "g", "k")
    mu: Array = field(default_factory=lambda: np.zeros(0))
    exponent: Array = field(default_factory=lambda: np.zeros(0))
    kg1: Array = field(default_factory=lambda: np.zeros(0))
    kp: Array = field(default_factory=lambda: np.zeros(0))
    kvb: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.control = np.array([[0.0, 1.0, -1.0], [1.0, 0.0, -1.0]])
        self.entry = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]])

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        vg, va = u[:, 0], u[:, 1]
        positive = np.maximum(va, 0.0)
        root = np.sqrt(self.kvb + positive**2)
        soft, rise = _softplus(self.kp * (1.0 / self.mu + vg / root))
        e1 = positive / self.kp * soft
        de_dg = positive * rise / root
        de_da = np.where(va > 0, soft / self.kp - positive * rise * vg * positive / root**3, 0.0)
        ia = 2.0 * e1**self.exponent / self.kg1
        slope = 2.0 * self.exponent * np.maximum(e1, 1e-12) ** (self.exponent - 1.0) / self.kg1
        ig, gg = _grid(vg)
        currents = np.stack((ia + gmin * va, ig), axis=1)
        slopes = np.zeros((len(vg), 2, 2))
        slopes[:, 0, 0], slopes[:, 0, 1] = slope * de_dg, slope * de_da + gmin
        slopes[:, 1, 0] = gg
        return currents, slopes

    def limit(self, new: Array, old: Array) -> Array:
        return np.stack((_step(new[:, 0], old[:, 0], 2.0, 0.5), _step(new[:, 1], old[:, 1], 50.0, 1.0)), axis=1)

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        known = np.where(np.isfinite(u), u, self.start[index])
        return _grid_for(self, index, amperes, known)

    def state(self, index: int, u: Array, i: Array) -> str:
        return "on" if i[0] > ON_AMPERE else "off"


@dataclass(eq=False)
class Pentode(Group):
    """E1 = (VG2/KP) ln(1 + exp(KP (1/MU + VG1/VG2))),  IA = 2 E1^EX atan(VA/KVB) / KG1,
    IG2 = (VG1 + VG2/MU)^(3/2) / KG2.

    Terminals a, g1, g2, k (a suppressor grid carries no current); control voltages VG1, VG2, VA to the cathode;
    branches anode, screen and control grid current. A tetrode is taken as a beam tetrode, with the same law.
    Source: N. Koren, Glass Audio 8 (1996) no. 5, eqs. for pentodes (from memory).
    """

    names: ClassVar[tuple[str, ...]] = ("a", "g1", "g2", "k")
    mu: Array = field(default_factory=lambda: np.zeros(0))
    exponent: Array = field(default_factory=lambda: np.zeros(0))
    kg1: Array = field(default_factory=lambda: np.zeros(0))
    kg2: Array = field(default_factory=lambda: np.zeros(0))
    kp: Array = field(default_factory=lambda: np.zeros(0))
    kvb: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.control = np.array([[0.0, 1.0, 0.0, -1.0], [0.0, 0.0, 1.0, -1.0], [1.0, 0.0, 0.0, -1.0]])
        self.entry = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, -1.0, -1.0]])

    def branches_of_one(self, u: Array, gmin: float) -> tuple[Array, Array]:
        vg1, vg2, va = u[:, 0], u[:, 1], u[:, 2]
        screen = np.maximum(vg2, 1e-3)
        soft, rise = _softplus(self.kp * (1.0 / self.mu + vg1 / screen))
        e1 = screen / self.kp * soft
        de_dg1 = rise
        de_dg2 = np.where(vg2 > 1e-3, soft / self.kp - rise * vg1 / screen, 0.0)
        plate = np.maximum(va, 0.0) / self.kvb
        shape = np.arctan(plate)
        ia = 2.0 * e1**self.exponent / self.kg1
        slope = 2.0 * self.exponent * np.maximum(e1, 1e-12) ** (self.exponent - 1.0) / self.kg1
        drive = np.maximum(vg1 + screen / self.mu, 0.0)
        above = np.maximum(vg2, 0.0) / SCREEN_VOLT
        onset = np.tanh(above)
        space = drive**1.5 / self.kg2
        ig2 = space * onset
        dig2 = 1.5 * np.sqrt(drive) / self.kg2 * onset
        rise2 = np.where(vg2 > 0, space * (1.0 - onset**2) / SCREEN_VOLT, 0.0)
        ig1, gg1 = _grid(vg1)
        currents = np.stack((ia * shape + gmin * va, ig2 + gmin * vg2, ig1), axis=1)
        slopes = np.zeros((len(vg1), 3, 3))
        slopes[:, 0, 0], slopes[:, 0, 1] = slope * shape * de_dg1, slope * shape * de_dg2
        slopes[:, 0, 2] = np.where(va > 0, ia / (1.0 + plate**2) / self.kvb, 0.0) + gmin
        slopes[:, 1, 0], slopes[:, 1, 1] = dig2, np.where(vg2 > 1e-3, dig2 / self.mu, 0.0) + rise2 + gmin
        slopes[:, 2, 0] = gg1
        return currents, slopes

    def limit(self, new: Array, old: Array) -> Array:
        steps = ((2.0, 0.5), (50.0, 1.0), (50.0, 1.0))
        return np.stack([_step(new[:, k], old[:, k], *steps[k]) for k in range(3)], axis=1)

    def driven_one(self, index: int, amperes: float, u: Array) -> Array:
        known = np.where(np.isfinite(u), u, self.start[index])
        return _grid_for(self, index, amperes, known)

    def state(self, index: int, u: Array, i: Array) -> str:
        return "on" if i[0] > ON_AMPERE else "off"
