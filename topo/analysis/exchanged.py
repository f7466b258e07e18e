"""Drain and source of field-effect transistors that a list names by their order alone: told apart by the current."""

from __future__ import annotations

import math
from dataclasses import replace

from topo.analysis.devices.bipolar import ON_AMPERE
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.parameters import P_TYPES
from topo.errors import Problem
from topo.netlist.circuit import Circuit, Part

CLEAR_VOLT = 0.05
"""Between the ends of a channel: with less across it nobody can tell which of them is the source."""


def set_right(circuit: Circuit) -> Circuit:
    """The circuit with drain and source exchanged where the current at rest says so, and a note for each.

    Only the devices of `circuit.by_order` are looked at: where a netlist names the electrodes they stay as named.
    The two ends of a channel are alike in the device's law, so that no voltage changes. A MOSFET whose substrate is
    on its source (or that does not say) has a diode from end to end, which tells them apart: one that works as a
    closed switch may well carry its current backwards, and stays as it is.
    """
    if not circuit.by_order:
        return circuit
    from topo.analysis.solving import solve

    point = solve(circuit)
    turned = {part.ref for part in circuit.parts if part.ref in circuit.by_order and _is_turned(part, point)}
    if not turned:
        return replace(circuit, by_order=frozenset())
    parts = tuple(_exchanged(part) if part.ref in turned else part for part in circuit.parts)
    notes = tuple(_note(part) for part in circuit.parts if part.ref in turned)
    return replace(circuit, parts=parts, by_order=frozenset(), warnings=(*circuit.warnings, *notes))


def _is_turned(part: Part, point: OperatingPoint) -> bool:
    """Whether a device's current at rest flows out of what is called its drain (into it, for a p-channel one)."""
    index = point.graph.element_of.get(part.ref)
    if index is None:
        return False
    sign = -1.0 if part.kind in P_TYPES else 1.0
    volts, amperes = sign * point.voltage(part.net("d"), part.net("s")), sign * point.current(part.ref, "d")
    if math.isnan(volts) or math.isnan(amperes) or volts > -CLEAR_VOLT or amperes > -ON_AMPERE:
        return False
    has_diode = part.kind in ("nmos", "pmos") and not any(terminal.name == "b" for terminal in part.terminals)
    return not has_diode or point.states.get(index) == "reversed"


def _exchanged(part: Part) -> Part:
    """A part with its drain on the net of its source, and the other way round."""
    at = {terminal.name: terminal for terminal in part.terminals}
    other = {"d": "s", "s": "d"}
    terminals = tuple(
        replace(at[other.get(terminal.name, terminal.name)], name=terminal.name) for terminal in part.terminals
    )
    return replace(part, terminals=terminals)


def _note(part: Part) -> Problem:
    """The note of a part as it was typed."""
    drain, source = part.net("d"), part.net("s")
    way = (drain, source) if part.kind in P_TYPES else (source, drain)
    message = (
        f"drain and source of {part.ref} are exchanged: at rest its current flows from {way[0]} to {way[1]}, so"
        f" {source} is taken for the net of its drain."
    )
    return Problem(part.place, message, "", "", part.source.split("\n")[0], "note", "ends-exchanged")
