"""The explanation as plain values for JSON, by the schema in `schema/explanation.json`."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from topo.errors import Problem, json_text
from topo.explanation.statements import BlockText, Explanation
from topo.netlist.circuit import Port
from topo.reading.reading import Block, NearMiss, Reading, Step
from topo.reduction.reduction import Entry, Reduction

SCHEMA = Path(__file__).parent / "schema" / "explanation.json"
_DEVICES = frozenset(
    {"npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode"}
    | {"diode", "zener", "led", "rectifier"}
)


def as_json(value: object) -> str:
    """JSON text with a line feed at its end; what is not a number comes out as null, never as NaN."""
    return json_text(_clean(value)) + "\n"


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that `envelope` keeps to."""
    return json.loads(SCHEMA.read_text(encoding="utf-8"))


def envelope(explanation: Explanation) -> dict[str, Any]:
    """Everything that `topo explain` says, as plain values in a fixed order of keys."""
    reading = explanation.reading
    signal = None
    if explanation.driven is not None:
        from topo.report.driven import driven_values

        signal = driven_values(explanation.driven)
    circuit = reading.circuit
    return {
        "circuit": {
            "title": circuit.title,
            "parts": len(circuit.parts),
            "nets": len(circuit.nets),
            "file": circuit.file,
            "supplies": [{"net": supply.net, "volts": supply.volts} for supply in circuit.supplies],
            "inputs": [_port(port) for port in reading.inputs],
            "outputs": [_port(port) for port in reading.outputs],
            "ports_inferred": reading.ports_inferred,
            "band_Hz": list(circuit.band) if circuit.band else None,
            "band_assumed": circuit.band_assumed,
        },
        "summary": reading.summary,
        "blocks": [_block(block) for block in reading.blocks],
        "path": [_step(step) for step in reading.path],
        "class": [
            {
                "parts": list(item.devices),
                "class": item.letter,
                "basis": item.basis,
                "idle_A": item.idle,
                "full_swing_A": item.swing,
                "near_limit": item.near_limit,
            }
            for item in reading.classes
        ],
        "operating_point": _operating_point(reading),
        "signal": signal,
        "bias_trimmers": {trimmer: list(devices) for trimmer, devices in reading.bias_trimmers.items()},
        "ledger": [_entry(entry) for entry in combined_ledger(explanation.reductions)],
        "reductions": [_reduction(reduction) for reduction in explanation.reductions],
        "not_recognised": list(reading.not_recognised),
        "near_misses": [_near_miss(miss) for miss in reading.near_misses],
        "assumptions": list(reading.assumptions),
        "warnings": [problem(item) for item in reading.warnings],
        "cautions": list(explanation.cautions),
        "explanation": {
            "voice": explanation.voice,
            "sentences": list(explanation.summary),
            "blocks": [_block_text(block) for block in explanation.blocks],
            "parts": [
                {"part": line.ref, "what": line.what, "role": line.role, "fate": line.fate}
                for line in explanation.parts
            ],
        },
    }


def combined_ledger(reductions: tuple[Reduction, ...]) -> tuple[Entry, ...]:
    """One entry a part: the first level of detail at which it goes, or that it stays throughout."""
    combined: dict[str, Entry] = {}
    for reduction in reductions:
        for entry in reduction.ledger:
            if entry.part not in combined or combined[entry.part].fate == "kept" != entry.fate:
                combined[entry.part] = entry
    return tuple(combined.values())


def problem(item: Problem) -> dict[str, Any]:
    """A problem of an input as plain values."""
    return {
        "message": item.message,
        "severity": item.severity,
        "code": item.code,
        "file": item.place.file,
        "line": item.place.line,
        "column": item.place.column,
        "expected": item.expected,
        "mend": item.mend,
    }


def _port(port: Port) -> dict[str, str]:
    return {"net": port.net, "reference": port.reference}


def _block(block: Block) -> dict[str, Any]:
    return {
        "number": block.number,
        "pattern": block.pattern,
        "name": block.name,
        "sort": block.sort,
        "roles": {role: list(refs) for role, refs in block.roles.items()},
        "parts": list(block.parts),
        "devices": list(block.devices),
        "serves": list(block.serves),
        "figures": [
            {"name": figure.name, "value": figure.value, "unit": figure.unit, "status": figure.status}
            for figure in block.figures
        ],
        "evidence": [{"view": item.view, "join": item.join, "through": list(item.through)} for item in block.evidence],
        "undecided": list(block.undecided),
        "near_miss": False,
    }


def _step(step: Step) -> Any:
    """A designator, or for a pair the list of its two sides; a side of several parts is a list itself."""
    sides = [side[0] if len(side) == 1 else list(side) for side in step.sides]
    return sides[0] if len(sides) == 1 else sides


def _operating_point(reading: Reading) -> dict[str, Any]:
    point = reading.views.point
    currents = {}
    for part in reading.circuit.parts:
        if part.kind in _DEVICES and part.ref in point.graph.element_of:
            currents[part.ref] = abs(point.current(part.ref))
    return {
        "status": point.status,
        "nets": {net: point.voltage(net) for net in reading.circuit.nets},
        "currents": currents,
        "supply_currents": dict(point.supply_currents),
        "missing": list(point.missing),
    }


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "part": entry.part,
        "fate": entry.fate,
        "rule": entry.rule,
        "reason": entry.reason,
        "detail": entry.detail,
        "into": entry.into,
        "becomes": entry.becomes,
        "changes": dict(entry.changes),
    }


def _reduction(reduction: Reduction) -> dict[str, Any]:
    return {
        "detail": reduction.detail,
        "kept": len(reduction.fates("kept")),
        "merged": len(reduction.fates("merged")),
        "omitted": len(reduction.fates("omitted")),
        "proof": list(reduction.proof),
        "totals": dict(reduction.totals),
    }


def _near_miss(miss: NearMiss) -> dict[str, Any]:
    return {
        "pattern": miss.pattern,
        "name": miss.name,
        "parts": list(miss.parts),
        "message": miss.message,
        "part": miss.ref,
        "line": miss.line,
        "source": miss.source,
        "suggestion": miss.suggestion,
    }


def _block_text(text: BlockText) -> dict[str, Any]:
    return {
        "number": text.block.number if text.block is not None else None,
        "title": text.title,
        "parts": list(text.parts),
        "statements": [
            {"text": item.text, "parts": list(item.parts), "assumed": item.assumed} for item in text.statements
        ],
        "roles": [{"parts": list(refs), "role": words} for refs, words in text.roles],
        "checks": list(text.checks),
        "with_it": [_block_text(companion) for companion in text.companions],
    }


def _clean(value: Any) -> Any:
    """Plain JSON values: numbers rounded to what a double really knows, and null for what is not a number."""
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, float) or hasattr(value, "__float__"):
        number = float(value)
        return float(f"{number:.9g}") if math.isfinite(number) else None
    if isinstance(value, dict):
        return {str(key): _clean(item) for key, item in value.items()}
    return [_clean(item) for item in value]
