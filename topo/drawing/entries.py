"""The figure of a handbook entry: its first example, each part with its role."""

from __future__ import annotations

from dataclasses import replace

from topo.drawing.lettering import lines
from topo.drawing.schematic.composing import Figure, figure
from topo.drawing.schematic.fitting import TYPE_SIZE
from topo.matching.shelf import Library
from topo.matching.trying import try_example
from topo.netlist import loads
from topo.reading import read

_WIDEST = 7.0
"""Modules: a designator with a longer role is broken into lines."""


def entry_figure(library: Library, slug: str, *, width: float | None = None, symbols: str = "iec") -> Figure:
    """Draw an entry of the handbook from its first example that matches.

    The role of a part is written after its designator.

    Args:
        width: millimetres; None for the natural size.
        symbols: "iec", or "ieee" for zigzag resistors.
    Raises:
        UsageError: there is no such entry.
    """
    pattern = library.get(slug)
    example = next(item for item in library.examples(pattern.slug) if item.matches)
    circuit = replace(loads(example.netlist, file=f"{pattern.slug}: {example.words}"), title=pattern.name)
    roles = dict(example.roles)
    for match in try_example(pattern, example, library).matches[:1]:
        roles = {**match.roles, **roles}
    names: dict[str, str] = {}
    for role, refs in roles.items():
        for ref in refs:
            # A role of a composite is that of one of its components.
            words = f"{ref} {role.rpartition('.')[2].replace('_', ' ')}"
            names.setdefault(ref, "\n".join(lines(words, TYPE_SIZE, _WIDEST)))
    drawn = figure(read(circuit, library), width=width, symbols=symbols, names=names, library=library)
    words = f"{pattern.name}: {pattern.purpose} {drawn.description}"
    return replace(drawn, description=words)
