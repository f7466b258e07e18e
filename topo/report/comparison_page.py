"""A comparison as a Markdown page (CommonMark with tables), with both schematics side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from topo.comparison.comparison import BlockPair, Comparison, PartPair, Side
from topo.comparison.wording import parts_name
from topo.drawing.schematic import Figure
from topo.report.comparison import named, role_words, title_of
from topo.report.layout import names
from topo.report.markdown import quoted

_NOBODY = "–"
_HEAD = ("A", "B", "B at the levels of A", "does")
Row = tuple[str, str, str, str]


def comparison_page(comparison: Comparison, one: Figure, other: Figure) -> str:
    """The page; the schematics are expected beside it as `a.svg` and `b.svg`, the block maps as `blocks.svg`."""
    first, second = comparison.first, comparison.second
    lines = [f"# {quoted(_title(first))} beside {quoted(_title(second))}", ""]
    for sentence in comparison.sentences:
        lines += [quoted(sentence), ""]
    lines += [*(f"- {quoted(sentence)}" for sentence in comparison.consequences), "", "## Schematics", ""]
    lines += [
        f"| A {quoted(_title(first))} | B {quoted(_title(second))} |",
        "| --- | --- |",
        f"| ![{quoted(one.description)}](a.svg) | ![{quoted(other.description)}](b.svg) |",
        "",
        "Parts without a counterpart in the other circuit are drawn in a heavier line.",
    ]
    for letter, side, figure in (("A", first, one), ("B", second, other)):
        absent = _not_drawn(side, figure)
        if absent:
            lines += ["", f"Not drawn in {letter}, which works the same without: {quoted(names(absent))}."]
    lines += ["", "## Part by part", ""]
    for block in comparison.blocks:
        title, under = title_of(block)
        lines += [f"### {quoted(title)}", "", *([quoted(under), ""] if under else []), *_table(_of_block(block)), ""]
    if comparison.rest:
        lines += ["### By their place, in no block", "", *_table(map(_row, comparison.rest)), ""]
    for letter, side in (("A", first), ("B", second)):
        if side.extra or side.alone:
            lines += [f"### In {letter} alone", "", *_alone(side), ""]
    return "\n".join([*lines, "## Block maps", "", "![Both block maps](blocks.svg)", ""])


def _title(side: Side) -> str:
    return f"{side.title}: {side.focus}" if side.focus else side.title


def _not_drawn(side: Side, figure: Figure) -> list[str]:
    """Designators that are compared, but not in the reduced circuit that is drawn."""
    drawn = {name for part in figure.circuit.parts for name in (part.ref, *part.ref.split("+"))}
    return [ref for ref in side.compared if ref not in drawn]


def _of_block(block: BlockPair) -> Iterator[Row]:
    """The pairs of a block, then what only one of the two has."""
    yield from map(_row, block.pairs)
    for ref in block.first_only:
        yield ref, _NOBODY, "", ""
    for ref in block.second_only:
        yield _NOBODY, ref, "", ""


def _row(pair: PartPair) -> Row:
    return named(pair.first, pair.first_value), named(pair.second, pair.second_value), pair.scaled, role_words(pair)


def _alone(side: Side) -> list[str]:
    lines = []
    for member in side.extra:
        words = "; ".join(f"{names(refs)} {text}" for refs, text in member.without)
        said = f"{names(member.parts)}: {parts_name(member.name, member.parts)}{f'. {words}' if words else ''}."
        lines.append(f"- {quoted(said)}")
    if side.alone:
        lines.append(f"- {quoted(f'Without a counterpart: {names(side.alone)}.')}")
    return lines


def _table(rows: Iterator[Row]) -> list[str]:
    """A table without the column of levels where it is empty."""
    found: list[Sequence[str]] = list(rows)
    head: Sequence[str] = _HEAD
    if not any(row[2] for row in found):
        found, head = [(row[0], row[1], row[3]) for row in found], (*_HEAD[:2], _HEAD[3])
    return [
        f"| {' | '.join(head)} |",
        f"| {' | '.join('---' for _ in head)} |",
        *(f"| {' | '.join(map(quoted, row))} |" for row in found),
    ]
