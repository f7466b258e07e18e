"""The edges of a circuit's band: where its gain has fallen 3 dB below that at mid band."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from topo.views.network import Network

FALL_DB = 3.0103
BEYOND_OCTAVES = 2
"""So far beyond the stated band edges are looked for. What the criteria of the classes let go (a shunt of five times
what it lies across, a short of a tenth) makes its edge further out: it is not the band that the circuit is for."""
STEPS_AN_OCTAVE = 4


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
    limits = (band[0] / 2**BEYOND_OCTAVES, band[1] * 2**BEYOND_OCTAVES)
    count = max(4, math.ceil(STEPS_AN_OCTAVE * math.log2(limits[1] / limits[0])))
    grid = np.geomspace(*limits, count + 1)
    middle = math.sqrt(band[0] * band[1])
    grid = np.unique(np.append(grid, middle))
    gains = _gains(network, start, end, grid)
    place = int(np.searchsorted(grid, middle))
    if gains is None or not math.isfinite(gains[place]):
        return None
    floor = gains[place] - FALL_DB
    return Edges(
        _crossing(grid, gains, floor, range(place, 0, -1), -1),
        _crossing(grid, gains, floor, range(place, len(grid) - 1), 1),
        limits,
    )


def _gains(network: Network, start: int, end: int, grid: np.ndarray) -> np.ndarray | None:
    """Decibels of volts for an ampere at each frequency of a grid."""
    linear = network.linear
    fixed = np.array(linear.fixed, dtype=float)
    for item in network.terminations:
        a, b = item.nodes
        fixed[[a, b], [a, b]] += 1 / item.ohm
        fixed[[a, b], [b, a]] -= 1 / item.ohm
    drive = np.zeros(len(fixed) - 1, dtype=complex)
    drive[start - 1] = 1.0
    omega = 2j * math.pi * grid[:, None, None]
    try:
        volts = np.linalg.solve(fixed[None, 1:, 1:] + omega * linear.rising[None, 1:, 1:], drive[None, :, None])
    except np.linalg.LinAlgError:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        return 20 * np.log10(np.abs(volts[:, end - 1, 0]))


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
