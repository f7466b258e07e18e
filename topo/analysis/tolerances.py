"""What may differ from the drawing: the tolerance of each value, and a fixed table of draws of all of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from topo.analysis.parameters import BIPOLAR, DIODES, JFETS, MOSFETS, VALVES
from topo.analysis.physics import thermal_voltage
from topo.netlist.circuit import Circuit, Part

Array = NDArray[np.float64]

SEED = 1
"""Of the permutations: the same circuit file gives the same ranges each time."""

SUPPLY_KEY = "supply"
"""Under this name all rails are drawn together: one mains or one charger stands behind them."""


@dataclass(frozen=True)
class Tolerances:
    """How far values may lie from those drawn; shares of the value where no unit is said (all common practice).

    A part's own rating (`5%`) comes before `resistor` and `potentiometer`. `gain` is the factor up and down of hFE
    and IDSS, spread evenly on a logarithmic scale; `junction` the volts up and down of VBE and of a diode at one
    current and temperature, from one specimen to the next; `threshold` the share of a MOSFET's VTH; `law` that
    of a MOSFET's K and of a valve's current; a JFET's VP follows its IDSS by the square law.
    """

    supply: float = 0.10
    resistor: float = 0.05
    potentiometer: float = 0.20
    zener: float = 0.05
    regulator: float = 0.04
    gain: float = 2.0
    junction: float = 0.03
    threshold: float = 0.10
    law: float = 0.20

    def words(self) -> str:
        """The tolerances in one line, for a reader of the ranges."""
        return (
            f"supply ±{100 * self.supply:.0f} %, resistors ±{100 * self.resistor:.0f} % or as typed, "
            f"trimmers ±{100 * self.potentiometer:.0f} %, "
            f"hFE {1 / self.gain:g} to {self.gain:g} times, VBE ±{self.junction * 1e3:.0f} mV"
        )


@dataclass(frozen=True)
class Draws:
    """Samples of everything that may differ: each table holds (S,) figures by designator.

    `factors` multiply resistances, batteries, zener and regulator voltages (and SUPPLY_KEY all rails); `gains`
    multiply hFE, IDSS, K, or a valve's current; `saturations` multiply IS; `thresholds` are shares of VTH added to it;
    `moves` are added to a wiper's place.
    """

    count: int
    factors: Mapping[str, Array] = field(default_factory=dict)
    gains: Mapping[str, Array] = field(default_factory=dict)
    saturations: Mapping[str, Array] = field(default_factory=dict)
    thresholds: Mapping[str, Array] = field(default_factory=dict)
    moves: Mapping[str, Array] = field(default_factory=dict)


def draw(circuit: Circuit, tolerances: Tolerances, count: int) -> Draws:
    """A Latin hypercube of `count` samples: of each quantity every one of `count` equal shares of its range once.

    Quantities are drawn in the order of the file, from a fixed seed, so that names make no difference.
    Source: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239-245 (from memory).
    """
    hypercube = _Hypercube(count)
    factors = {SUPPLY_KEY: 1.0 + tolerances.supply * hypercube.column()}
    gains: dict[str, Array] = {}
    saturations: dict[str, Array] = {}
    thresholds: dict[str, Array] = {}
    thermal = thermal_voltage(circuit.temperature)
    for part in circuit.parts:
        share = share_of(part, tolerances)
        if share is not None:
            factors[part.ref] = 1.0 + share * hypercube.column()
        if part.kind in (*BIPOLAR, *JFETS):
            gains[part.ref] = np.exp(math.log(tolerances.gain) * hypercube.column())
        elif part.kind in (*MOSFETS, *VALVES):
            gains[part.ref] = 1.0 + tolerances.law * hypercube.column()
        if part.kind in (*BIPOLAR, *DIODES):
            ideality = float(part.params.get("N", 1.0))
            saturations[part.ref] = np.exp(tolerances.junction * hypercube.column() / (ideality * thermal))
        if part.kind in MOSFETS:
            thresholds[part.ref] = tolerances.threshold * hypercube.column()
    return Draws(count, factors, gains, saturations, thresholds)


def draw_assumed(circuit: Circuit, assumed: Mapping[str, str], count: int) -> Draws:
    """Samples in which only what was assumed differs: devices widely, loads and wipers by a quarter."""
    wide = draw(circuit, Tolerances(), count)
    hypercube = _Hypercube(count)
    devices = {
        name: {ref: row for ref, row in getattr(wide, name).items() if ref in assumed}
        for name in ("gains", "saturations", "thresholds")
    }
    factors, moves = {}, {}
    for part in circuit.parts:
        if part.ref not in assumed or part.kind in (*BIPOLAR, *DIODES, *JFETS, *MOSFETS, *VALVES):
            continue
        column = 0.25 * hypercube.column()
        if part.kind == "potentiometer":
            moves[part.ref] = column
        else:
            factors[part.ref] = 1.0 + column
    return Draws(count, factors, devices["gains"], devices["saturations"], devices["thresholds"], moves)


def share_of(part: Part, tolerances: Tolerances) -> float | None:
    """The share by which a part's main value may differ; None where it makes no difference at direct current."""
    typed = part.ratings.get("%")
    usual = {
        "resistor": tolerances.resistor,
        "relay": tolerances.potentiometer,
        "thermistor": tolerances.potentiometer,
        "lamp": tolerances.potentiometer,
        "potentiometer": tolerances.potentiometer,
        "zener": tolerances.zener,
        "regulator": tolerances.regulator,
        "battery": tolerances.supply,
    }.get(part.kind)
    return usual if usual is None or typed is None else typed / 100.0


class _Hypercube:
    """Columns of a Latin hypercube in -1 to 1, each sample in the middle of its share."""

    def __init__(self, count: int):
        self._middles = (2.0 * np.arange(count) + 1.0) / count - 1.0
        self._order = np.random.Generator(np.random.PCG64(SEED))

    def column(self) -> Array:
        return self._order.permutation(self._middles)
