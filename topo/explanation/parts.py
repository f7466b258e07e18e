"""A line for every part of the circuit: what it is, what it is for, and whether it is left out."""

from __future__ import annotations

from collections.abc import Sequence

from topo.explanation.filling import Texts
from topo.explanation.listing import listed
from topo.explanation.statements import PartLine
from topo.netlist.circuit import Part
from topo.netlist.kinds import kind_word
from topo.reading.ports import is_connector, is_drive, is_transducer
from topo.reading.reading import Reading
from topo.reduction.reduction import Entry, Reduction

_LINKS = {
    "fuse": "a fuse, a wire as long as it is whole",
    "switch": "a switch, a wire in the position that is drawn",
    "meter": "a meter in series, a wire for what the circuit does",
    "source": "a source of 0 V, as one measures a current with: a wire",
    "bead": "a bead, a wire over the whole band",
}


def part_lines(reading: Reading, texts: Texts, reductions: Sequence[Reduction]) -> tuple[PartLine, ...]:
    """One line a part, in the order of the file; a part that is not understood says so."""
    roles = _roles(reading, texts)
    links = set(reading.views.graph.links)
    lines = []
    for part in reading.circuit.parts:
        role = roles.get(part.ref, "")
        if not role:
            link = _LINKS.get(part.kind, "next to no resistance: a wire") if part.ref in links else ""
            role = link or _at_an_end(part, reading) or "not recognised"
        lines.append(PartLine(part.ref, described(part), role, _fate(part.ref, reductions)))
    return tuple(lines)


def _at_an_end(part: Part, reading: Reading) -> str:
    """What a connector is, or a part that turns the signal into or out of electricity, by its port; else ""."""
    if is_connector(part):
        return "a connector"
    nets = {terminal.net for terminal in part.terminals}
    kind = kind_word(part.kind)
    if is_drive(part, reading.circuit):
        return "the signal source at the input"
    if is_transducer(part) and nets & {port.net for port in reading.outputs}:
        return f"the {kind} at the output"
    if is_transducer(part) and nets & {port.net for port in reading.inputs}:
        serves = ", which serves as microphone here" if kind == "loudspeaker" else ""
        return f"the {kind} at the input{serves}"
    return ""


def described(part: Part) -> str:
    """A part in short: its kind where the reference letters do not tell it, and its value or type."""
    value = part.value_text or part.type_name or ""
    kind = part.kind if not value or part.kind not in ("resistor", "capacitor") else ""
    return " ".join(word for word in (kind, value) if word)


def _roles(reading: Reading, texts: Texts) -> dict[str, str]:
    """The main role of each part in words: what the first block that gives it one says of it."""
    roles: dict[str, str] = {}
    for block in reading.blocks:
        for refs, words in texts.roles(block):
            for ref in refs:
                roles.setdefault(ref, words)
    for block in reading.blocks:
        for refs, word in texts.role_words(block):
            for ref in refs:
                roles.setdefault(ref, f"{word} of the {block.name}")
    for block in reading.blocks:
        for ref in block.parts:
            roles.setdefault(ref, f"stands in a lead of the {block.name}")
    return roles


def _fate(ref: str, reductions: Sequence[Reduction]) -> str:
    """What becomes of a part at the levels of detail: "kept", "merged into R1", "omitted at `working`"."""
    for reduction in reductions:
        entry = next(entry for entry in reduction.ledger if entry.part == ref)
        if entry.fate != "kept":
            return _words(entry)
    return "kept"


def _words(entry: Entry) -> str:
    if entry.fate == "merged":
        return f"merged into {entry.into}"
    return f"omitted at `{entry.detail}` ({listed([entry.rule])})"
