"""The explanation as text for a terminal."""

from __future__ import annotations

from topo.explanation.listing import capital
from topo.explanation.statements import BlockText, Explanation, SignalText
from topo.reading.reading import NearMiss
from topo.report.layout import Page, names

INDENT = "   "
FEW = 4


def text(explanation: Explanation, page: Page | None = None) -> str:
    """The explanation in lines of at most the page's width, ending in a line feed."""
    page = page or Page()
    lines = page.head(explanation.title, explanation.counts)
    lines.append("")
    for sentence in explanation.summary:
        lines += page.paragraph(sentence)
    if explanation.path:
        lines += ["", *page.paragraph(explanation.path, page.strong("Signal") + "   ", " " * 9)]
    lines += _blocks(explanation, page)
    if explanation.signal is not None:
        lines += ["", *_signal(explanation.signal, page)]
    lines.append("")
    lines += _accounts(explanation, page) if not explanation.only_sections else _cares(explanation, page)
    for miss in explanation.near_misses:
        lines += ["", *near_miss(miss, explanation.reading.circuit.file, page)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _blocks(explanation: Explanation, page: Page) -> list[str]:
    """The headed blocks in order; of a receiver under its sections, what belongs to none behind them."""
    lines: list[str] = []
    blocks = list(enumerate(explanation.blocks))
    for section in explanation.sections:
        tuned = f", {section.tuned}" if section.tuned else ""
        head = f"{capital(section.name)}{tuned}"
        lines += ["", *page.head(head, f"{len(section.parts)} part{'s' if len(section.parts) != 1 else ''}")]
        lines += page.paragraph(" ".join(section.parts), INDENT, INDENT)
        for place in section.blocks:
            lines += ["", *_block(explanation.blocks[place], place + 1, page, explanation.voice)]
    sorted_in = {place for section in explanation.sections for place in section.blocks}
    for place, block in blocks:
        if place not in sorted_in:
            lines += ["", *_block(block, place + 1, page, explanation.voice)]
    return lines


def _block(block: BlockText, number: int, page: Page, voice: str) -> list[str]:
    lines = page.head(f"{number:<2} {block.title}", " ".join(block.parts), INDENT)
    lines += page.paragraph(" ".join(statement.text for statement in block.statements), INDENT)
    if voice == "student":
        lines += page.table([role_row(refs, words, block) for refs, words in block.roles], INDENT)
    for companion in block.companions:
        lines += page.paragraph(_companion(companion, block), INDENT, INDENT + "  ")
    if voice == "technician" and block.checks:
        lines += page.paragraph(" ".join(block.checks), INDENT + "Check: ", INDENT + "       ")
    return lines


def _signal(signal: SignalText, page: Page) -> list[str]:
    """The circuit under drive: a paragraph, then a table for each bias trimmer."""
    lines = [page.strong(signal.title)]
    for statement in signal.statements:
        lines += page.paragraph(statement.text, INDENT, INDENT + "  ")
    for table in signal.tables:
        lines += page.paragraph(table.caption, INDENT, INDENT + "  ")
        lines += page.table((table.head, *table.rows), INDENT + "  ")
    return lines


def role_row(refs: tuple[str, ...], words: str, block: BlockText) -> tuple[str, str]:
    """Who plays a role and what it does; of several alike it is said of each, but a compound device is one."""
    compound = any("+" in name and set(name.split("+")) == set(refs) for name in block.compounds)
    if compound:
        return "+".join(refs), words
    return ", ".join(refs), f"each {words}" if len(refs) > 1 else words


def _companion(companion: BlockText, block: BlockText) -> str:
    """A small block in one paragraph; where it is only another side of many parts of the headed block, by its name."""
    said = " ".join(statement.text for statement in companion.statements)
    own = block.block.parts if block.block is not None else ()
    further = [ref for ref in companion.parts if ref not in own]
    if not companion.parts or (len(companion.parts) > FEW and len(further) < FEW < len(companion.parts) - len(further)):
        return f"{companion.title}{f' (with {names(further)})' if further else ''}. {said}"
    title = companion.title if companion.block is None else _lowered(companion.title)
    return f"{names(companion.parts)}: {title}. {said}".rstrip()


def _lowered(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins with a name or an abbreviation."""
    first = title.split(maxsplit=1)[0] if title else ""
    keeps = first in _PROPER or (len(first) > 1 and first[1:2].isupper())
    return title if keeps else title[:1].lower() + title[1:]


_PROPER = frozenset({"Darlington", "Sziklai", "Zobel", "Miller", "Hartley", "Colpitts", "Baxandall"})


def _accounts(explanation: Explanation, page: Page) -> list[str]:
    """What was left out, not recognised, assumed, and what calls for care."""
    lines: list[str] = []
    for line in explanation.omitted:
        lines += page.paragraph(line, hanging="  ")
    for line in explanation.proof:
        lines += page.paragraph(line, "  ", "  ")
    return lines + _cares(explanation, page)


def _cares(explanation: Explanation, page: Page) -> list[str]:
    """What was not recognised or assumed, and what calls for care."""
    lines = page.paragraph(_not_recognised(explanation.not_recognised), hanging="  ")
    for label, said in (
        ("Assumed", explanation.assumptions),
        ("Note", explanation.warnings),
        ("With care", explanation.cautions),
    ):
        if len(said) == 1:
            lines += page.paragraph(f"{label}: {said[0]}", hanging="  ")
        elif said:
            lines.append(f"{label}:")
            for sentence in said:
                lines += page.paragraph(sentence, "  ", "    ")
    return lines


def _not_recognised(refs: tuple[str, ...]) -> str:
    return f"Not recognised: {', '.join(refs) if refs else 'nothing'}."


def near_miss(miss: NearMiss, file: str, page: Page) -> list[str]:
    """A near miss with the line of the file that may be wrong, and a mark under the place."""
    if miss.message.startswith("Nearly"):
        lines = page.paragraph(miss.message, hanging="  ")
    else:
        lines = page.paragraph(f"Nearly {_article(miss.name)}{miss.name}: {', '.join(miss.parts)}.")
        lines += page.paragraph(f"What is missing: {miss.message}", "  ", "  ")
    if miss.source:
        head = f"  {file}, line {miss.line}:   "
        lines.append(head + miss.source)
        start, length = miss.mark
        if length:
            hint = f" {miss.suggestion}" if miss.suggestion else ""
            lines.append(" " * (len(head) + max(0, start - 1)) + "^" * length + hint)
    return lines


def _article(name: str) -> str:
    return "an " if name[:1].lower() in "aeio" else "a "
