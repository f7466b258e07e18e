"""The setting-up procedure as plain values for JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from topo.analysis.spread import Range
from topo.reading.setting_up import SettingUp, State, Trimmer
from topo.report.setting_steps import by_moment, cautions_of, steps_of

SCHEMA = Path(__file__).parent / "schema" / "bias.json"


def envelope(found: SettingUp) -> dict[str, Any]:
    """Everything as plain values by the schema, SI units, null for what is not known."""
    circuit = found.reading.circuit
    cautions = by_moment(cautions_of(found))
    steps = steps_of(found) if found.trimmers else []
    moments = {step.moment for step in steps}
    return {
        "circuit": {"title": circuit.title, "file": circuit.file, "parts": len(circuit.parts)},
        "supply": found.supply or None,
        "total_at_minimum": _range(found.least),
        "as_typed": _state(found.typed),
        "trimmers": [_trimmer(trimmer) for trimmer in found.trimmers],
        "output_trimmers": list(found.offsets),
        "steps": [{"moment": step.moment, "words": step.words} for step in steps],
        "cautions": [
            {"moment": moment if moment in moments else "", "words": words}
            for moment, rows in cautions.items()
            for words in rows
        ],
    }


def _trimmer(trimmer: Trimmer) -> dict[str, Any]:
    rows = [(0.0, trimmer.sweep[0]), *trimmer.table]
    return {
        "ref": trimmer.ref,
        "devices": list(trimmer.devices),
        "minimum": None
        if trimmer.minimum is None
        else {"wiper": trimmer.minimum, "towards": trimmer.towards or None, "end": trimmer.end},
        "typed_travel": trimmer.typed,
        "table": [
            {"travel": travel, "total": _range(within), **_state(state)}
            for (travel, state), within in zip(rows, trimmer.ranges, strict=True)
        ],
        "full_travel": _state(trimmer.sweep[-1]),
        "wiper_open": None if trimmer.opened is None else _state(trimmer.opened),
        "wiper_open_is_full_bias": trimmer.may_open_to_full,
        "read_at": [
            {"device": place.device, "resistor": place.resistor, "ohms": place.ohms} for place in trimmer.meters
        ],
        "target": trimmer.target,
        "setting": trimmer.setting,
        "at_target": None if trimmer.reached is None else _state(trimmer.reached),
    }


def _state(state: State) -> dict[str, Any]:
    return {
        "total_amperes": _plain(state.total),
        "amperes": _all(state.currents),
        "watts": _all(state.watts),
        "bias_volts": _all(state.controls),
    }


def _all(values: Mapping[str, float]) -> dict[str, float | None]:
    return {ref: _plain(value) for ref, value in values.items()}


def _range(found: Range) -> dict[str, float | None]:
    return {"low": _plain(found.low), "typical": _plain(found.typical), "high": _plain(found.high)}


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None
