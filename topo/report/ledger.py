"""The ledger as a table of text, and as plain values for JSON by `schema/ledger.json`."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any

from topo.quantities import show
from topo.reduction.classes import NAMES
from topo.reduction.reduction import Entry, Reduction
from topo.reduction.remarks import counts
from topo.report.layout import Page

_WITHOUT = "     "
_NOTHING = "gain, quiescent currents, collector voltages and band edges unchanged"


def ledger_text(reduction: Reduction, page: Page | None = None) -> str:
    """The whole ledger: parts that went first, with their reasons, then those that stay."""
    page = page or Page()
    title = reduction.reading.circuit.title or reduction.reading.circuit.file
    lines = [*page.head(title, f"detail {reduction.detail}"), "", *page.paragraph(counts(reduction.ledger) + ".")]
    for sentence in reduction.proof:
        lines += page.paragraph(sentence)
    for entry in reduction.ledger:
        if entry.fate != "kept":
            lines += ["", *_gone(reduction, entry, page)]
    kept = [
        (entry.part, what(reduction, entry.part), entry.reason) for entry in reduction.ledger if entry.fate == "kept"
    ]
    if kept:
        lines += ["", page.strong("Kept"), *page.table(kept, "  ")]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def what(reduction: Reduction, ref: str) -> str:
    """A part in short: its value or kind, and its nets if it has two."""
    part = reduction.reading.circuit.by_ref[ref]
    nets = [terminal.net for terminal in part.terminals]
    unit = {"resistor": "ohm", "capacitor": "F", "inductor": "H", "choke": "H", "bead": "ohm", "speaker": "ohm"}.get(
        part.kind
    )
    named = part.value_text or part.type_name or part.kind
    if unit is not None and part.value is not None:
        named = show(part.value, unit)
    return f"{named}, {nets[0]} to {nets[1]}" if len(nets) == 2 else named


def _gone(reduction: Reduction, entry: Entry, page: Page) -> list[str]:
    fate = f"merged into {entry.into}" if entry.fate == "merged" else f"omitted at `{entry.detail}`"
    becomes = " (a wire in its place)" if entry.becomes == "wire" else ""
    lines = page.table([(entry.part, what(reduction, entry.part), fate, entry.rule + becomes)])
    lines += page.paragraph(entry.reason, _WITHOUT, _WITHOUT)
    for sentence in without(entry):
        lines += page.paragraph(sentence, _WITHOUT, _WITHOUT)
    return lines


def without(entry: Entry) -> list[str]:
    """What leaving a part out changes, as sentences; nothing where it was not asked for."""
    if entry.fate == "merged" and entry.words in (_NOTHING, "") and not entry.missing:
        return ["Exact: nothing changes."] if entry.words else []
    said = []
    if entry.words == _NOTHING:
        said.append(
            "Gain, quiescent currents, collector voltages and band edges change by less than the last printed digit "
            "without it."
        )
    elif entry.words:
        others = [ref for ref in entry.together if ref != entry.part]
        along = f"Together with {', '.join(others)}" if others else "Merged"
        said.append(f"{along if entry.fate == 'merged' else 'Without it'}: {entry.words}.")
    if entry.joint and entry.joint != entry.words:
        others = [ref for ref in entry.together if ref != entry.part]
        said.append(f"Together with {', '.join(others)}: {entry.joint}.")
    if entry.missing:
        said.append(f"Not proved: {entry.missing}.")
    return said


def change_words(entry: Entry) -> str:
    """What leaving a part out changes, in words: "gain +0.1 dB, quiescent currents unchanged"."""
    return entry.words


def ledger_values(reduction: Reduction, netlist: str) -> dict[str, Any]:
    """What `topo reduce --json` prints: see `schema/ledger.json`."""
    circuit = reduction.reading.circuit
    return {
        "circuit": {"title": circuit.title, "file": circuit.file.rpartition("/")[2], "parts": len(circuit.parts)},
        "detail": reduction.detail,
        **{fate: len(reduction.fates(fate)) for fate in ("kept", "merged", "omitted")},
        "proof": list(reduction.proof),
        "missing": reduction.missing,
        "totals": dict(reduction.totals),
        "devices": {ref: dict(row) for ref, row in reduction.devices.items()},
        "sources": [
            {
                "rail": item.rail,
                "net": item.net,
                "volts": item.volts,
                "ohms": item.ohms,
                "parts": [item.stands, *item.others],
            }
            for item in reduction.sources
        ],
        "ledger": [_values(entry) for entry in reduction.ledger],
        "netlist": netlist,
    }


def _values(entry: Entry) -> dict[str, Any]:
    return {
        "part": entry.part,
        "fate": entry.fate,
        "rule": entry.rule,
        "class": {"number": entry.number, "name": NAMES[entry.number]} if entry.number else None,
        "reason": entry.reason,
        "detail": entry.detail,
        "into": entry.into,
        "becomes": entry.becomes,
        "together": list(entry.together),
        "test": dict(entry.test),
        "changes": dict(entry.changes),
        "devices": {ref: dict(row) for ref, row in entry.devices.items()},
        "beyond": list(entry.beyond),
        "words": entry.words,
        "missing": entry.missing,
    }


@cache
def ledger_schema() -> dict[str, Any]:
    """The JSON schema of `ledger_values`."""
    text = resources.files("topo.report").joinpath("schema/ledger.json").read_text(encoding="utf-8")
    return dict(json.loads(text))
