"""The ledger as a table of text: what became of every part, by which rule, and what that changes."""

from __future__ import annotations

from topo.reduction.proof import signed
from topo.reduction.reduction import Entry, Reduction
from topo.reduction.remarks import counts
from topo.report.layout import Page

_UNIT = {"gain dB": "dB", "current %": "%", "volts": "V"}
_NAME = {"gain dB": "gain", "current %": "quiescent currents", "volts": "collector voltages"}


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
    named = part.value_text or part.type_name or part.kind
    nets = [terminal.net for terminal in part.terminals]
    return f"{named}, {nets[0]} to {nets[1]}" if len(nets) == 2 else named


def change_words(entry: Entry) -> str:
    """What leaving a part out changes, in words: "gain +0.1 dB, quiescent currents unchanged"."""
    said = []
    for key, name in _NAME.items():
        if key in entry.changes:
            said.append(f"{name} {signed(entry.changes[key], _UNIT[key])}")
    return ", ".join(said)


def _gone(reduction: Reduction, entry: Entry, page: Page) -> list[str]:
    fate = f"merged into {entry.into}" if entry.fate == "merged" else f"omitted at `{entry.detail}`"
    becomes = " (a wire in its place)" if entry.becomes == "wire" else ""
    lines = page.table([(entry.part, what(reduction, entry.part), f"{fate}: {entry.rule}{becomes}")])
    lines += page.paragraph(entry.reason, "     ", "     ")
    words = change_words(entry)
    if entry.together and not words:
        words = "what changes could not be computed"
    if words:
        others = [ref for ref in entry.together if ref != entry.part]
        along = f" (together with {', '.join(others)})" if others else ""
        lines += page.paragraph(f"Without it{along}: {words}.", "     ", "     ")
    return lines
