"""The largest power that a circuit gives undistorted, and what its devices dissipate on the way there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.analysis.large_signal.driving import Bench, set_up
from topo.analysis.large_signal.waveforms import Waveforms
from topo.analysis.operating_point import OperatingPoint
from topo.graph.graph import Graph
from topo.netlist.circuit import Port

MOST_DISTORTION = 0.1
"""Total harmonic distortion at which a waveform counts as clipped (common practice: the rating of small amplifiers)."""

GAIN_LEFT, GAIN_REACH = 10.0 ** (-1.0 / 20.0), 1.5
"""An amplifier counts as compressed where its gain is this share, 1 dB less, of the largest that it has at drives down
to two thirds of this one: 1 dB is common practice, and so near a drive a pair whose gain falls slowly as it leaves
class A does not count, while one that saturates loses 3.5 dB."""

COMPRESSED = "gain 1 dB less than at two thirds of the drive"

FIRST_VOLT = 1e-6
"""Where the sweep begins, volts of the generator's crest, so small that the circuit is linear, and ..."""

FIRST_SHARE, FREE_VOLT, LONGEST_JUMP, JUMPS = 0.05, 1e-3, 8.0, 20
"""... it goes to where the output's crest is this share of the supply, or ..."""

TOO_MUCH = 3.0
"""... up to this many times as much: up to `FREE_VOLT` in one jump, then by no more than a factor, a counted number of
times, and ..."""

LEAST_SHARE = 0.1
"""From this share of that output on a gain that falls is that of a clipping output: the sweep goes on from there."""

MOST_VOLTS = 100.0
"""... to no more than so many times the supply."""

RATIO, CLIMBS = 1.4, 40
"""The factor from one drive to the next, and how many of them at most."""

HARDLY_LESS, USELESS = 1.1, 1.0 / 300.0
"""Below a drive that distorts, cleaner ones are looked for until distortion has grown by this factor (a dead band), or
the output is this share, 50 dB less, of what it was: nothing is left of it."""

NEAR = 1.005
"""The limit is found to this factor of the drive."""

SWEEP_INSTANTS = 128
"""Steps of each cycle of a sweep: half as many as of a single drive, for half the time."""

PATIENCE = 1000
"""Newton steps of whole cycles that a sweep may spend: sound circuits need 100 to 300 of some milliseconds."""

SHARES = (0.35, 0.5, 0.64, 0.8)
"""Drives below the limit, as shares of it, at which dissipation is looked at besides those of the sweep."""


@dataclass(frozen=True)
class Drive:
    """One drive of a sweep: volts of the generator's crest and the output's fundamental, watts, distortion, gain,
    and each device's watts by designator."""

    amplitude: float
    output: float
    power: float
    supply_power: float
    efficiency: float
    thd: float
    gain: float
    dissipation: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Worst:
    """The drive up to the limit at which a device dissipates most: watts, the generator's crest, the load's watts."""

    ref: str
    watts: float
    amplitude: float
    output_power: float


@dataclass(frozen=True, eq=False)
class PowerLimit:
    """The largest undistorted power; always comes back.

    `status` is "found", "not reached" (the sweep ended before anything clipped: figures are of its last drive),
    "not found" (`missing` says why), or "no ports". `criterion` says which of the two limits came first. `limit` is
    the cycle there, `drives` the whole sweep in order of amplitude, `worst` the greatest dissipation of each device,
    no drive among those looked at, hottest first.
    """

    status: str
    missing: tuple[str, ...] = ()
    criterion: str = ""
    power: float = math.nan
    amplitude: float = math.nan
    efficiency: float = math.nan
    thd: float = math.nan
    supply_currents: Mapping[str, float] = field(default_factory=dict)
    limit: Waveforms | None = None
    drives: tuple[Drive, ...] = ()
    worst: tuple[Worst, ...] = ()


