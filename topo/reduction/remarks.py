"""The ledger in short, as comments of the reduced netlist, so that the file explains itself."""

from __future__ import annotations

from topo.reduction.reduction import Entry, Reduction


def comments(reduction: Reduction) -> tuple[str, ...]:
    """Lines without the comment sign: what the file is, what was left out and merged by which rule, and the proof."""
    circuit = reduction.reading.circuit
    lines = [
        f"Reduced from {circuit.file.rpartition('/')[2]}, detail `{reduction.detail}`: {counts(reduction.ledger)}."
    ]
    lines += by_rule(reduction.ledger, "omitted", "Left out")
    for entry in reduction.ledger:
        if entry.fate == "merged":
            lines.append(f"{entry.part} is merged into {entry.into}: {entry.reason}")
    lines += reduction.proof
    return tuple(lines)


def counts(ledger: tuple[Entry, ...]) -> str:
    """How many parts met which fate: "15 parts, 12 kept, 1 merged, 2 omitted"."""
    fates = [entry.fate for entry in ledger]
    said = [f"{fates.count(fate)} {fate}" for fate in ("kept", "merged", "omitted") if fates.count(fate)]
    return ", ".join([f"{len(ledger)} part{'s' if len(ledger) != 1 else ''}", *said])


def by_rule(ledger: tuple[Entry, ...], fate: str, lead: str) -> list[str]:
    """A line for each rule: "Left out (stopper): R12, R13"."""
    rules: dict[str, list[str]] = {}
    for entry in ledger:
        if entry.fate == fate:
            rules.setdefault(entry.rule, []).append(entry.part)
    return [f"{lead} ({rule}): {', '.join(refs)}" for rule, refs in rules.items()]
