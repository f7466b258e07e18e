"""A circuit turned over: every polarity the other way, which changes nothing of what it is."""

from __future__ import annotations

from dataclasses import replace

from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit, Part
from topo.reading import read
from topo.reading.reading import Reading

OTHER_POLARITY = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}
_SIGNS = {"npn": 1, "njfet": 1, "nmos": 1, "pnp": -1, "pjfet": -1, "pmos": -1}
_ONE_POLARITY_ONLY = frozenset({"triode", "tetrode", "pentode", "opamp", "regulator", "ic", "other"})
_DIRECTED = frozenset({"diode", "rectifier", "led", "zener", "varactor", "battery", "source", "current"})
_SIGNED = ("VTH", "VP")


def right_way_up(first: Reading, second: Reading, library: Library) -> tuple[Reading, bool]:
    """The second reading as it is, or that of the second circuit turned over, where it is the other way up than the
    first: what is the upper part of the one is then the upper part of the other. Says whether it was turned."""
    ways = _way_up(first.circuit), _way_up(second.circuit)
    if ways[0] * ways[1] >= 0 or any(part.kind in _ONE_POLARITY_ONLY for part in second.circuit.parts):
        return second, False
    return read(turned_over(second.circuit), library), True


def _way_up(circuit: Circuit) -> int:
    """1 for supplies above ground, -1 for supplies below it; where these balance, by the polarity of most devices."""
    volts = sum(supply.volts for supply in circuit.supplies)
    largest = max((abs(supply.volts) for supply in circuit.supplies), default=0.0)
    if abs(volts) > 0.1 * largest:
        return 1 if volts > 0 else -1
    most = sum(_SIGNS.get(part.kind, 0) for part in circuit.parts)
    return (most > 0) - (most < 0)


def turned_over(circuit: Circuit) -> Circuit:
    """The circuit with every polarity the other way: devices, diodes, electrolytic capacitors, supplies."""
    supplies = tuple(replace(supply, volts=-supply.volts) for supply in circuit.supplies)
    return replace(circuit, supplies=supplies, parts=tuple(_turned(part) for part in circuit.parts))


def _turned(part: Part) -> Part:
    if part.kind in OTHER_POLARITY:
        params = {name: -value if name in _SIGNED else value for name, value in part.params.items()}
        return replace(part, kind=OTHER_POLARITY[part.kind], params=params)
    if (part.kind in _DIRECTED or part.settings.get("polarised")) and len(part.terminals) == 2:
        first, second = part.terminals
        return replace(part, terminals=(replace(first, net=second.net), replace(second, net=first.net)))
    return part
