"""A comparison as text for a terminal, and as plain values for JSON by `schema/comparison.json`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from topo.comparison.comparison import BlockPair, Comparison, Figures, Member, PartPair, Side, StagePair
from topo.comparison.wording import parts_name
from topo.quantities import show
from topo.report.layout import Page, names

SCHEMA = Path(__file__).parent / "schema" / "comparison.json"
INDENT = "   "
# Two figures within this share of each other are not worth a line.
_ALIKE = 0.02
_DIGITS = {"A": 2, "W": 2}
MOST_OUTSIDE = 12
MOST_FIGURES = 8
_IN_NUMBERS = frozenset({"stage", "driver", "splitter", "output", "bias"})


def comparison_text(comparison: Comparison, page: Page | None = None) -> str:
    """The comparison in lines of at most the page's width, ending in a line feed."""
    page = page or Page()
    lines: list[str] = []
    for letter, side in (("A", comparison.first), ("B", comparison.second)):
        focus = f": {side.focus}" if side.focus else ""
        lines += page.head(f"{letter}  {side.title}{focus}", _extent(side), INDENT)
    lines.append("")
    for number, sentence in enumerate(comparison.sentences):
        lines += page.paragraph(sentence) if number == 0 else page.paragraph(sentence, hanging="  ")
    if comparison.consequences:
        lines += ["", page.strong("What it comes to")]
        for sentence in comparison.consequences:
            lines += page.paragraph(sentence, INDENT, INDENT + "  ")
    for block in comparison.blocks:
        lines += ["", *_block(block, page)]
    if comparison.rest:
        lines += ["", page.strong("By their place, in no block"), *_pairs(comparison.rest, page)]
    for letter, side in (("A", comparison.first), ("B", comparison.second)):
        if side.extra or side.alone:
            lines += ["", page.strong(f"In {letter} alone"), *_alone(side, page)]
    lines += _outside(comparison, page)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _extent(side: Side) -> str:
    """How much of a circuit is compared."""
    total = len(side.reading.circuit.parts)
    count = "1 part" if total == 1 else f"{total} parts"
    return count if len(side.compared) == total else f"{len(side.compared)} of {count}"


def _block(block: BlockPair, page: Page) -> list[str]:
    title, under = title_of(block)
    lines = [page.strong(line) for line in page.paragraph(title, hanging=INDENT)]
    lines += page.paragraph(under, INDENT, INDENT) if under else []
    lines += _pairs(block.pairs, page)
    for letter, refs in (("A", block.first_only), ("B", block.second_only)):
        if refs:
            lines += page.paragraph(f"In {letter} alone: {', '.join(refs)}.", INDENT, INDENT + "  ")
    rows = (
        [row for row in block.figures if _worth_telling(row)][:MOST_FIGURES] if block.first.sort in _IN_NUMBERS else []
    )
    lines += page.table(
        [(row.name, f"{_value(row.first, row.unit)}", _value(row.second, row.unit)) for row in rows], INDENT
    )
    return lines


def title_of(block: BlockPair) -> tuple[str, str]:
    """The heading of a pair of blocks, and how each circuit calls it where the two differ."""
    if block.relation == "same" and block.first.name == block.second.name:
        return _capital(block.common), ""
    head = f"Different means of {block.common}" if block.relation == "other means" else _capital(block.common)
    if block.first.name == block.second.name:
        return head, ""
    return head, f"A: {block.first.name}. B: {block.second.name}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _pairs(pairs: tuple[PartPair, ...], page: Page) -> list[str]:
    """Parts side by side: A, B, B's value at A's levels where it has one, and the role in words."""
    if not pairs:
        return []
    scaled = any(pair.scaled for pair in pairs)
    rows = []
    for pair in pairs:
        at_level = (f"as {pair.scaled}" if pair.scaled else "",) if scaled else ()
        rows.append(
            (named(pair.first, pair.first_value), named(pair.second, pair.second_value), *at_level, role_words(pair))
        )
    return page.table(rows, INDENT)


def named(ref: str, value: str) -> str:
    """A part with its value where it has one."""
    return f"{ref} {value}".strip()


