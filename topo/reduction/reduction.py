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
    `together` are the parts that go in one step with it (a decoupling resistor with its capacitor), itself among them;
    `changes` holds what this step alone does: "gain dB", "current %", "volts".
    """

    part: str
    fate: str
    rule: str
    reason: str
    detail: str = ""
    into: str = ""
    becomes: str = ""
    together: tuple[str, ...] = ()
    changes: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Reduction:
    """A reduced circuit at one level of detail. `proof` says in sentences what solving it again gave.

    `totals` holds the changes against the original: "gain dB", "current %" (the largest of any device's quiescent
    current) and "volts" (the largest of any collector's, drain's or anode's); a quantity that
    cannot be compared is missing.
    """

    reading: Reading
    detail: str
    circuit: Circuit
    ledger: tuple[Entry, ...]
    proof: tuple[str, ...] = ()
    totals: Mapping[str, float] = field(default_factory=dict)

    def fates(self, fate: str) -> tuple[str, ...]:
        """Designators of one fate, in the order of the file."""
        return tuple(entry.part for entry in self.ledger if entry.fate == fate)
