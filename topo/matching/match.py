"""What the matcher gives: a pattern's roles bound to parts and nets, with the evidence for each join."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Device:
    """An active device, single or compound, with the three generic terminals.

    `ctl`, `emt` and `col` are (element index, terminal name). `polarity` is "n" or "p" (valves: "n"); for a
    compound it is the polarity that it acts with. `family` is "bipolar", "fet" or "valve". `make` is "single" or the
    slug of the compound's pattern. `elements` are all its device elements; `parts` all designators that belong to it.
    `state` is that of the operating point: "on", "off", "saturated", "reversed", or "" where not known.
    """

    index: int
    name: str
    polarity: str
    family: str
    make: str
    elements: tuple[int, ...]
    parts: tuple[str, ...]
    ctl: tuple[int, str]
    emt: tuple[int, str]
    col: tuple[int, str]
    state: str = ""


@dataclass(frozen=True)
class Evidence:
    """Why a join holds: the join as written in the pattern, its view, and the parts that it passed through."""

    view: str
    join: str
    through: tuple[str, ...] = ()


@dataclass(frozen=True)
class Match:
    """One match of one pattern.

    `roles` maps each bound role to its designators (every member of a merged element). `handles` maps it to what was
    bound: a tuple of Device, Branch, Element or WindingElement. `nets` maps net names of the pattern to (view name,
    class). `claimed` are the designators of roles that are not witnesses, passed parts included. `undecided` are
    conditions that rest on something not known. `band` is the index of the signal view. `components` are those of a
    composite, `missing` the join that was left out, `variant` the pattern's variant. `things`, `bound_nets` (by number
    of the view: class and node) and `turned_over` (the pattern's mirror image was found) are what expressions are
    evaluated on.
    """

    pattern: str
    roles: Mapping[str, tuple[str, ...]]
    handles: Mapping[str, tuple[object, ...]]
    nets: Mapping[str, tuple[str, int]]
    claimed: frozenset[str]
    evidence: tuple[Evidence, ...] = ()
    undecided: tuple[str, ...] = ()
    band: int = 0
    components: Mapping[str, Match] = field(default_factory=dict)
    missing: str = ""
    variant: str = ""
    things: Mapping[str, tuple[Any, ...]] = field(default_factory=dict, compare=False, repr=False)
    bound_nets: Mapping[str, Mapping[int, tuple[int, int]]] = field(default_factory=dict, compare=False, repr=False)
    turned_over: bool = False
