"""Which devices a bias trimmer acts on, by moving its wiper and solving again."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from topo.analysis import OperatingPoint, operating_point
from topo.graph import normalise
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES
from topo.reading.claims import Claim
from topo.reading.flow import electrode
from topo.views.view import Views

# The wiper's travel for the trial, and the least effect that counts: of the greatest one, and alone.
_TRAVEL = 0.05
# Devices that are off move with a wiper only beyond some place: for them it goes to each end.
_ALL_THE_WAY = 1.0
_SHARE_OF_GREATEST = 0.2
_LEAST_CHANGE = 0.01
# Added to each current before the ratio is taken, so that a device that is off has no infinite change, amperes.
_FLOOR = 1e-6
# Of the whole supply voltage: a trimmer that moves the output's direct voltage by less over the trial does not set it.
_OFFSET = 0.001
# The same of currents: what changes by less does not follow the wiper.
_BOTH_STILL = 0.3


def bias_trimmers(claims: Iterable[Claim], views: Views) -> dict[str, tuple[str, ...]]:
    """For each potentiometer of a kept bias claim, or of none at all, the devices whose current it moves, in file
    order; one that sets the direct voltage of an output is none of them."""
    kept = list(claims)
    circuit = views.graph.circuit
    settled = {ref for claim in kept if claim.sort == "bias" for ref in claim.match.claimed}
    claimed = {ref for claim in kept for ref in claim.match.claimed}
    own = frozenset[int]().union(*(c.devices for c in kept if c.sort == "bias" and not c.match.components))
    found: dict[str, tuple[str, ...]] = {}
    for part in circuit.parts:
        if part.kind == "potentiometer" and (part.ref in settled or part.ref not in claimed):
            if sets_output(circuit, part.ref):
                continue
            for travel in (_TRAVEL, _ALL_THE_WAY):
                moved = moved_by(circuit, part.ref, views, travel)
                acted = tuple(ref for ref in moved if views.graph.element_of[ref] not in own)
                if acted:
                    found[part.ref] = _at_work(circuit, part.ref, acted, views, own)
                    break
    return found


def _at_work(circuit: Circuit, ref: str, acted: tuple[str, ...], views: Views, own: frozenset[int]) -> tuple[str, ...]:
    """The devices acted on, or those behind them that are off as typed and carry nearly all once the wiper is moved."""
    ends = [_currents_with(circuit, ref, way) for way in (_ALL_THE_WAY, -_ALL_THE_WAY)]
    change = {name: abs(ends[0][name] - ends[1][name]) for name in ends[0] if math.isfinite(ends[0][name])}
    change = {name: amount for name, amount in change.items() if math.isfinite(amount)}
    greatest = max(change.values(), default=0.0)
    if max((change.get(name, math.inf) for name in acted), default=0.0) >= _SHARE_OF_GREATEST * greatest:
        return acted
    behind = tuple(
        part.ref
        for part in circuit.parts
        if change.get(part.ref, 0.0) >= _SHARE_OF_GREATEST * greatest and views.graph.element_of[part.ref] not in own
    )
    return behind or acted


def output_nets(circuit: Circuit) -> tuple[str, ...]:
    """The nets of the outputs, each before the capacitor that blocks its direct voltage, where there is one."""
    found = []
    for port in circuit.outputs:
        beyond = [part for part in circuit.parts if part.kind == "capacitor" and port.net in _nets(part)]
        others = [net for part in beyond for net in _nets(part) if net not in (port.net, port.reference)]
        found.append(others[0] if len(others) == 1 else port.net)
    return tuple(found)


def sets_output(circuit: Circuit, ref: str) -> bool:
    """Whether a potentiometer sets the direct voltage of an output between devices in series across the supply.

    It does where the output moves, and what the devices deliver to it and draw from it goes apart rather than up.
    """
    volts = [supply.volts for supply in circuit.supplies]
    span = max((*volts, 0.0)) - min((*volts, 0.0))
    nets = output_nets(circuit)
    if not nets or not span:
        return False
    here, there = (operating_point(_with_wiper(circuit, ref, way)) for way in (-_TRAVEL, _TRAVEL))
    for net in nets:
        move = abs(there.voltage(net) - here.voltage(net))
        (given, drawn), (given_then, drawn_then) = _at_output(here, net), _at_output(there, net)
        if not min(given, drawn, given_then, drawn_then) > 0 or not move > _OFFSET * span:
            continue
        up, down = (
            math.log((given_then + _FLOOR) / (given + _FLOOR)),
            math.log((drawn_then + _FLOOR) / (drawn + _FLOOR)),
        )
        if abs(up + down) < max(abs(up - down), _BOTH_STILL):
            return True
    return False


def _nets(part: Part) -> tuple[str, ...]:
    return tuple(terminal.net for terminal in part.terminals)


def _at_output(point: OperatingPoint, net: str) -> tuple[float, float]:
    """Amperes that devices at a net, or one resistor from it, deliver to it and draw from it."""
    circuit = point.graph.circuit
    near = {net} | {
        other for part in circuit.parts if part.kind == "resistor" and net in _nets(part) for other in _nets(part)
    }
    given = drawn = 0.0
    for part in circuit.parts:
        for name in ELECTRODES.get(part.kind, ())[1:]:
            if part.net(name) in near:
                amperes = point.current(part.ref, name)
                given, drawn = given + max(-amperes, 0.0), drawn + max(amperes, 0.0)
    return given, drawn


def _with_wiper(circuit: Circuit, ref: str, travel: float) -> Circuit:
    """The circuit with a wiper moved by a share of its way, kept within its ends."""
    part = circuit.part(ref)
    at = part.settings.get("at")
    place = min(1.0, max(0.0, (float(at) if isinstance(at, (int, float)) else 0.5) + travel))
    moved = replace(part, settings={**part.settings, "at": place})
    return replace(circuit, parts=tuple(moved if item.ref == ref else item for item in circuit.parts))


def moved_by(circuit: Circuit, ref: str, views: Views, way: float = _TRAVEL) -> tuple[str, ...]:
    """Designators of the devices whose current at rest follows a potentiometer's wiper over a share of its way."""
    before = _device_currents(views)
    effect: dict[str, float] = {}
    for travel in (way, -way):
        for name, value in _currents_with(circuit, ref, travel).items():
            change = abs(math.log((value + _FLOOR) / (before[name] + _FLOOR))) if name in before else math.nan
            if math.isfinite(change):
                effect[name] = max(effect.get(name, 0.0), change)
    limit = max(_LEAST_CHANGE, _SHARE_OF_GREATEST * max(effect.values(), default=0.0))
    return tuple(part.ref for part in circuit.parts if effect.get(part.ref, 0.0) >= limit)


def _device_currents(views: Views) -> dict[str, float]:
    """Amperes at rest of each device, by designator."""
    found: dict[str, float] = {}
    for element in views.graph.elements:
        terminal = electrode(element, "col")
        if terminal is not None:
            current = abs(views.point.currents[element.index][element.terminals.index(terminal)])
            found.update(dict.fromkeys(element.members, current))
    return found


def _currents_with(circuit: Circuit, ref: str, travel: float) -> dict[str, float]:
    """Device currents with a wiper moved by a share of its way, kept within its ends."""
    graph = normalise(_with_wiper(circuit, ref, travel))
    point = operating_point(graph)
    found: dict[str, float] = {}
    for element in graph.elements:
        terminal = electrode(element, "col")
        if terminal is not None:
            current = abs(point.currents[element.index][element.terminals.index(terminal)])
            found.update(dict.fromkeys(element.members, current))
    return found
