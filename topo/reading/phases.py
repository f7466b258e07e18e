"""Whether the two devices of a pair are driven as a pair has to be."""

from __future__ import annotations

from collections.abc import Iterable

from topo.errors import Problem
from topo.netlist.circuit import Circuit
from topo.reading.claims import Claim, devices_of
from topo.reading.classes import node_of
from topo.reading.driving import Driven
from topo.views.view import Views

# Less than this share of the other's drive, and a device is not driven at all: its sense says nothing.
_LEAST_SHARE = 0.2


def phase_warnings(claims: Iterable[Claim], circuit: Circuit, views: Views, driven: Driven | None) -> list[Problem]:
    """Pairs of one polarity that are driven in phase, and pairs of opposite polarity that are driven in antiphase.

    The drive of a device is the signal between its control and emitting electrodes.
    """
    found: list[Problem] = []
    for claim in claims:
        devices = [device for device in devices_of(claim.match) if claim.stage and set(device.elements) <= claim.stage]
        if driven is None or claim.sort != "output" or len(devices) != 2:
            continue
        first, second = (driven.volts[node_of(d.ctl, views)] - driven.volts[node_of(d.emt, views)] for d in devices)
        product = (first * second.conjugate()).real
        least, most = sorted((abs(first), abs(second)))
        if least < _LEAST_SHARE * most or not most:
            continue
        alike = devices[0].polarity == devices[1].polarity
        if (product > 0.5 * least * most) if alike else (product < -0.5 * least * most):
            found.append(_problem(circuit, [device.name for device in devices], alike))
    return found


def _problem(circuit: Circuit, names: list[str], alike: bool) -> Problem:
    """The warning in words."""
    how = "in phase" if alike else "in antiphase"
    cause = "Are the start and finish of one winding exchanged?" if alike else "Is the polarity of one of them right?"
    place = circuit.part(names[0].split("+")[0].split("|")[0]).place
    message = f"{names[0]} and {names[1]} are driven {how}: as a pair they work against one another."
    return Problem(place, message, mend=cause, severity="warning", code="pair-in-phase")
