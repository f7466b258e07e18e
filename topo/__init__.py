"""Makes sense of an amplifier schematic: from a plain-text netlist to a reading, a reduced circuit and an explanation.

    >>> import topo
    >>> circuit = topo.load("samples/intercom.net")    # doctest: +SKIP
    >>> reading = topo.read(circuit)                   # doctest: +SKIP
    >>> print(reading.summary)                         # doctest: +SKIP

The names below are fetched when they are first used, so that `import topo` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.comparison import compare as compare
    from topo.explanation import explain as explain
    from topo.netlist import check as check
    from topo.netlist import load as load
    from topo.netlist import loads as loads
    from topo.netlist import write as write
    from topo.reading import read as read
    from topo.reduction import reduce as reduce

_HOMES = {
    "load": "topo.netlist",
    "loads": "topo.netlist",
    "check": "topo.netlist",
    "write": "topo.netlist",
    "read": "topo.reading",
    "reduce": "topo.reduction",
    "compare": "topo.comparison",
    "explain": "topo.explanation",
}

__all__ = ["check", "compare", "explain", "load", "loads", "read", "reduce", "write"]


def __getattr__(name: str):
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'topo' has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
