"""The reduction: a smaller circuit, and a ledger with an entry for every part of the original."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from topo.netlist.circuit import Circuit
from topo.reading.reading import Reading

if TYPE_CHECKING:
    from topo.reduction.bias_sources import BiasSource
    from topo.reduction.decisions import Proposal

DETAILS = ("whole", "working", "principle")


@dataclass(frozen=True)
class Entry:
    """Fate of one original part: "kept", "merged" or "omitted".

    `detail` is the first level of detail at which it goes ("whole" for a merge that loses nothing; "" when it is
    kept throughout). `rule` is a short name (such as "supply decoupling"), `reason` a sentence with numbers,
    `into` the part it is merged into. `becomes` is "wire" or "nothing" for an omitted part.
    `together` are the parts that go in one step with it (a decoupling resistor with its capacitor), itself among them;
    `number` is the part's class in the pattern catalogue's section 14.2 (see `topo.reduction.classes`), 0 for none;
    `test` holds the numbers that were tested, SI units: "own ohm" against "facing ohm", "drop volts", "share", ...

    What leaving out this part alone changes (filled by `with_changes`): `changes` holds "gain dB", "current %" and
    "volts" (the largest of any device), "low edge octaves", "high edge octaves"; `devices` "current %" and "volts" of
    each device; `beyond` the edges that moved by more than is said; `words` all this in words; `missing` what could
    not be compared, and why. `joint` says in words what all of `together` change, where those are several.
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
    number: int = 0
    test: Mapping[str, float] = field(default_factory=dict)
    devices: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    beyond: tuple[str, ...] = ()
    words: str = ""
    missing: str = ""
    joint: str = ""


@dataclass(frozen=True)
class Reduction:
    """A reduced circuit at one level of detail. `proof` says in sentences what solving it again gave.

    `totals` holds the changes against the original: "gain dB", "current %" (the largest of any device's quiescent
    current), "volts" (the largest of any collector's, drain's or anode's), "low edge octaves" and "high edge octaves";
    a quantity that cannot be compared is missing, and `missing` says why. `devices` holds "current %" and "volts" of
    each device. `sources` are the ideal bias sources that stand for bias networks; `steps` what went together.
    """

    reading: Reading
    detail: str
    circuit: Circuit
    ledger: tuple[Entry, ...]
    proof: tuple[str, ...] = ()
    totals: Mapping[str, float] = field(default_factory=dict)
    devices: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    missing: str = ""
    sources: tuple[BiasSource, ...] = ()
    steps: tuple[Proposal, ...] = ()

    def fates(self, fate: str) -> tuple[str, ...]:
        """Designators of one fate, in the order of the file."""
        return tuple(entry.part for entry in self.ledger if entry.fate == fate)
