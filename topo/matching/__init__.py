"""Pattern files and views to matches: which sub-circuits a circuit holds, with the evidence for each.

Takes a library of patterns (YAML files, checked and compiled once) and the `Views` of a circuit; gives `Match`es, each
with its roles bound to parts, and evaluates the figures and texts of a match. The engine knows no pattern: nothing in
this folder names one. It must not know which matches are kept, nor anything of signal paths and explanations.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topo.matching.composites import compose
    from topo.matching.context import Context, evaluate, figures
    from topo.matching.engine import matches, matches_without
    from topo.matching.filling import fill
    from topo.matching.match import Device, Evidence, Match
    from topo.matching.shelf import Library, library

_HOMES = {
    "Context": "context",
    "Device": "match",
    "Evidence": "match",
    "Library": "shelf",
    "Match": "match",
    "compose": "composites",
    "evaluate": "context",
    "figures": "context",
    "fill": "filling",
    "library": "shelf",
    "matches": "engine",
    "matches_without": "engine",
}

__all__ = [
    "Context",
    "Device",
    "Evidence",
    "Library",
    "Match",
    "compose",
    "evaluate",
    "figures",
    "fill",
    "library",
    "matches",
    "matches_without",
]


def __getattr__(name: str):
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"topo.matching.{home}"), name)
