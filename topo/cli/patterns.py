"""`topo patterns`: list the library, show a pattern, check pattern files against their own examples."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.group()
def patterns() -> None:
    """List, show and check the patterns that circuits are read by."""


@patterns.command("list")
@click.option("--patterns", "folders", multiple=True, metavar="DIR", help="Add the patterns of a folder.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def list_patterns(folders: tuple[str, ...], as_json: bool) -> None:
    """List all patterns, family by family."""
    from topo.matching import library

    found = library(folders)
    if as_json:
        import json

        rows = [
            {"slug": p.slug, "name": p.name, "family": p.family, "purpose": p.purpose, "also": list(p.also)}
            for p in found.patterns
        ]
        click.echo(json.dumps({"patterns": rows}, indent=2, ensure_ascii=False))
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
def show(slug: str, folders: tuple[str, ...]) -> None:
    """Show one pattern as a handbook entry."""
    from topo.matching import library
    from topo.matching.showing import page_of

    click.echo(page_of(library(folders), slug))


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
