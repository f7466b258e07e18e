"""The reduction: a smaller circuit, and a ledger with an entry for every part of the original."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.netlist.circuit import Circuit
from topo.reading.reading import Reading

DETAILS = ("whole", "working", "principle")


@dataclass(frozen=True)
class Entry:
    """Fate of one original part: "kept", "merged" or "omitted".

    `detail` is the first level of detail at which it goes ("whole" for a merge that loses nothing; "" when it is
    kept throughout). `rule` is a short name (such as "supply decoupling"), `reason` a sentence with numbers,
    `into` the part it is merged into. `becomes` is "wire" or "nothing" for an omitted part.
    `changes` holds what this omission alone does: "gain dB", "current %", "volts".
    """

    part: str
    fate: str
    rule: str
    reason: str
    detail: str = ""
    into: str = ""
    becomes: str = ""
    changes: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Reduction:
    """A reduced circuit at one level of detail. `proof` says in sentences what solving it again gave."""

    reading: Reading
    detail: str
    circuit: Circuit
    ledger: tuple[Entry, ...]
    proof: tuple[str, ...] = ()
    totals: Mapping[str, float] = field(default_factory=dict)
