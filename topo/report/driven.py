"""The circuit under drive as plain values for JSON."""

from __future__ import annotations

from typing import Any

from topo.analysis.large_signal import Waveforms
from topo.reading.driven import BiasTable, Driven


def driven_values(driven: Driven) -> dict[str, Any]:
    """The values under the key `signal`."""
    limit, full = driven.limit, driven.cycles.get(1.0)
    return {
        "status": driven.status,
        "missing": list(driven.missing),
        "frequency_Hz": driven.frequency,
        "generator_ohm": driven.generator,
        "load_ohm": full.load_ohms if full is not None else None,
        "load_assumed": driven.load is not None,
        "criterion": limit.criterion,
        "cycles": [_cycle(share, driven.cycles[share]) for share in sorted(driven.cycles)],
        "stages": [
            {
                "parts": list(stage.devices),
                "class": stage.letter,
                "conduction_deg": stage.angle,
                "conduction_at_half_power_deg": stage.half_angle,
                "idle_A": stage.idle,
                "peak_A": stage.peak,
            }
            for stage in driven.stages
        ],
        "heat": [{"part": item.ref, "most_W": item.watts, "at_output_W": item.output_power} for item in limit.worst],
        "bias": [_table(table) for table in driven.tables],
    }


def _cycle(share: float, cycle: Waveforms) -> dict[str, Any]:
    first = cycle.harmonics[0]
    return {
        "share_of_power": share,
        "generator_V": cycle.amplitude,
        "output_V": first,
        "output_W": cycle.output_power,
        "supplies_W": cycle.supply_power,
        "efficiency": cycle.efficiency,
        "distortion": cycle.thd,
        "crossover": cycle.crossover,
        "harmonics": [value / first for value in cycle.harmonics[1:5]] if first > 0 else [],
        "method": cycle.method,
    }


def _table(table: BiasTable) -> dict[str, Any]:
    return {
        "trimmer": table.trimmer,
        "parts": list(table.devices),
        "generator_V": table.amplitude,
        "settings": [
            {
                "wiper": item.at,
                "idle_A": {ref: item.rest[ref] for ref in table.devices if ref in item.rest},
                "distortion": item.thd,
                "crossover": item.crossover,
            }
            for item in table.settings
        ],
    }
