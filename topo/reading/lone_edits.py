"""Slips that take a single device out of work: terminals exchanged, a lead in the air, a resistor that is not there.

The likeliest come first: of the classes that `lone_edits` gives, one is tried only where those before it mend nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from topo.matching.kinds import ELECTRODES, VALVES
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.reading.edits import (
    Edit,
    alike,
    connections,
    exchanged_terminals,
    joined_pair,
    other_polarity,
    terminal_words,
)
from topo.views.view import Views

# Nothing leads a direct current through these, as far as is known.
_BLOCKS = frozenset({"capacitor", "crystal", "varactor", "opamp", "ic", "other", "jack", "plug", "terminal"})
# Nets with more connections than that are no loose ends of something.
_FEW = 3
_MOST_JOINS = 8
# A resistor that is not there is tried with these, ohms, by the lead that it would stand in (common practice).
_FEET = {"bipolar": (1e3, 100.0), "fet": (1e3, 220.0), "valve": (1.5e3, 220.0)}
_LOADS = {"bipolar": (1e3, 4.7e3), "fet": (2.2e3, 10e3), "valve": (100e3, 10e3)}
_LEAKS = {"fet": (1e6,), "valve": (1e6,)}
_BASE_VOLTS = (1.6, 3.0)
_FROM_NOTHING = (220e3, 1e6)


def lone_edits(views: Views, ref: str) -> tuple[Iterator[Edit], ...]:
    """The edits that may put a device to work, by classes: leads joined, terminals exchanged, a resistor added."""
    part = views.graph.circuit.part(ref)
    return (
        _leads_joined(views.graph.circuit, part),
        _exchanged(views.graph.circuit, part),
        _resistors_added(views, part),
    )


def _exchanged(circuit: Circuit, part: Part) -> Iterator[Edit]:
    yield from other_polarity(circuit, part)
    yield from exchanged_terminals(circuit, part)


def _leads_joined(circuit: Circuit, part: Part) -> Iterator[Edit]:
    """Ends that nothing else is on, joined with the device's nets; an electrode's, with loose ends about it."""
    table = connections(circuit)
    fixed = _fixed(circuit)
    own = [net for name in ELECTRODES[part.kind] if (net := _net(part, name)) is not None]
    loose = [net for net in circuit.nets if len(table[net]) == 1 and net not in fixed]
    pairs: dict[frozenset[str], tuple[str, str]] = {}
    for net in loose:
        if net in own:
            few = [other for other in circuit.nets if other not in own and 1 <= len(table[other]) <= _FEW]
            others = [*alike(net, circuit.nets), *(other for other in few if other not in fixed)]
        else:
            others = [*alike(net, circuit.nets), *own]
        for other in dict.fromkeys(others):
            if other != net:
                pairs.setdefault(frozenset((net, other)), (net, other))
    ranked = sorted(pairs.values(), key=lambda pair: pair[1] not in alike(pair[0], circuit.nets))
    for net, other in ranked[:_MOST_JOINS]:
        yield joined_pair(circuit, net, other)


def _resistors_added(views: Views, part: Part) -> Iterator[Edit]:
    """A resistor to a rail where an electrode has no way for its direct current, or a base only one to its emitter's
    rail or to the collector's."""
    circuit = views.graph.circuit
    low, high = _rails(views, part)
    reached = _direct_ways(circuit)
    family = "valve" if part.kind in VALVES else "bipolar" if part.kind in ("npn", "pnp") else "fet"
    control, emitter, collector = ELECTRODES[part.kind]
    plan = [(emitter, low, _FEET[family]), (collector, high, _LOADS[family]), (control, low, _LEAKS.get(family, ()))]
    for name, rail, values in plan:
        net = _net(part, name)
        if net is not None and not reached[net] & _fixed(circuit):
            for ohms in values:
                yield _added(circuit, part, name, net, rail, ohms)
    net = _net(part, control)
    if family == "bipolar" and net is not None:
        ends = reached[net] & _fixed(circuit)
        yield from _base_fed(views, part, control, net, ends, (low, high))


