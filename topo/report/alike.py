"""A ranked collection as text for a terminal, and as plain values for JSON by `schema/alike.json`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from topo.comparison.forms import Form
from topo.comparison.ranking import Near
from topo.quantities import show_percent
from topo.report.layout import Page, names

SCHEMA = Path(__file__).parent / "schema" / "alike.json"
INDENT = "   "


def alike_text(asked: Form, file: str, nearest: Sequence[Near], compared: int, page: Page | None = None) -> str:
    """The nearest circuits of a collection, each with what it shares and what differs."""
    page = page or Page()
    lines = page.head(asked.title or file, _counted(compared, "circuit"))
    lines += ["", *page.paragraph(asked.summary)]
    if not nearest:
        lines += ["", "Nothing in the collection shares any of its structure."]
    for number, near in enumerate(nearest, 1):
        lines += ["", *page.head(f"{number:<2} {near.form.title or near.file}", _share(near), INDENT)]
        lines += page.paragraph(near.file, INDENT, INDENT)
        lines += page.paragraph(near.form.summary, INDENT, INDENT)
        for label, row in (("Shared", near.shares), ("Not in it", near.lacks), ("In it alone", near.adds)):
            if row:
                lines += page.paragraph(f"{label}: {', '.join(row)}.", INDENT, INDENT + "  ")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _share(near: Near) -> str:
    return "the same structure" if near.same_form else f"{show_percent(near.likeness)} of the structure shared"


def _counted(number: int, noun: str) -> str:
    return f"compared with {number} {noun}{'' if number == 1 else 's'}"


def skipped_text(skipped: Sequence[tuple[str, str]]) -> str:
    """The files that could not be read, each with its reason."""
    return "\n".join(f"Skipped {file}: {reason}" for file, reason in skipped)


def nothing_found(paths: Sequence[str], suffix: str) -> str:
    """That there is no netlist in some folders."""
    return f"There is no {suffix} file in {names(paths)}."


def alike_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that `alike_values` keeps to."""
    return json.loads(SCHEMA.read_text(encoding="utf-8"))


def alike_values(
    asked: Form, file: str, nearest: Sequence[Near], compared: int, skipped: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """Everything that `topo alike` says, as plain values in a fixed order of keys."""
    return {
        "file": file,
        "title": asked.title,
        "summary": asked.summary,
        "compared": compared,
        "nearest": [
            {
                "file": near.file,
                "title": near.form.title,
                "summary": near.form.summary,
                "likeness": round(near.likeness, 4),
                "same_form": near.same_form,
                "shares": list(near.shares),
                "lacks": list(near.lacks),
                "adds": list(near.adds),
            }
            for near in nearest
        ],
        "skipped": [{"file": name, "reason": reason} for name, reason in skipped],
    }
