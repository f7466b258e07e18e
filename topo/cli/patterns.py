"""`topo patterns`: list the library, show a pattern, start one, check pattern files against their own examples."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from topo.cli.figure import Width


@click.group()
def patterns() -> None:
    """List, show, start and check the patterns that circuits are read by."""


@patterns.command("list")
@click.option("--patterns", "folders", multiple=True, metavar="DIR", help="Add the patterns of a folder.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def list_patterns(folders: tuple[str, ...], as_json: bool) -> None:
    """List all patterns, family by family."""
    from topo.matching import library

    found = library(folders)
    if as_json:
        from topo.errors import json_text

        rows = [
            {"slug": p.slug, "name": p.name, "family": p.family, "purpose": p.purpose, "also": list(p.also)}
            for p in found.patterns
        ]
        click.echo(json_text({"patterns": rows}))
        return
    family = ""
    for pattern in found.patterns:
        if pattern.family != family:
            click.echo(f"{'' if not family else chr(10)}{pattern.family.replace('-', ' ')}")
            family = pattern.family
        click.echo(f"  {pattern.slug:<36} {pattern.name}")


@patterns.command()
@click.argument("slug")
@click.option("--patterns", "folders", multiple=True, metavar="DIR", help="Add the patterns of a folder.")
@click.option("-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Draw it here: .svg, .pdf, .png.")
@click.option("--width", type=Width(), metavar="85mm", help="Width of the drawing in print.")
def show(slug: str, folders: tuple[str, ...], output: str | None, width: float | None) -> None:
    """Show one pattern as a handbook entry, or draw its first example with each part's role."""
    from topo.matching import library
    from topo.matching.showing import page_of

    if output is None:
        click.echo(page_of(library(folders), slug))
        return
    from topo.cli.writing import write_files
    from topo.drawing.entries import entry_figure
    from topo.drawing.printing import format_of, printed

    form = format_of(output)
    write_files({output: printed(entry_figure(library(folders), slug, width=width).svg, form)})


@patterns.command()
@click.argument("name")
@click.option("--from", "of", default="", metavar="SLUG", help="The pattern to start from, if not the nearest.")
@click.option("--to", "folder", default=".", metavar="DIR", help="The folder of the new file; else this one.")
@click.option("--patterns", "folders", multiple=True, metavar="DIR", help="Add the patterns of a folder.")
def new(name: str, of: str, folder: str, folders: tuple[str, ...]) -> None:
    """Start a pattern file from the nearest entry. No file is written over."""
    from topo.matching import library
    from topo.matching.starting import start_file

    file, entry = start_file(library(folders), name, Path(folder), of)
    click.echo(f"{file}, started from {entry.slug} ({entry.name}).")


@patterns.command()
@click.argument("paths", nargs=-1, metavar="[DIR|FILE]...")
@click.option("--patterns", "folders", multiple=True, metavar="DIR", help="Add the patterns of a folder.")
@click.option("-v", "--verbose", is_flag=True, help="Show what each example binds.")
def check(paths: tuple[str, ...], folders: tuple[str, ...], verbose: bool) -> None:
    """Check pattern files: their form, and each of their examples. Without a path, the whole library."""
    from topo.matching.reviewing import review
    from topo.resources import own_folder

    chosen = [Path(path) for path in paths] or [own_folder("patterns"), *map(Path, folders)]
    good = True
    for line, passed in review(chosen, [Path(folder) for folder in folders], verbose):
        good = good and passed
        click.echo(line)
    if not good:
        sys.exit(1)