def most_power(
    graph: Graph,
    point: OperatingPoint,
    *,
    source: float = 0.0,
    load: float | None = None,
    frequency: float | None = None,
    entry: Port | None = None,
    exit: Port | None = None,
    most_distortion: float = MOST_DISTORTION,
    method: str = "auto",
    instants: int = SWEEP_INSTANTS,
) -> PowerLimit:
    """The largest power at the output before the waveform counts as clipped.

    The drive rises until distortion, having been below, passes `most_distortion`, or the gain is 1 dB under the
    largest met at drives down to two thirds; then the interval is halved. An unbiased pair distorts small signals most,
    so that distortion counts only once it was below its limit.

    Args:
        as `drive`, with 128 instants; most_distortion: share of the fundamental.
    """
    bench = set_up(
        graph,
        point,
        source=source,
        load=load,
        frequency=frequency,
        entry=entry,
        exit=exit,
        method=method,
        instants=instants,
    )
    if isinstance(bench, Waveforms):
        return PowerLimit("no ports" if bench.status == "no ports" else "not found", bench.missing)
    bench.patience = PATIENCE
    return _Sweep(bench, most_distortion).result()


class _Sweep:
    """Drives one after another, each cycle found from the last."""

    def __init__(self, bench: Bench, most_distortion: float):
        self.bench, self.most_distortion = bench, most_distortion
        self.met: dict[float, Waveforms] = {}
        self.was_clean = False

    def result(self) -> PowerLimit:
        """The limit, and dissipation below it."""
        start = self._first()
        if start is None:
            failed = next(reversed(self.met.values()))
            why = failed.missing or ("nothing of the drive reaches the output",)
            return PowerLimit("not found", why, drives=self._drives())
        good, bad, words = self._bracket(start)
        if bad is not None:
            good, words = self._halve(good, bad, words)
        status = "found" if words else "not reached"
        worst = self._worst(good)
        return PowerLimit(
            status,
            good.missing,
            words,
            good.output_power,
            good.amplitude,
            good.efficiency,
            good.thd,
            good.supply_currents,
            good,
            self._drives(),
            worst,
        )

    def _run(self, amplitude: float) -> Waveforms:
        """The cycle at an amplitude; steady ones are remembered."""
        found = self.bench.run(amplitude)
        self.met[amplitude] = found
        return found

    def _first(self) -> Waveforms | None:
        """A drive whose output is a small share of the supply, or at which it begins to clip; None if none is found."""
        start = self.bench.system.start[: len(self.bench.system.graph.nets)]
        span = float(start.max() - start.min())
        wanted, most = FIRST_SHARE * span, MOST_VOLTS * span
        amplitude, low, high, best = FIRST_VOLT, 0.0, math.inf, 0.0
        for _ in range(JUMPS):
            found = self._run(amplitude)
            if not found.steady:
                return None
            first = found.harmonics[0]
            if wanted <= first <= TOO_MUCH * wanted or (first >= wanted and amplitude <= RATIO * low):
                return found
            if found.gain < GAIN_LEFT * best and first > LEAST_SHARE * wanted:
                return found
            best = max(best, found.gain)
            if first > wanted:
                high = amplitude
            else:
                low = amplitude
            if low >= most:
                return None
            further = amplitude * max(wanted / max(first, 1e-30), 1.0 / LONGEST_JUMP)
            if first < wanted:
                further = min(max(further, 1.5 * amplitude), max(FREE_VOLT, amplitude * LONGEST_JUMP), most)
            amplitude = further if low < further < high else math.sqrt(low * high)
        return None

    def _bracket(self, start: Waveforms) -> tuple[Waveforms, Waveforms | None, str]:
        """The greatest drive of a row that does not clip, the next, which does, and by which limit it does."""
        self._note(start)
        good, bad, words = self._climb(start)
        if self.was_clean or not words:
            return good, bad, words
        clean = self._descend(start)
        if clean is start:
            return good, bad, words
        return clean, self.met[min(a for a in self.met if a > clean.amplitude)], self._distorted()

    def _climb(self, good: Waveforms) -> tuple[Waveforms, Waveforms | None, str]:
        """The same, upwards from a drive."""
        for _ in range(CLIMBS):
            words = self._clipped(good)
            if words:
                return good, None, words
            further = self._run(good.amplitude * RATIO)
            words = self._clipped(further)
            if words:
                return good, further, words
            good = further
        return good, None, ""

    def _descend(self, start: Waveforms) -> Waveforms:
        """A smaller drive that is clean, as long as distortion does not grow; else the one to start from."""
        last = start
        for _ in range(CLIMBS):
            found = self._run(last.amplitude / RATIO)
            gone = not found.steady or found.harmonics[0] < USELESS * start.harmonics[0]
            if gone or found.thd > HARDLY_LESS * last.thd:
                return start
            self._note(found)
            if self.was_clean:
                return found
            last = found
        return start

    def _distorted(self) -> str:
        return f"distortion of {self.most_distortion * 100:g} %"

    def _note(self, found: Waveforms) -> None:
        self.was_clean = self.was_clean or found.thd <= self.most_distortion

    def _clipped(self, found: Waveforms) -> str:
        """By which limit a cycle counts as clipped; "" if by none."""
        if not found.steady:
            return "no steady cycle beyond"
        self._note(found)
        if self.was_clean and found.thd > self.most_distortion:
            return self._distorted()
        near = [cycle.gain for cycle in self._below(found.amplitude) if cycle.amplitude >= found.amplitude / GAIN_REACH]
        return COMPRESSED if found.gain < GAIN_LEFT * max(near, default=0.0) else ""

    def _halve(self, good: Waveforms, bad: Waveforms, words: str) -> tuple[Waveforms, str]:
        """The last drive that does not clip, between one that does not and one that does."""
        while bad.amplitude > NEAR * good.amplitude:
            found = self._run(math.sqrt(good.amplitude * bad.amplitude))
            clipped = self._clipped(found)
            if clipped:
                bad, words = found, clipped
            else:
                good = found
        return good, words

    def _worst(self, limit: Waveforms) -> tuple[Worst, ...]:
        """The greatest dissipation of each device from no drive to the limit, hottest first."""
        for share in SHARES:
            self._run(share * limit.amplitude)
        self._run(0.0)
        hottest = max(limit.devices, key=lambda item: self._hottest(item.ref, limit.amplitude).watts, default=None)
        if hottest is not None:
            finer = self._crest(hottest.ref, limit.amplitude)
            if finer is not None:
                self._run(finer)
        found = [self._hottest(item.ref, limit.amplitude) for item in limit.devices]
        return tuple(sorted(found, key=lambda item: -item.watts))

    def _below(self, most: float) -> list[Waveforms]:
        """Steady cycles up to an amplitude, in order."""
        return [self.met[a] for a in sorted(self.met) if a <= most and self.met[a].steady]

    def _hottest(self, ref: str, most: float) -> Worst:
        cycle = max(self._below(most), key=lambda item: item.device(ref).dissipation)
        return Worst(ref, cycle.device(ref).dissipation, cycle.amplitude, cycle.output_power)

    def _crest(self, ref: str, most: float) -> float | None:
        """The amplitude at which the parabola through the hottest drive and its neighbours has its crest."""
        cycles = self._below(most)
        watts = [cycle.device(ref).dissipation for cycle in cycles]
        at = watts.index(max(watts))
        if not 0 < at < len(watts) - 1:
            return None
        (x0, x1, x2), (y0, y1, y2) = [cycle.amplitude for cycle in cycles[at - 1 : at + 2]], watts[at - 1 : at + 2]
        upper = (x1 - x0) ** 2 * (y1 - y2) - (x1 - x2) ** 2 * (y1 - y0)
        lower = (x1 - x0) * (y1 - y2) - (x1 - x2) * (y1 - y0)
        return x1 - 0.5 * upper / lower if lower else None

    def _drives(self) -> tuple[Drive, ...]:
        rows = []
        for amplitude in sorted(self.met):
            cycle = self.met[amplitude]
            if cycle.steady:
                taken = {item.ref: item.dissipation for item in cycle.devices}
                first = cycle.harmonics[0]
                row = (amplitude, first, cycle.output_power, cycle.supply_power, cycle.efficiency, cycle.thd)
                rows.append(Drive(*row, cycle.gain, taken))
        return tuple(rows)
