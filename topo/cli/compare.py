"""`topo compare`: two circuits side by side, part by part."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from topo.cli.sources import STANDARD_INPUT, circuit_of, json_option, library_of, patterns_option
from topo.errors import UsageError

if TYPE_CHECKING:
    from topo.comparison import Comparison, Focus
    from topo.matching import Library
    from topo.reading.reading import Reading

_FILE = click.Path(allow_dash=True, dir_okay=False)
_OF_A_SIDE = re.compile(r"([AB]):(.+)", re.IGNORECASE | re.DOTALL)


@click.command(short_help="Compare two circuits, part by part.")
@click.argument("first", metavar="A", type=_FILE)
@click.argument("second", metavar="B", type=_FILE)
@click.option("--section", metavar="NAME", help="Compare the stages of this section, of whichever file has it.")
@click.option(
    "--focus",
    "focuses",
    metavar="[A:|B:]WHAT",
    multiple=True,
    help="Compare one stage of a file (B where none is said): its number in `topo explain`, or a part of it.",
)
@click.option(
    "-o",
    "--output",
    metavar="DIR|FILE.svg",
    type=click.Path(),
    help="Write the report to a folder: both schematics, the parts in a table, the block maps; or these maps alone.",
)
@json_option
@patterns_option
def compare(
    first: str,
    second: str,
    section: str | None,
    focuses: tuple[str, ...],
    output: str | None,
    as_json: bool,
    pattern_folders,
) -> None:
    """Compare the circuits of A and B: which part of the one does the work of which part of the other, what is done by
    other means, what only one of them has, and what that comes to.

    With a focus on one of the two, what corresponds to it is looked for in the whole of the other. In the schematics
    of the report, reduced to what each circuit works by, parts without a counterpart are drawn heavier.
    """
    from topo.comparison import compare as compared
    from topo.reading import read

    if first == second == STANDARD_INPUT:
        raise UsageError("Only one of the two circuits can come from standard input.")
    library = library_of(pattern_folders)
    readings = (read(circuit_of(first), library), read(circuit_of(second), library))
    comparison = compared(*readings, focus=_focus(readings, section, focuses, library), library=library)
    if output is not None:
        _write(comparison, output, library)
    if as_json:
        from topo.report.comparison import comparison_values
        from topo.report.envelope import as_json as json_text

        click.echo(json_text(comparison_values(comparison)), nl=False)
    else:
        from topo.cli.paging import page
        from topo.report.comparison import comparison_text

        click.echo(comparison_text(comparison, page()), nl=False)


def _write(comparison: Comparison, output: str, library: Library) -> None:
    """The block maps as one drawing, or the whole report in a folder."""
    from pathlib import Path

    from topo.cli.writing import write_files
    from topo.drawing.side_by_side import comparison_svg, schematic_pair

    if output.casefold().endswith(".svg"):
        write_files({output: comparison_svg(comparison)})
        return
    from topo.report.comparison import comparison_values
    from topo.report.comparison_page import comparison_page
    from topo.report.envelope import as_json as json_text

    one, other = schematic_pair(comparison, library)
    folder = Path(output)
    write_files(
        {
            folder / "a.svg": one.svg,
            folder / "b.svg": other.svg,
            folder / "blocks.svg": comparison_svg(comparison),
            folder / "comparison.json": json_text(comparison_values(comparison)),
            folder / "comparison.md": comparison_page(comparison, one, other),
        }
    )


def _focus(
    readings: tuple[Reading, Reading], section: str | None, focuses: tuple[str, ...], library: Library
) -> tuple[Focus | None, Focus | None]:
    """The focus on each of the two circuits."""
    found: list[Focus | None] = [None, None]
    if section is not None:
        found = _of_section(readings, section, library)
    for words in focuses:
        said = _OF_A_SIDE.fullmatch(words)
        side = "AB".index(said[1].upper()) if said else 1
        if found[side] is not None:
            raise UsageError(f"There are two focuses on {'AB'[side]}.")
        found[side] = _of_words(readings[side], said[2] if said else words, library)
    return found[0], found[1]


def _of_section(readings: tuple[Reading, Reading], section: str, library: Library) -> list[Focus | None]:
    from topo.comparison import focus_of

    known = [section.casefold() in {name.casefold() for name in reading.circuit.sections} for reading in readings]
    if not any(known):
        there = "; ".join(
            f"{reading.circuit.file}: {', '.join(reading.circuit.sections) or 'none'}" for reading in readings
        )
        raise UsageError(f"Neither file has a section {section!r}. Sections of {there}.")
    return [
        focus_of(reading, section=section, library=library) if has else None
        for reading, has in zip(readings, known, strict=True)
    ]


def _of_words(reading: Reading, words: str, library: Library) -> Focus:
    """The focus on a stage by its number in the explanation, or by a part of it."""
    from topo.comparison import focus_of

    if not words.strip().isdecimal():
        return focus_of(reading, parts=[words.strip()], library=library)
    from topo.explanation.grouping import grouped

    blocks = [group.block for group in grouped(reading) if group.block is not None]
    number = int(words)
    if not 1 <= number <= len(blocks):
        raise UsageError(f"{reading.circuit.file} has no stage {number}; it has {len(blocks)}.")
    block = blocks[number - 1]
    parts = block.devices or block.parts
    return focus_of(reading, parts=parts, words=f"{number} {block.name}", library=library)
