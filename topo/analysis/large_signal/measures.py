"""Figures of a steady cycle: harmonics, conduction angle and class, crossover."""

from __future__ import annotations

import math

import numpy as np

from topo.analysis.devices.group import Array

CONDUCTS_SHARE = 0.01
"""A device conducts while its current is above this share of its largest in the cycle: an exponential law has no
end, and a hundredth of the crest is nothing to the load (common practice)."""

CONDUCTS_AMPERE = 1e-7
"""A device whose current stays below this does not conduct at all."""

WHOLE_CYCLE = 359.0
"""Degrees from which a current counts as flowing for the whole cycle."""

ABOUT_HALF = 150.0
"""Degrees from which a current flows for "about half" of a cycle or more. A pair without bias has a dead band and stays
somewhat under 180; class C stages conduct for 90 to 150 degrees (common practice)."""

NOTHING_AT_REST = 0.002
"""Current at rest, as a share of the crest, that counts as none."""

MOST_OF_REST = 5.0
"""A crest of more than so many times the current at rest is no class A, though some current never stops: a square law
just comes to 4, and of a pair of exponential laws the idle half keeps a hundredth long after the other took over."""

CROSSING_DEGREES = 3.0
"""The slope at a crossing is taken over this many degrees on both sides."""


def harmonics(signal: Array) -> Array:
    """Amplitudes of the direct part, fundamental and harmonics of one cycle (n,), up to n/2, by Fourier's integral."""
    amounts = np.abs(np.fft.rfft(signal)) * 2.0 / len(signal)
    amounts[0] /= 2.0
    return amounts


def distortion(amounts: Array) -> float:
    """Total harmonic distortion of amplitudes that begin with the direct part; NaN where there is no fundamental."""
    if len(amounts) < 3 or amounts[1] <= 0:
        return math.nan
    return float(np.sqrt((amounts[2:] ** 2).sum()) / amounts[1])


def conduction_angle(current: Array) -> float:
    """Degrees of a cycle for which a current (n,) flows, between instants along straight lines."""
    size = np.abs(current)
    crest = float(size.max(initial=0.0))
    if crest < CONDUCTS_AMPERE:
        return 0.0
    above = size - max(CONDUCTS_SHARE * crest, CONDUCTS_AMPERE)
    after = np.roll(above, -1)
    both = np.where((above >= 0) & (after >= 0), 1.0, 0.0)
    with np.errstate(all="ignore"):
        part = np.where((above >= 0) != (after >= 0), np.maximum(above, after) / np.abs(above - after), 0.0)
    return float(360.0 * np.mean(both + part))


def class_letter(angle: float, rest: float, crest: float) -> str:
    """Class of operation from the degrees of conduction, amperes at rest and at the crest.

    A: current flows for the whole cycle, and its crest is not far above that at rest; AB: for more than half, or about
    half where some flows at rest (a pair with idle current is driven towards half, and clipping may take a few degrees
    more); B: none at rest, and about half or, in a stage that distorts unevenly, more; C: none at rest, or some, and
    appreciably less than half. "" where none flows.
    Source: the classes as IEC 60050 words them (from memory), with the limits above.
    """
    if angle <= 0 or crest <= 0:
        return ""
    if angle < ABOUT_HALF:
        return "C"
    if rest <= NOTHING_AT_REST * crest:
        return "B"
    return "A" if angle >= WHOLE_CYCLE and crest <= MOST_OF_REST * rest else "AB"


def crossover(signal: Array) -> float:
    """How far a cycle's slope at the crossings of its fundamental falls short of the fundamental's own, 0 to 1."""
    n = len(signal)
    first = np.fft.rfft(signal)[1] * 2.0 / n
    size = abs(first)
    if size <= 0:
        return math.nan
    reach = max(1, round(CROSSING_DEGREES * n / 360.0))
    worst = 1.0
    for turn in (0.25, 0.75):
        at = ((turn - np.angle(first) / (2.0 * math.pi)) % 1.0) * n
        before, after = (_between(signal, at + shift) for shift in (-reach, reach))
        wanted = 2.0 * size * math.sin(2.0 * math.pi * reach / n)
        worst = min(worst, abs(after - before) / wanted)
    return max(0.0, 1.0 - worst)


def _between(signal: Array, at: float) -> float:
    """The cycle at an instant between two, along a straight line."""
    n, place = len(signal), math.floor(at)
    return float(signal[place % n] + (at - place) * (signal[(place + 1) % n] - signal[place % n]))