def role_words(pair: PartPair) -> str:
    """The role of a pair, each circuit's word for it where the two differ."""
    if not pair.other_role or pair.role == pair.other_role:
        return pair.role
    return f"{pair.role}; {pair.other_role}"


def _worth_telling(row: Figures) -> bool:
    """Whether a figure is known on both sides, has a unit, and differs."""
    if row.first is None or row.second is None or not row.unit:
        return False
    return abs(row.first - row.second) > _ALIKE * max(abs(row.first), abs(row.second))


def _value(value: float | None, unit: str) -> str:
    return show(value, unit, _DIGITS.get(unit, 3)).replace("-", "−")


def _alone(side: Side, page: Page) -> list[str]:
    lines: list[str] = []
    for member in side.extra:
        words = "; ".join(f"{names(refs)} {text}" for refs, text in member.without)
        said = f"{names(member.parts)}: {parts_name(member.name, member.parts)}{f'. {words}' if words else ''}."
        lines += page.paragraph(said, INDENT, INDENT + "  ")
    if side.alone:
        lines += page.paragraph(f"Without a counterpart: {names(side.alone)}.", INDENT, INDENT + "  ")
    return lines


def _outside(comparison: Comparison, page: Page) -> list[str]:
    lines: list[str] = []
    for letter, side in (("A", comparison.first), ("B", comparison.second)):
        if side.outside:
            said = f"Outside of the comparison in {letter}: {names(side.outside, most=MOST_OUTSIDE)}."
            lines += page.paragraph(said, hanging="  ")
    return ["", *lines] if lines else []


def comparison_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that `comparison_values` keeps to."""
    return json.loads(SCHEMA.read_text(encoding="utf-8"))


def comparison_values(comparison: Comparison) -> dict[str, Any]:
    """Everything that `topo compare` says, as plain values in a fixed order of keys."""
    return {
        "likeness": comparison.likeness,
        "common": comparison.common,
        "turned_over": comparison.turned,
        "sentences": list(comparison.sentences),
        "consequences": list(comparison.consequences),
        "first": _side(comparison.first),
        "second": _side(comparison.second),
        "blocks": [_block_pair(block) for block in comparison.blocks],
        "by_place": [_part_pair(pair) for pair in comparison.rest],
        "stages": [_stage_pair(pair) for pair in comparison.stages],
    }


def _side(side: Side) -> dict[str, Any]:
    return {
        "title": side.title,
        "file": side.file,
        "summary": side.reading.summary,
        "focus": side.focus,
        "parts": len(side.reading.circuit.parts),
        "compared": list(side.compared),
        "extra": [_member(member) for member in side.extra],
        "alone": list(side.alone),
        "outside": list(side.outside),
    }


def _member(member: Member) -> dict[str, Any]:
    return {
        "pattern": member.pattern,
        "name": member.name,
        "sort": member.sort,
        "parts": list(member.parts),
        "purposes": [{"parts": list(refs), "purpose": words} for refs, words in member.without],
    }


def _block_pair(block: BlockPair) -> dict[str, Any]:
    return {
        "relation": block.relation,
        "common": block.common,
        "first": _member(block.first),
        "second": _member(block.second),
        "pairs": [_part_pair(pair) for pair in block.pairs],
        "first_only": list(block.first_only),
        "second_only": list(block.second_only),
        "figures": [_figures(row) for row in block.figures],
    }


def _part_pair(pair: PartPair) -> dict[str, Any]:
    return {
        "first": pair.first,
        "second": pair.second,
        "role": pair.role,
        "other_role": pair.other_role,
        "first_value": pair.first_value,
        "second_value": pair.second_value,
        "second_value_at_first_levels": pair.scaled,
    }


def _stage_pair(pair: StagePair) -> dict[str, Any]:
    return {
        "first": list(pair.first),
        "second": list(pair.second),
        "first_class": pair.first_class,
        "second_class": pair.second_class,
        "figures": [_figures(row) for row in pair.figures],
    }


def _figures(row: Figures) -> dict[str, Any]:
    return {"name": row.name, "unit": row.unit, "first": row.first, "second": row.second}
