"""`topo alike`: which circuits of a collection are nearest to one."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import click

from topo.cli.sources import STANDARD_INPUT, circuit_argument, circuit_of, json_option, library_of, patterns_option
from topo.errors import UsageError


@click.command(short_help="Rank a collection of circuits by shared structure.")
@circuit_argument
@click.argument("paths", metavar="DIR...", nargs=-1, required=True, type=click.Path(exists=True))
@click.option(
    "-n", "--nearest", "most", metavar="N", type=click.IntRange(min=1), default=5, show_default=True, help="How many."
)
@json_option
@patterns_option
def alike(file: str, paths: tuple[str, ...], most: int, as_json: bool, pattern_folders) -> None:
    """Say which of the circuits in DIR... share most of their structure with that of FILE, what they share, and what
    differs. Names, polarities and values do not matter.

    All .net files of the folders and their sub-folders are read once; what was seen in them is kept in the user's
    cache folder. Files that cannot be read are named on standard error, and left out.
    """
    from topo.comparison.collection import SUFFIX, Forms, files_under
    from topo.comparison.forms import Form, form_of
    from topo.comparison.ranking import rank
    from topo.reading import read
    from topo.report.alike import alike_text, alike_values, nothing_found, skipped_text

    library = library_of(pattern_folders)
    asked = form_of(read(circuit_of(file), library), library)
    own = None if file == STANDARD_INPUT else Path(file).resolve()
    files = [path for path in files_under(map(Path, paths)) if path.resolve() != own]
    if not files:
        raise UsageError(nothing_found(paths, SUFFIX))
    collection: list[tuple[str, Form]] = []
    skipped: list[tuple[str, str]] = []
    for path, found in _with_progress(Forms(library, pattern_folders).of_files(files), len(files)):
        if isinstance(found, str):
            skipped.append((str(path), found))
        else:
            collection.append((str(path), found))
    skipped.sort()
    nearest = [near for near in rank(asked, collection, most) if near.likeness > 0]
    if skipped:
        click.echo(skipped_text(skipped), err=True)
    if as_json:
        from topo.report.envelope import as_json as json_text

        click.echo(json_text(alike_values(asked, file, nearest, len(collection), skipped)), nl=False)
    else:
        from topo.cli.paging import page

        click.echo(alike_text(asked, file, nearest, len(collection), page()), nl=False)


def _with_progress(items: Iterable[tuple], count: int) -> Iterator[tuple]:
    """The items as they come; on a terminal, standard error shows how many have come."""
    shown = sys.stderr.isatty()
    every = max(1, count // 200)
    for number, item in enumerate(items, 1):
        if shown and (number % every == 0 or number == count):
            click.echo(f"\r{number} of {count} files", err=True, nl=False)
        yield item
    if shown:
        click.echo("\r\x1b[K", err=True, nl=False)
