"""A steady cycle: volts and currents over time, and what each device does in it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from topo.analysis.devices.group import Array
from topo.graph.graph import Graph


@dataclass(frozen=True)
class Conduction:
    """A device over one cycle.

    `ref` is its designator (of merged ones the first), `angle` the degrees of a cycle for which it conducts, `letter`
    the class that follows ("A", "AB", "B", "C"; "" for diodes and what is no single amplifying device), `rest`
    amperes with no drive, `peak` the largest and `mean` the average amperes of collector, drain or anode, and
    `dissipation` the mean watts of all its terminals.
    """

    ref: str
    kind: str
    angle: float
    letter: str
    rest: float
    peak: float
    mean: float
    dissipation: float


@dataclass(frozen=True, eq=False)
class Waveforms:
    """The steady cycle of a driven circuit; always comes back.

    `status` is "steady", or "not steady" (`missing` says why, and the last cycle is given), "not solved" or "no
    ports" (no cycle: arrays are empty and figures NaN). `method` is "time stepping" or "quasi-static", `reason`
    why it was taken.

    `time` (n,) are seconds, the generator crossing 0 V upwards at 0; `node_volts` (n, nodes) volts of each node;
    `currents` amperes into each terminal of each device (n, t) by element index; `output` and `input` (n,)
    the volts at the ports. `harmonics` are the amplitudes at the output in volts, from the fundamental on. `gain` is
    the fundamental at the output over the generator's amplitude; `thd` the root of the sum of squares of all
    further harmonics over the fundamental. `crossover` is the share by which the output's slope at the
    crossings of its fundamental falls short of the fundamental's (0: none, 1: it stands still there).
    Powers are means over the cycle in watts; `output_power` is that of what varies in the load, `losses` those of
    every part by element index, `balance` what supplies and generator give less what all parts take, a check.
    `supply_currents` are mean amperes by supply, as at rest. `growth` is the factor by which the worst small
    disturbance grows in a cycle, NaN where that was not looked at (quasi-static). `cycles` counts what it took: cycles
    stepped, or Newton steps of whole cycles.
    """

    graph: Graph
    status: str
    missing: tuple[str, ...] = ()
    method: str = ""
    reason: str = ""
    frequency: float = math.nan
    amplitude: float = math.nan
    time: Array = field(default_factory=lambda: np.zeros(0))
    node_volts: Array = field(default_factory=lambda: np.zeros((0, 0)))
    currents: Mapping[int, Array] = field(default_factory=dict)
    output: Array = field(default_factory=lambda: np.zeros(0))
    input: Array = field(default_factory=lambda: np.zeros(0))
    devices: tuple[Conduction, ...] = ()
    harmonics: tuple[float, ...] = ()
    gain: float = math.nan
    thd: float = math.nan
    crossover: float = math.nan
    load_ohms: float = math.nan
    output_power: float = math.nan
    supply_power: float = math.nan
    input_power: float = math.nan
    efficiency: float = math.nan
    supply_currents: Mapping[str, float] = field(default_factory=dict)
    losses: Mapping[int, float] = field(default_factory=dict)
    balance: float = math.nan
    cycles: int = 0
    newton_steps: int = 0
    growth: float = math.nan

    @property
    def steady(self) -> bool:
        """Whether the cycle repeats itself."""
        return self.status == "steady"

    def volts(self, net: str, reference: str | None = None) -> Array:
        """Volts of a net over the cycle (n,), by any of its names, to ground or another net; KeyError if unknown."""
        circuit = self.graph.circuit
        row = self.node_volts[:, self.graph.node_of[circuit.aliases.get(net.casefold(), net)]]
        return row if reference is None else row - self.volts(reference)

    def current(self, ref: str, terminal: str | None = None) -> Array:
        """Amperes into a device's terminal (n,): collector, drain or anode if none is named; KeyError if unknown."""
        element = self.graph.elements[self.graph.element_of[ref]]
        name = terminal or next((t for t in ("c", "d", "a") if t in element.terminals), element.terminals[0])
        return self.currents[element.index][:, element.terminals.index(name)]

    def device(self, ref: str) -> Conduction:
        """What a device does in the cycle; KeyError if there is no such device."""
        for item in self.devices:
            if item.ref == ref:
                return item
        raise KeyError(ref)
