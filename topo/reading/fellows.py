"""The single part with a tenth or ten times of the value that all others of the same work have.

Bypass capacitors of one circuit are mostly of one value, and so are the resistors through which its stages are fed.
What work a part does is taken from its place alone: a plain capacitor to ground, a resistor from a supply to a net that
a capacitor holds. Capacitors of 1, 10 and 100 are mixed on purpose more often than those of other figures, so more
fellows are asked for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from topo.errors import Problem
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import kind_of
from topo.quantities import show

# So many fellows of one value tell what is usual: resistors, capacitors, capacitors of a power of ten.
_RESISTORS, _CAPACITORS, _ROUND_CAPACITORS = 2, 4, 6
_TIMES = (10.0, 0.1)


def odd_ones_out(circuit: Circuit) -> Iterator[Problem]:
    """A question about each part of a value of its own that is a decade off the one that its fellows share."""
    sort_of = _sorts(circuit)
    counts = Counter((part.kind, part.value) for part in circuit.parts)
    groups: dict[tuple[str, str], list[Part]] = {}
    for part in circuit.parts:
        sort = sort_of(part)
        if sort and part.value:
            groups.setdefault((part.kind, sort), []).append(part)
    for (kind, sort), parts in groups.items():
        for part in parts:
            if counts[kind, part.value] > 1 or _has_company(part, circuit):
                continue
            for times in _TIMES:
                value = (part.value or 0.0) * times
                fellows = [other for other in parts if math.isclose(other.value or 0.0, value, rel_tol=1e-6)]
                if fellows and len(fellows) >= _least(kind, value):
                    yield _out(part, fellows, sort)


def _least(kind: str, value: float) -> int:
    """How many fellows of a value have to be there."""
    if kind == "resistor":
        return _RESISTORS
    decade = math.log10(value)
    return _ROUND_CAPACITORS if math.isclose(decade, round(decade), abs_tol=1e-6) else _CAPACITORS


def _out(part: Part, fellows: Sequence[Part], sort: str) -> Problem:
    unit = kind_of(part.kind).unit
    usual = show(fellows[0].value, unit)
    named = ", ".join(other.ref for other in fellows[:3])
    more = f" and {len(fellows) - 3} more" if len(fellows) > 3 else ""
    message = (
        f"{part.ref} ({show(part.value, unit)}) {sort}, as {named}{more} of {usual} do: a single value ten times off "
        "the others looks like a slip."
    )
    mend = f"Was {usual} meant?"
    return Problem(part.place, message, "", mend, part.source.split("\n")[0], "note", "odd-one-out")


def _has_company(part: Part, circuit: Circuit) -> bool:
    """Whether another part of the kind lies on the same two nets."""
    nets = {terminal.net for terminal in part.terminals}
    return any(
        other is not part and other.kind == part.kind and {terminal.net for terminal in other.terminals} == nets
        for other in circuit.parts
    )


def _sorts(circuit: Circuit) -> Callable[[Part], str]:
    """What a capacitor or a resistor does by its place alone, in words; "" where that does not tell."""
    rails = {supply.net for supply in circuit.supplies}
    rails |= {
        terminal.net
        for part in circuit.parts
        if part.kind in ("switch", "fuse") and any(item.net in rails for item in part.terminals)
        for terminal in part.terminals
    }
    held = {
        terminal.net
        for part in circuit.parts
        if part.kind == "capacitor" and any(item.net == circuit.ground for item in part.terminals)
        for terminal in part.terminals
    } - {circuit.ground}

    def sort(part: Part) -> str:
        nets = {terminal.net for terminal in part.terminals}
        if len(part.terminals) != 2 or len(nets) != 2:
            return ""
        if part.kind == "capacitor" and not part.settings.get("polarised") and circuit.ground in nets:
            return "goes to ground"
        if part.kind == "resistor" and len(nets & rails) == 1 and nets - rails <= held:
            return "feeds a net with a capacitor to ground"
        return ""

    return sort
