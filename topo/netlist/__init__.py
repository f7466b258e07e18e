"""Takes the text of a netlist and gives a Circuit, or every problem of the text; writes a Circuit as text again.

It knows the language (`grammar/netlist.lark` for the shape of lines, `kinds.py` for parts) and what can be asked of a
circuit by its connections alone. It must not know voltages, views or patterns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.netlist.checks import check
    from topo.netlist.loading import load, load_stream, loads
    from topo.netlist.writing import write

__all__ = ["check", "load", "load_stream", "loads", "write"]

_HOMES = {"check": "checks", "load": "loading", "load_stream": "loading", "loads": "loading", "write": "writing"}


def __getattr__(name: str):
    """Import a stage's function when it is first asked for."""
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
