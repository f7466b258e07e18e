"""Matches to a reading: the one consistent interpretation of a circuit.

Takes a Circuit (and, if need be, a pattern library) and gives a Reading: which claims are kept, the stages in
signal order, the signal path by real power, feedback with its sign, what bias serves what, the class of operation
of each stage, what was not recognised, and near misses. It must not know the name of any pattern: how a claim is
settled comes from the pattern's own `reading` keys and from the circuit's numbers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.reading.interpretation import read as read

__all__ = ["read"]


def __getattr__(name: str):
    if name == "read":
        from topo.reading.interpretation import read

        return read
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
