"""The ledger in short, as comments of the reduced netlist, so that the file explains itself."""

from __future__ import annotations

import textwrap

from topo.reduction.reduction import Entry, Reduction

_WIDTH = 98


def comments(reduction: Reduction) -> dict[str, str]:
    """Comments for `topo.netlist.write`: under "" what stands above the whole (what the file is, what was left out
    by which rule, and the proof), under a designator what stands beside its part (what is merged in it).
    """
    circuit = reduction.reading.circuit
    said = [f"Reduced from {circuit.file.rpartition('/')[2]}, detail {reduction.detail}: {counts(reduction.ledger)}."]
    said += by_rule(reduction.ledger, "omitted", "Left out")
    said += [
        f"{source.rail} is an ideal source that stands for {', '.join([source.stands, *source.others])}."
        for source in reduction.sources
    ]
    said += reduction.proof
    if reduction.reading.ports_inferred:
        said.append("The input and output lines were not in the original: they were found from the circuit.")
    lines = [line for text in said for line in textwrap.wrap(text, _WIDTH, subsequent_indent="  ")]
    beside: dict[str, list[str]] = {}
    for entry in reduction.ledger:
        if entry.fate == "merged":
            beside.setdefault(entry.into, []).append(entry.part)
    rules = {entry.into: entry.rule for entry in reduction.ledger if entry.fate == "merged"}
    return {"": "\n".join(lines)} | {ref: f"{', '.join([ref, *others])} {rules[ref]}" for ref, others in beside.items()}


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
    return [f"{lead} ({rule}): {', '.join(refs)}." for rule, refs in rules.items()]
