"""Whether the two devices of a pair are driven as a pair has to be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from topo.errors import Problem
from topo.matching.match import Device
from topo.netlist.circuit import Circuit, Part
from topo.reading.claims import Claim, devices_of
from topo.reading.classes import node_of
from topo.reading.driving import Driven
from topo.views.view import Views

# Less than this share of the other's drive, and a device is not driven at all: its sense says nothing.
_LEAST_SHARE = 0.2
# More nets than this beside a control electrode are no lead.
_FEW_NETS = 8


def phase_warnings(claims: Iterable[Claim], circuit: Circuit, views: Views, driven: Driven | None) -> list[Problem]:
    """Pairs of one polarity that are driven in phase, and pairs of opposite polarity that are driven in antiphase.

    The drive of a device is the signal at its control electrode with its emitting electrode held still: what the other
    device does to the output they share is no drive.
    """
    found: list[Problem] = []
    for claim in claims:
        devices = [device for device in devices_of(claim.match) if claim.stage and set(device.elements) <= claim.stage]
        if driven is None or claim.sort != "output" or len(devices) != 2:
            continue
        first, second = (_drive_of(device, views, driven) for device in devices)
        product = (first * second.conjugate()).real
        least, most = sorted((abs(first), abs(second)))
        if least < _LEAST_SHARE * most or not most:
            continue
        alike = devices[0].polarity == devices[1].polarity
        if (product > 0.5 * least * most) if alike else (product < -0.5 * least * most):
            found.append(
                _problem(circuit, [device.name for device in devices], alike, _drives(devices, circuit, views))
            )
    return found


def _drive_of(device: Device, views: Views, driven: Driven) -> complex:
    """Volts at the control electrode for one ampere into the input, the emitting electrode held still."""
    control, emitting = node_of(device.ctl, views), node_of(device.emt, views)
    linear = views.linears[0] if views.linears else None
    if linear is None or not abs(driven.volts[emitting]):
        return driven.volts[control] - driven.volts[emitting]
    table = linear.impedances(driven.frequency)
    own = table[emitting, emitting]
    held = driven.volts[emitting] / own if abs(own) > 0 else 0.0
    return complex(driven.volts[control] - table[control, emitting] * held)


def _drives(devices: Sequence[Device], circuit: Circuit, views: Views) -> Part | None:
    """The transformer that both control electrodes hang on, directly or behind one part; None if there is none."""
    graph = views.graph
    reach = []
    for device in devices:
        node = node_of(device.ctl, views)
        beside = {other for index, _ in graph.at_node[node] for other in graph.elements[index].nodes if other}
        reach.append(
            {graph.nets[other] for other in (beside if len(beside) <= _FEW_NETS else {node})} | {graph.nets[node]}
        )
    for part in circuit.parts:
        nets = {terminal.net for terminal in part.terminals}
        if part.kind == "transformer" and all(nets & near for near in reach):
            own = [{graph.nets[node_of(device.ctl, views)]} for device in devices]
            if all(nets & near for near in own) or not any(nets & near for near in own):
                return part
    return None


def _problem(circuit: Circuit, names: list[str], alike: bool, drive: Part | None) -> Problem:
    """The warning in words."""
    how = "in phase" if alike else "in antiphase"
    cause = "Are the start and finish of one winding exchanged?" if alike else "Is the polarity of one of them right?"
    part = drive if alike and drive is not None else circuit.part(names[0].split("+")[0].split("|")[0])
    if part is drive:
        cause = f"Are two ends of a winding of {part.ref} exchanged?"
    message = f"{names[0]} and {names[1]} are driven {how}: as a pair they work against one another."
    source = part.source.split("\n")[0]
    return Problem(part.place, message, mend=cause, source=source, severity="warning", code="pair-in-phase")
