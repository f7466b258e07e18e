"""The explanation as a Markdown page (CommonMark with tables)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from topo.explanation.listing import minus
from topo.explanation.statements import BlockText, Explanation
from topo.graph.graph import Element
from topo.quantities import show
from topo.reading.reading import NearMiss, Reading
from topo.report.envelope import combined_ledger
from topo.report.ledger import change_words

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&])")
_OWN_CODE = re.compile(r"\\`(whole|working|principle)\\`")


def markdown(explanation: Explanation) -> str:
    """The whole page; the block map is expected beside it as `blocks.svg`."""
    reading = explanation.reading
    lines = [f"# {quoted(explanation.title)}", "", f"{explanation.counts}, by `{reading.circuit.file}`.", ""]
    lines += [*(quoted(sentence) for sentence in explanation.summary), ""]
    if explanation.path:
        lines += [f"**Signal:** {quoted(explanation.path)}", ""]
    lines += ["![Block map](blocks.svg)", "", "## Stage by stage", ""]
    for number, block in enumerate(explanation.blocks, 1):
        lines += _block(block, number)
    if explanation.signal is not None:
        lines += [f"## {quoted(explanation.signal.title)}", ""]
        lines += [f"- {quoted(statement.text)}" for statement in explanation.signal.statements]
        for table in explanation.signal.tables:
            lines += ["", quoted(table.caption), "", *_table(table.head, table.rows)]
        lines.append("")
    lines += ["## Every part", "", *_table(("part", "what", "role", "in the reduced circuit"), _parts(explanation)), ""]
    lines += ["## At rest", "", *_operating_point(reading)]
    lines += ["## Left out", "", *_left_out(explanation)]
    lines += _accounts(explanation)
    return "\n".join(lines).rstrip() + "\n"


def quoted(text: str) -> str:
    """Text in which no sign that a user typed has a meaning in Markdown; levels of detail stay marked as code."""
    return _OWN_CODE.sub(r"`\1`", _SPECIAL.sub(r"\\\1", text))


def _block(block: BlockText, number: int) -> list[str]:
    lines = [f"### {number} {quoted(block.title)}", "", quoted(" ".join(block.parts)), ""]
    said = " ".join(statement.text for statement in block.statements)
    lines += [quoted(said), ""] if said else []
    lines += [f"- **{quoted(', '.join(refs))}** {quoted(words)}" for refs, words in block.roles]
    for companion in block.companions:
        told = " ".join(statement.text for statement in companion.statements)
        lines.append(
            f"- **{quoted(', '.join(companion.parts))}** {quoted(companion.title.lower())}. {quoted(told)}".rstrip()
        )
    lines += [""] if block.roles or block.companions else []
    if block.checks:
        lines += [f"*Check:* {quoted(' '.join(block.checks))}", ""]
    return lines


def _parts(explanation: Explanation) -> list[tuple[str, ...]]:
    return [(line.ref, line.what, line.role, line.fate) for line in explanation.parts]


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(head) + " |", "| " + " | ".join("---" for _ in head) + " |"]
    return lines + ["| " + " | ".join(quoted(cell) for cell in row) + " |" for row in rows]


def _operating_point(reading: Reading) -> list[str]:
    """Volts of every net and the current of every device."""
    point = reading.views.point
    lines = [f"Operating point: {point.status}. Volts to ground, no signal.", ""]
    lines += _table(("net", "volts"), [(net, _volts(point.voltage(net))) for net in reading.circuit.nets])
    devices = [
        (
            element.name,
            point.states.get(element.index, "not known"),
            show(abs(point.current(element.members[0])), "A", 2),
            ", ".join(f"{name} {_volts(point.volts[node])}" for name, node in _electrodes(element)),
        )
        for element in point.graph.elements
        if len(element.nodes) > 2 and element.index in point.states
    ]
    if devices:
        lines += ["", *_table(("device", "state", "quiescent current", "volts of its terminals"), devices)]
    return [*lines, ""]


def _electrodes(element: Element) -> list[tuple[str, int]]:
    """Terminals of a device with their nodes."""
    return list(zip(element.terminals, element.nodes, strict=True))


def _volts(volts: float) -> str:
    """A voltage to ground; the solver's rounding is taken for none."""
    return minus(show(0.0 if abs(volts) < 1e-7 else volts, "V"))


def _left_out(explanation: Explanation) -> list[str]:
    """The ledger of what goes, at any level of detail, and the proof."""
    rows = []
    for entry in combined_ledger(explanation.reductions):
        if entry.fate != "kept":
            fate = f"merged into {entry.into}" if entry.fate == "merged" else f"omitted at {entry.detail}"
            change = change_words(entry)
            rows.append((entry.part, fate, entry.rule, f"{entry.reason} {change}".strip()))
    lines = _table(("part", "fate", "rule", "why"), rows) if rows else ["Nothing."]
    return [*lines, "", *(quoted(sentence) for sentence in explanation.proof), ""]


def _accounts(explanation: Explanation) -> list[str]:
    lines = ["## Not recognised", "", quoted(", ".join(explanation.not_recognised) or "Nothing."), ""]
    if explanation.near_misses:
        lines += ["## Nearly", ""]
        for miss in explanation.near_misses:
            lines += _near_miss(miss)
    for head, said in (
        ("Assumed", explanation.assumptions),
        ("Notes", explanation.warnings),
        ("With care", explanation.cautions),
    ):
        if said:
            lines += [f"## {head}", "", *(f"- {quoted(sentence)}" for sentence in said), ""]
    return lines


def _near_miss(miss: NearMiss) -> list[str]:
    lines = [f"- {quoted(miss.name)} ({quoted(', '.join(miss.parts))}): {quoted(miss.message)}"]
    if miss.source:
        hint = f" {miss.suggestion}" if miss.suggestion else ""
        lines += ["", f"      line {miss.line}:  {miss.source}", f"      {hint}".rstrip(), ""]
    return lines