def _base_fed(
    views: Views, part: Part, control: str, net: str, ends: set[str], rails: tuple[str, str]
) -> Iterator[Edit]:
    """A base that hangs on nothing, or by resistors on one rail alone, with the other resistor of its divider."""
    circuit = views.graph.circuit
    low, high = rails
    volts = abs(_volts(views, high) - _volts(views, low))
    here = [
        item
        for item in circuit.parts
        if item.kind == "resistor" and item.value and net in {terminal.net for terminal in item.terminals}
    ]
    lower = [item.value for item in here if low in {terminal.net for terminal in item.terminals} and item.value]
    upper = [item.value for item in here if high in {terminal.net for terminal in item.terminals} and item.value]
    if not ends:
        for ohms in _FROM_NOTHING:
            yield _added(circuit, part, control, net, high, ohms)
    elif high not in ends and lower:
        for wanted in _BASE_VOLTS:
            if volts > 2 * wanted:
                yield _added(circuit, part, control, net, high, min(lower) * (volts / wanted - 1.0))
    elif low not in ends and upper:
        for wanted in _BASE_VOLTS:
            if volts > 2 * wanted:
                yield _added(circuit, part, control, net, low, min(upper) / (volts / wanted - 1.0))


def _added(circuit: Circuit, part: Part, name: str, net: str, rail: str, ohms: float) -> Edit:
    """The circuit with a resistor from a rail to an electrode's net."""
    ref = "R" + "0" * (1 + max((len(item.ref) for item in circuit.parts), default=0))
    new = Part(ref, "resistor", (Terminal("1", rail), Terminal("2", net)), ohms)
    terminal = next(item for item in part.terminals if item.name == name)
    place = terminal.place if terminal.place.line else part.place
    return Edit(
        replace(circuit, parts=(*circuit.parts, new)),
        f"nothing leads a direct current from {rail} to {terminal_words(part, terminal)}, net {net}",
        f"is a line missing, such as a resistor from {rail} to {net}?",
        frozenset([part.ref]),
        part.ref,
        place,
        part.source,
    )


def _net(part: Part, name: str) -> str | None:
    return next((terminal.net for terminal in part.terminals if terminal.name == name), None)


def _fixed(circuit: Circuit) -> set[str]:
    """Ground and the rails, by name."""
    return {circuit.ground, *(supply.net for supply in circuit.supplies)}


def _rails(views: Views, part: Part) -> tuple[str, str]:
    """The rails that a device's current leaves by and comes from: of emitter and collector."""
    circuit = views.graph.circuit
    rails = sorted(_fixed(circuit), key=lambda net: (_volts(views, net), net))
    n = part.kind in ("npn", "njfet", "nmos", *VALVES)
    return (rails[0], rails[-1]) if n else (rails[-1], rails[0])


def _volts(views: Views, net: str) -> float:
    volts = views.point.voltage(net)
    return volts if math.isfinite(volts) else 0.0


def _direct_ways(circuit: Circuit) -> dict[str, set[str]]:
    """For each net the nets to which parts without electrodes lead a direct current from it; not on round a rail."""
    fixed = _fixed(circuit)
    beside: dict[str, set[str]] = {net: set() for net in circuit.nets}
    for part in circuit.parts:
        if part.kind in _BLOCKS or part.kind in ELECTRODES:
            continue
        groups = [{terminal.net for terminal in part.terminals}]
        if part.windings:
            groups = [{part.net(name) for name in winding.terminals} for winding in part.windings]
        for group in groups:
            for net in group:
                beside.setdefault(net, set()).update(group)
    found = {}
    for start in beside:
        seen, queue = {start}, [start]
        while queue:
            net = queue.pop()
            for other in beside[net] if net not in fixed or net == start else ():
                if other not in seen:
                    seen.add(other)
                    queue.append(other)
        found[start] = seen
    return found
