"""Explains a reading: one statement after another, in signal order, each with the parts that it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from topo.errors import Problem, UsageError
from topo.explanation.filling import Texts
from topo.explanation.grouping import HEADED, Group, grouped, is_composite
from topo.explanation.listing import capital, listed, minus, named, plural, sentence
from topo.explanation.parts import part_lines
from topo.explanation.sections import section_texts
from topo.explanation.statements import VOICES, BlockText, Explanation, PartLine, Statement
from topo.explanation.titles import title_of
from topo.quantities import show
from topo.reading.ports import is_drive
from topo.reading.reading import Block, Reading, StageClass
from topo.reading.sections import band_words
from topo.reduction.reduction import Reduction

DETAILS = ("working", "principle")
TRANSDUCERS = frozenset({"speaker", "headphones", "microphone", "antenna"})
_SUPPLY_TITLE = "Supply, its filters and its protection"


def explain(
    reading: Reading,
    reductions: Sequence[Reduction] | None = None,
    voice: str = "technician",
    *,
    library=None,
    signal: bool = False,
) -> Explanation:
    """The explanation of a reading in one voice.

    Args:
        reading: what `topo.read` gave.
        reductions: levels of detail to tell of; `working` and `principle` are made where none is given.
        voice: "student" (why it is so) or "technician" (what to expect and to check).
        library: the patterns that the reading was made with, where they are not the tool's own.
        signal: whether to drive the circuit and tell of that; it takes a second or two for a large one.
    Raises:
        UsageError: no such voice.
    """
    if voice not in VOICES:
        raise UsageError(f"There is no voice {voice!r}.", VOICES)
    if library is None:
        from topo.matching.shelf import library as standard_library

        library = standard_library()
    if reductions is None:
        from topo.reduction import reductions as reduced

        reductions = reduced(reading, DETAILS, library=library)
    texts = Texts(library, reading, voice)
    groups = grouped(reading)
    told: set[tuple[str, str]] = set()
    parts = part_lines(reading, texts, reductions)
    blocks = [_block_text(group, reading, texts, told) for group in groups]
    blocks += _unsaid(blocks, parts, reading)
    driven = said = None
    if signal:
        from topo.explanation.driven import signal_text
        from topo.reading.driven import drive

        driven = drive(reading)
        said = signal_text(driven, reading)
    return Explanation(
        reading=reading,
        reductions=tuple(reductions),
        voice=voice,
        title=reading.circuit.title or reading.circuit.file.rpartition("/")[2],
        summary=_summary(reading, texts),
        blocks=tuple(blocks),
        omitted=tuple(_omitted(reductions)),
        not_recognised=reading.not_recognised,
        assumptions=tuple(sentence(text) for text in reading.assumptions),
        cautions=_cautions(reading, texts),
        counts=_counts(reading),
        path=path_line(reading),
        proof=_proof(reductions),
        parts=parts,
        near_misses=reading.near_misses,
        warnings=tuple(_warning(problem) for problem in reading.warnings),
        driven=driven,
        signal=said,
        sections=section_texts(reading, blocks),
    )


def _unsaid(blocks: Sequence[BlockText], parts: Sequence[PartLine], reading: Reading) -> list[BlockText]:
    """A last paragraph for parts that stand under no heading: links, and what only a composite speaks of."""
    said = {ref for block in blocks for ref in block.parts} | set(reading.not_recognised)
    rest = [line for line in parts if line.ref not in said]
    if not rest:
        return []
    statements = tuple(Statement(f"{line.ref}: {line.role}.", (line.ref,)) for line in rest)
    return [BlockText(None, "Further parts", statements, parts=tuple(line.ref for line in rest))]


def path_line(reading: Reading) -> str:
    """The signal path in one line, from the net where it begins: "mic → C1 → Q1 → T1 → Q2 | Q3 → T2 → LS1"."""
    if not reading.path:
        return ""
    steps = [" | ".join("+".join(side) for side in step.sides) for step in reading.path]
    first, last = reading.path[0].refs, reading.path[-1].refs
    if reading.inputs and not _is_transducer(reading, first):
        steps.insert(0, reading.inputs[0].net)
    if reading.outputs and not _is_transducer(reading, last) and _touches(reading, last, reading.outputs[0].net):
        steps.append(reading.outputs[0].net)
    return " → ".join(steps)


def _is_transducer(reading: Reading, refs: Iterable[str]) -> bool:
    parts = [reading.circuit.part(ref) for ref in refs]
    return any(part.kind in TRANSDUCERS or is_drive(part, reading.circuit) for part in parts)


def _touches(reading: Reading, refs: Iterable[str], net: str) -> bool:
    return any(terminal.net == net for ref in refs for terminal in reading.circuit.part(ref).terminals)


def _summary(reading: Reading, texts: Texts) -> tuple[str, ...]:
    """What the circuit is, what the pattern of the whole says of it, and what it draws."""
    wholes = [block for block in reading.blocks if block.sort == "whole" and is_composite(block)]
    told = [block for block in wholes if block.name.lower() in reading.summary.lower()] or wholes
    largest = max(told, key=lambda block: len(block.parts), default=None)
    said = [statement.text for statement in texts.statements(largest)] if largest is not None else []
    said += [words] if (words := band_words(reading.sections)) else []
    if any(texts.is_restless(block) for block in reading.blocks):
        return tuple(text for text in (reading.summary, " ".join(said).strip()) if text)
    return tuple(text for text in (reading.summary, " ".join([*said, _supply_sentence(reading)]).strip()) if text)


def _warning(problem: Problem) -> str:
    """A warning in a sentence, with the line that it is about."""
    where = f" (line {problem.place.line})" if problem.place.line else ""
    return sentence(problem.message.rstrip(".") + where)


def _cautions(reading: Reading, texts: Texts) -> tuple[str, ...]:
    """Cautions of the blocks in their order, then the general ones."""
    special = [text for block in reading.blocks for text in texts.cautions(block)]
    return tuple(dict.fromkeys([*special, *(text for text in reading.cautions if "{" not in text)]))


def _counts(reading: Reading) -> str:
    """How large the circuit is: "15 parts, 14 nets, 9 V"."""
    circuit = reading.circuit
    volts = dict.fromkeys(minus(show(supply.volts, "V")) for supply in circuit.supplies)
    sizes = [(len(circuit.parts), "part"), (len(circuit.nets), "net")]
    return ", ".join([*(f"{count} {word}{'' if count == 1 else 's'}" for count, word in sizes), *volts])


# Amperes under which a supply current is not worth a word where an integrated circuit draws its own.
_NEXT_TO_NOTHING = 10e-6


def _supply_sentence(reading: Reading) -> str:
    """What the circuit draws at rest, and how its operating point stands."""
    point = reading.views.point
    if not point.solved:
        return (
            "Its voltages and currents are only partly known."
            if point.status == "partly solved"
            else ("Its voltages and currents are not known.")
        )
    driving = {part.ref for part in reading.circuit.parts if is_drive(part, reading.circuit)}
    feeds = [(name, amperes) for name, amperes in point.supply_currents.items() if name not in driving]
    currents = [(net, abs(amperes)) for net, amperes in feeds if math.isfinite(amperes)]
    opaque = [part.ref for part in reading.circuit.parts if part.kind in ("opamp", "ic")]
    if not currents or (opaque and all(amperes < _NEXT_TO_NOTHING for _, amperes in currents)):
        return ""
    besides = f", besides what {listed(opaque)} {'draw' if len(opaque) > 1 else 'draws'}" if opaque else ""
    if len(currents) == 1:
        return f"{show(currents[0][1], 'A', 2)} from the supply at rest{besides}."
    shares = [f"{show(amperes, 'A', 2)} from {net}" for net, amperes in currents]
    return f"{listed(shares)} at rest{besides}."


def _block_text(group: Group, reading: Reading, texts: Texts, told: set[tuple[str, str]]) -> BlockText:
    """What is said under one heading."""
    companions = _companions(group.companions, reading, texts, told)
    if group.block is None:
        title = _SUPPLY_TITLE if group.sort == "supply" else "Beside the stages"
        return BlockText(None, title, (), parts=_in_file_order(group.parts, reading), companions=companions)
    block = group.block
    statements = (*_returns(block), *texts.statements(block), *_class_statements(block, reading))
    return BlockText(
        block,
        title_of(block, reading),
        statements,
        texts.roles(block),
        texts.checks(block),
        texts.cautions(block),
        _heading_parts(group, reading),
        companions,
        texts.compounds(block),
    )


def _companions(
    blocks: Sequence[Block], reading: Reading, texts: Texts, told: set[tuple[str, str]]
) -> tuple[BlockText, ...]:
    """Small blocks, those of one pattern together; what would be said of any of them is said once in all (`told`)."""
    alike: dict[str, list[Block]] = {}
    for block in blocks:
        alike.setdefault(block.name, []).append(block)
    made = []
    for name, row in alike.items():
        statements = []
        for block in row:
            statements += _returns(block)
            for place, statement in enumerate(texts.statements(block)):
                key = (block.pattern, str(place))
                if statement.has_numbers or key not in told:
                    statements.append(statement)
                told.add(key)
        made.append(
            BlockText(
                row[0],
                capital(plural(name) if len(row) > 1 or _are_alike(row[0], reading) else name),
                tuple(dict.fromkeys(statements)),
                tuple(line for block in row for line in texts.roles(block)),
                tuple(dict.fromkeys(check for block in row for check in texts.checks(block))),
                tuple(dict.fromkeys(text for block in row for text in texts.cautions(block))),
                _in_file_order([ref for block in row for ref in block.parts if not is_composite(block)], reading),
            )
        )
    return tuple(made)


def _returns(block: Block) -> list[Statement]:
    """Where feedback goes back to that no sign can be tried of, since it leads through a rectifier."""
    if not block.returns_to:
        return []
    return [Statement(f"Feedback by direct voltage: returns to {listed(block.returns_to)}.", block.returns_to)]


def _are_alike(block: Block, reading: Reading) -> bool:
    """Whether a block is several parts of one kind, each of which its name fits."""
    kinds = {reading.circuit.part(ref).kind for ref in block.parts}
    return len(block.parts) > 1 and len(kinds) == 1 and not block.devices


def _heading_parts(group: Group, reading: Reading) -> tuple[str, ...]:
    """The parts of a group, its devices first, the others in the order of the file."""
    own = group.block.parts if group.block is not None else ()
    devices = [ref for ref in (group.block.devices if group.block is not None else ()) if ref in group.parts]
    elsewhere = {ref for block in reading.blocks if block.sort in HEADED for ref in block.devices} - set(own)
    others = [ref for ref in _in_file_order(group.parts, reading) if ref not in elsewhere]
    return tuple(dict.fromkeys((*devices, *others)))


def _in_file_order(refs: Iterable[str], reading: Reading) -> tuple[str, ...]:
    wanted = set(refs)
    return tuple(part.ref for part in reading.circuit.parts if part.ref in wanted)


def _class_statements(block: Block, reading: Reading) -> list[Statement]:
    """The class of operation of the devices of which a block is the stage, and what it rests on."""
    said = []
    for item in reading.classes:
        if item.devices and _teller(item, reading) is block:
            lead = f"Class {item.letter}" if len(item.letter) < 3 else item.letter[:1].upper() + item.letter[1:]
            whose = "" if set(item.devices) == set(block.devices) else f" ({named(item.devices)})"
            said.append(Statement(f"{lead}{whose}: {item.basis.rstrip('.')}.", item.devices))
    return said


def _teller(item: StageClass, reading: Reading) -> Block | None:
    """The one block that tells of a class of operation: the output before the stage, the stage before the rest."""
    rank = {sort: place for place, sort in enumerate(("output", "driver", "stage", "control", "splitter", "whole"))}
    able = [
        block
        for block in reading.blocks
        if block.sort in rank and not is_composite(block) and set(item.devices) <= set(block.devices)
    ]
    return min(able, key=lambda block: (rank[block.sort], len(block.devices), block.number), default=None)


def _omitted(reductions: Sequence[Reduction]) -> list[str]:
    """A line for each level of detail: which parts go, by which rule."""
    lines = []
    before: set[str] = set()
    for reduction in reductions:
        merged = [entry for entry in reduction.ledger if entry.fate == "merged"]
        if merged and not before:
            into: dict[str, list[str]] = {}
            for entry in merged:
                into.setdefault(entry.into, []).append(entry.part)
            said = "; ".join(f"{listed(refs)} into {stands}" for stands, refs in into.items())
            lines.append(f"Merged: {said}.")
        rules: dict[str, list[str]] = {}
        for entry in reduction.ledger:
            if entry.fate == "omitted" and entry.part not in before:
                rules.setdefault(entry.rule, []).append(entry.part)
        nothing = "nothing more" if lines else "none"
        said = "; ".join(f"{', '.join(refs)} ({rule})" for rule, refs in rules.items()) or nothing
        lines.append(f"Omitted at `{reduction.detail}`: {'also ' if before and rules else ''}{said}.")
        before.update(ref for refs in rules.values() for ref in refs)
    return lines


def _proof(reductions: Sequence[Reduction]) -> tuple[str, ...]:
    """The proof of each level of detail, with its name; none for one that leaves out no more than the one before."""
    told: list[str] = []
    before: tuple[str, ...] = ()
    for reduction in reductions:
        gone = reduction.fates("omitted")
        if reduction.proof and (gone != before or not told):
            told.append(f"`{reduction.detail}`: {' '.join(reduction.proof)}")
        before = gone
    return tuple(told)
