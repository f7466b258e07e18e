"""Takes an element list - one letter, nodes and a value a line, the form in which textbooks and vendors exchange
circuits - and gives the same `Circuit` as the netlist language does, or every problem of the text; writes one too.

What the form can say and a schematic reader has no use for (analyses, sweeps, listings) is left out with a note;
what has no meaning here becomes an opaque part. It must not know voltages, views or patterns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.netlist.elements.assembling import read_elements
    from topo.netlist.elements.telling import is_element_list
    from topo.netlist.elements.writing import write_elements

__all__ = ["is_element_list", "read_elements", "write_elements"]

_HOMES = {"is_element_list": "telling", "read_elements": "assembling", "write_elements": "writing"}


def __getattr__(name: str):
    """Import a function when it is first asked for."""
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
