"""Which devices a bias trimmer acts on, by moving its wiper and solving again."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from topo.analysis import operating_point
from topo.graph import normalise
from topo.netlist.circuit import Circuit
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


def bias_trimmers(claims: Iterable[Claim], views: Views) -> dict[str, tuple[str, ...]]:
    """For each potentiometer in a kept bias claim, the devices beyond it whose current it moves, in file order."""
    kept = list(claims)
    circuit = views.graph.circuit
    settled = {ref for claim in kept if claim.sort == "bias" for ref in claim.match.claimed}
    own = frozenset[int]().union(*(c.devices for c in kept if c.sort == "bias" and not c.match.components))
    found: dict[str, tuple[str, ...]] = {}
    for part in circuit.parts:
        if part.kind == "potentiometer" and part.ref in settled:
            for travel in (_TRAVEL, _ALL_THE_WAY):
                moved = moved_by(circuit, part.ref, views, travel)
                acted = tuple(ref for ref in moved if views.graph.element_of[ref] not in own)
                if acted:
                    found[part.ref] = acted
                    break
    return found


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
    part = circuit.part(ref)
    at = part.settings.get("at")
    place = min(1.0, max(0.0, (float(at) if isinstance(at, (int, float)) else 0.5) + travel))
    moved = replace(part, settings={**part.settings, "at": place})
    other = replace(circuit, parts=tuple(moved if item.ref == ref else item for item in circuit.parts))
    graph = normalise(other)
    point = operating_point(graph)
    found: dict[str, float] = {}
    for element in graph.elements:
        terminal = electrode(element, "col")
        if terminal is not None:
            current = abs(point.currents[element.index][element.terminals.index(terminal)])
            found.update(dict.fromkeys(element.members, current))
    return found
