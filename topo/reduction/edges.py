"""The edges of a circuit's band: where its gain has fallen 3 dB below that at mid band."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from topo.views.network import Network

FALL_DB = 3.0103
BEYOND_OCTAVES = 2
"""So far beyond the stated band edges are looked for. What the criteria of the classes let go (a shunt of five times
what it lies across, a short of a tenth) makes its edge further out: it is not the band that the circuit is for."""
STEPS_AN_OCTAVE = 4


Capacitor = tuple[int, int, float]
"""Nodes and farads."""


@dataclass(frozen=True)
class Edges:
    """Hertz of the lower and the upper edge, None where the gain does not fall so far within the range looked at.

    `limits` are the ends of that range, hertz.
    """

    low: float | None
    high: float | None
    limits: tuple[float, float]


def band_edges(network: Network, start: int, end: int, band: tuple[float, float]) -> Edges | None:
    """Edges of the response at node `end` to a current into node `start`, ground being the other side of both.

    Found on a grid of four points an octave, logarithmic in between. None where the gain at mid band is nothing.
    """
    grid = grid_of(band)
    gains = _decibels(_solved(network, start, grid, ()), end)
    return None if gains is None else edges_of(gains, grid, band)


def grid_of(band: tuple[float, float]) -> np.ndarray:
    """Frequencies in hertz, the middle of the band among them."""
    limits = _limits(band)
    count = max(4, math.ceil(STEPS_AN_OCTAVE * math.log2(limits[1] / limits[0])))
    return np.unique(np.append(np.geomspace(*limits, count + 1), math.sqrt(band[0] * band[1])))


def _limits(band: tuple[float, float]) -> tuple[float, float]:
    return band[0] / 2**BEYOND_OCTAVES, band[1] * 2**BEYOND_OCTAVES


def edges_of(gains: np.ndarray, grid: np.ndarray, band: tuple[float, float]) -> Edges | None:
    """Edges of a response in decibels over the grid of a band."""
    place = int(np.searchsorted(grid, math.sqrt(band[0] * band[1])))
    if not math.isfinite(gains[place]):
        return None
    floor = gains[place] - FALL_DB
    return Edges(
        _crossing(grid, gains, floor, range(place, 0, -1), -1),
        _crossing(grid, gains, floor, range(place, len(grid) - 1), 1),
        _limits(band),
    )


class Sweep:
    """Responses of one network over the grid of a band, with and without some of its capacitors.

    Source: the matrix inversion lemma, as in `topo.views.network.bridged`.
    """

    def __init__(
        self, network: Network, start: int, end: int, band: tuple[float, float], capacitors: Mapping[int, Capacitor]
    ) -> None:
        """`capacitors` are their nodes and farads, by any number."""
        self.grid = grid_of(band)
        self.band = band
        self._end = end
        self._capacitors = dict(capacitors)
        self._place = {name: number for number, name in enumerate(self._capacitors, 1)}
        pairs = tuple((a, b) for a, b, _ in self._capacitors.values())
        self._solved = _solved(network, start, self.grid, pairs)

    def without(self, names: Sequence[int]) -> np.ndarray | None:
        """Decibels at each frequency without some of the capacitors; None where there is no solution."""
        solved = self._solved
        if solved is None:
            return None
        columns = [self._place[name] for name in names]
        ends = [self._capacitors[name] for name in names]
        volts = solved[:, self._end - 1, :]
        across = np.stack([_across(solved, a, b) for a, b, _ in ends], axis=1)
        siemens = 2j * math.pi * self.grid[:, None] * np.array([farad for _, _, farad in ends])
        core = np.einsum("fk,kj->fkj", -1 / siemens, np.eye(len(ends))) + across[:, :, columns]
        try:
            weights = np.linalg.solve(core, across[:, :, :1])[:, :, 0]
        except np.linalg.LinAlgError:
            return None
        return _in_decibels(volts[:, 0] - (volts[:, columns] * weights).sum(axis=1))


def _across(solved: np.ndarray, a: int, b: int) -> np.ndarray:
    """Volts from node a to node b, (frequencies, columns)."""
    nothing = np.zeros_like(solved[:, 0, :])
    return np.asarray((solved[:, a - 1, :] if a else nothing) - (solved[:, b - 1, :] if b else nothing))


def _solved(network: Network, start: int, grid: np.ndarray, pairs: Sequence[tuple[int, int]]) -> np.ndarray | None:
    """Unknowns without ground for one ampere into a node, then for one ampere between each pair of nodes:
    (frequencies, unknowns, columns); None where there is no solution."""
    linear = network.linear
    fixed = np.array(linear.fixed, dtype=float)
    for item in network.terminations:
        a, b = item.nodes
        fixed[[a, b], [a, b]] += 1 / item.ohm
        fixed[[a, b], [b, a]] -= 1 / item.ohm
    drive = np.zeros((len(fixed), 1 + len(pairs)), dtype=complex)
    drive[start, 0] = 1.0
    for column, (a, b) in enumerate(pairs, 1):
        drive[a, column] += 1.0
        drive[b, column] -= 1.0
    omega = 2j * math.pi * grid[:, None, None]
    try:
        return np.linalg.solve(fixed[None, 1:, 1:] + omega * linear.rising[None, 1:, 1:], drive[None, 1:])
    except np.linalg.LinAlgError:
        return None


def _decibels(solved: np.ndarray | None, end: int) -> np.ndarray | None:
    """Decibels of volts at a node for an ampere."""
    return None if solved is None else _in_decibels(solved[:, end - 1, 0])


def _in_decibels(volts: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(20 * np.log10(np.abs(volts)))


def _crossing(grid: np.ndarray, gains: np.ndarray, floor: float, places: range, step: int) -> float | None:
    """The frequency at which the gain first falls under the floor, walking out from mid band."""
    for place in places:
        here, there = gains[place], gains[place + step]
        if not math.isfinite(there):
            return float(grid[place + step])
        if there < floor:
            share = (here - floor) / (here - there)
            return float(grid[place] * (grid[place + step] / grid[place]) ** share)
    return None


def octaves(before: float | None, after: float | None, limit: float) -> tuple[float, bool]:
    """How far an edge moved, octaves, and whether it moved at least so far (out of the range looked at)."""
    if before is None and after is None:
        return 0.0, False
    return math.log2((after or limit) / (before or limit)), before is None or after is None
