"""Distortion as the bias is set: the same drive with a trimmer's wiper, or a resistor, at one setting after another."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from topo.analysis.large_signal.driving import drive
from topo.analysis.large_signal.waveforms import Waveforms
from topo.analysis.solving import solve
from topo.graph.normalising import normalise
from topo.netlist.circuit import Circuit


@dataclass(frozen=True, eq=False)
class Setting:
    """A setting: the wiper's position from 0 to 1, or ohms; amperes at rest of each device by designator; crossover
    and total harmonic distortion as in `Waveforms`, which is kept beside; figures are NaN where there is no cycle."""

    at: float
    rest: Mapping[str, float] = field(default_factory=dict)
    crossover: float = math.nan
    thd: float = math.nan
    cycle: Waveforms | None = None


def distortion_by_bias(circuit: Circuit, ref: str, settings: Iterable[float], **options: Any) -> tuple[Setting, ...]:
    """The cycle of one drive at several settings of the part that sets the bias, in the order given.

    Args:
        ref: a potentiometer or trimmer (settings are positions of its wiper, from its first end) or another part
            with a value (settings are its values in SI units).
        options: as of `drive`; the amplitude among them.
    Raises:
        KeyError: no part of that designator.
    """
    part = circuit.part(ref)
    rows = []
    for setting in settings:
        if part.kind == "potentiometer":
            turned = replace(part, settings={**part.settings, "at": setting})
        else:
            turned = replace(part, value=setting)
        changed = replace(circuit, parts=tuple(turned if item is part else item for item in circuit.parts))
        graph = normalise(changed)
        cycle = drive(graph, solve(graph), **options)
        rest = {item.ref: item.rest for item in cycle.devices}
        rows.append(Setting(setting, rest, cycle.crossover, cycle.thd, cycle))
    return tuple(rows)
