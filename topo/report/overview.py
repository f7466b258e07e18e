"""The overview of a large circuit as text for a terminal and as JSON: bounded, however large the circuit is."""

from __future__ import annotations

from typing import Any

from topo.overview.overview import Overview, Shape

MOST_LINES = 40
"""Lines of each list that are shown; the rest is counted."""
MOST_WARNINGS = 8


def overview_text(found: Overview) -> str:
    """The overview in a few dozen lines: the pieces by what they are, the blocks by kind, what is left open."""
    circuit = found.circuit
    lines = [circuit.title or circuit.file, "=" * len(circuit.title or circuit.file), ""]
    lines += [_size(found), ""]
    lines += ["What the pieces are", ""]
    rows = [(count, f"{words}  ({_where(shape)})") for words, count, shape in found.summaries]
    lines += _listed(rows)
    lines += ["", "Blocks", ""]
    lines += _listed([(kind.count, f"{kind.name} ({kind.sort})") for kind in found.kinds])
    lines += ["", f"Parts in no block: {found.unrecognised}."]
    refused = [shape for shape in found.shapes if shape.refused]
    if refused:
        lines += ["", "Not read", ""]
        lines += _listed([(shape.count, f"{shape.refused} ({_where(shape)})") for shape in refused])
    if found.warnings:
        lines += ["", "Warnings, each sort by the first of it", ""]
        for problem, count in found.warnings[:MOST_WARNINGS]:
            more = f" (and {count - 1} more such)" if count > 1 else ""
            lines += [f"- {problem.place}: {problem.message}{more}"]
        if len(found.warnings) > MOST_WARNINGS:
            lines += [f"- ... and {len(found.warnings) - MOST_WARNINGS} more sorts."]
    lines += ["", "For one piece: topo explain FILE --part REF, with any part of it."]
    return "\n".join(lines) + "\n"


def _size(found: Overview) -> str:
    pieces, shapes = len(found.pieces), len(found.shapes)
    words = (
        f"{len(found.circuit.parts)} parts. Cut at its ideal rails the circuit falls into {_counted(pieces, 'piece')}"
    )
    words += f" of {_counted(shapes, 'shape')}; {found.read} of them are read"
    if found.common is not None:
        words += f", and {_counted(found.common.parts, 'part')} between rails alone"
    return f"{words}."


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _where(shape: Shape) -> str:
    return f"the first: {shape.first} to {shape.last}, from line {shape.line}"


def _listed(rows: list[tuple[int, str]]) -> list[str]:
    lines = [f"{count:8d}  {words}" for count, words in rows[:MOST_LINES]]
    if len(rows) > MOST_LINES:
        rest = sum(count for count, _ in rows[MOST_LINES:])
        lines.append(f"{rest:8d}  of {len(rows) - MOST_LINES} more kinds")
    return lines or ["    none"]


def overview_data(found: Overview) -> dict[str, Any]:
    """The overview as plain data for JSON by `schema/overview.json`, with at most `MOST_LINES` shapes."""
    circuit = found.circuit
    shapes = sorted(found.shapes, key=lambda shape: (-shape.count, shape.number))[:MOST_LINES]
    return {
        "overview": {
            "title": circuit.title,
            "parts": len(circuit.parts),
            "nets": len(circuit.nets),
            "pieces": len(found.pieces),
            "shapes": len(found.shapes),
            "read": found.read,
            "between_rails": found.common.parts if found.common else 0,
            "not_recognised": found.unrecognised,
        },
        "blocks": [
            {"pattern": kind.pattern, "name": kind.name, "sort": kind.sort, "count": kind.count} for kind in found.kinds
        ],
        "pieces": [
            {
                "count": shape.count,
                "parts": shape.parts,
                "summary": shape.summary or None,
                "first_part": shape.first,
                "line": shape.line,
                "operating_point": shape.status or None,
                "refused": shape.refused or None,
            }
            for shape in shapes
        ],
        "warnings": [{"code": problem.code, "message": problem.message, "count": n} for problem, n in found.warnings],
    }
