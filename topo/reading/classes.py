"""Class of operation of each stage, with the numbers it rests on.

The current at rest is compared with the peak current that a full swing in class A would take of the device: the
load, with all devices taken out, and the voltage across the device at rest set it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from topo.matching.devices import are_parallel
from topo.matching.match import Device
from topo.quantities import show
from topo.reading.claims import Claim, devices_of
from topo.reading.flow import electrode
from topo.reading.reading import StageClass
from topo.views.view import Lead, View, Views

# Ratio of the current at rest to the peak of a full class-A swing. Between correct circuits of all families class A
# came out at 0.64 to 0.88 (single-ended ones above), AB at 0.01 to 0.38, B at 0: the limits lie in the gaps.
LEAST_FOR_A = 0.6
LEAST_FOR_AB = 0.002
NEAR_LIMIT = (0.4, 0.8)
# Radio frequency, for class C: a stage without bias that idles off on purpose.
RADIO_FREQUENCY = 100e3
_SIGNAL_SORTS = frozenset({"stage", "driver", "splitter", "output"})
_PAIR_SORTS = frozenset({"driver", "output"})
# The widest drop of an emitter or collector lead of a power pair, volts.
_PAIR_LEAD = 1.3


def classes(claims: Iterable[Claim], views: Views) -> tuple[StageClass, ...]:
    """The class of operation of each kept stage claim that carries a signal, in the order of the claims."""
    found: list[StageClass] = []
    for claim in claims:
        if claim.kind == "stage" and claim.sort in _SIGNAL_SORTS and claim.stage:
            devices = _stage_devices(claim)
            if len(devices) == 2 and (claim.sort in _PAIR_SORTS or _on_one_core(devices, views)):
                found += _pair_class(devices, claim, views)
            else:
                found += [item for device in devices for item in _single_class(device, claim, views)]
    unique = {item.devices: item for item in reversed(found)}
    return tuple(item for item in found if unique[item.devices] is item)


def idle_current(device: Device, views: Views) -> float:
    """Amperes at rest: of paralleled devices together, of other compounds the largest; NaN where not known."""
    graph, point = views.graph, views.point
    currents = []
    for index in device.elements:
        element = graph.elements[index]
        terminal = electrode(element, "col")
        if terminal is None:
            return math.nan
        currents.append(abs(point.currents[index][element.terminals.index(terminal)]))
    if len(currents) > 1 and are_parallel([graph.elements[index] for index in device.elements], graph):
        return math.fsum(currents)
    return max(currents, default=math.nan)


def node_of(end: tuple[int, str], views: Views) -> int:
    """The node of a device's generic terminal."""
    index, terminal = end
    element = views.graph.elements[index]
    return element.node(terminal if terminal in element.terminals else electrode(element, terminal) or terminal)


def _stage_devices(claim: Claim) -> tuple[Device, ...]:
    """The devices of which a claim is the stage."""
    return tuple(device for device in devices_of(claim.match) if set(device.elements) <= claim.stage)


def _on_one_core(devices: Sequence[Device], views: Views) -> bool:
    """Whether the collectors of two devices are at different ends of windings on one core."""
    cores = []
    for device in devices:
        node = node_of(device.col, views)
        cores.append({winding.element for winding in views.graph.windings if node in winding.nodes})
    return bool(cores[0] & cores[1]) and node_of(devices[0].col, views) != node_of(devices[1].col, views)


def _state(devices: Sequence[Device]) -> str:
    """The state of the devices together: "on", or the first other state that one is in."""
    return next((device.state for device in devices if device.state not in ("on", "")), devices[0].state)


def _pair_class(devices: Sequence[Device], claim: Claim, views: Views) -> list[StageClass]:
    """The class of a push-pull, series or complementary pair."""
    refs = tuple(dict.fromkeys(ref for device in devices for ref in _device_refs(device, views)))
    state = _state(devices)
    if state == "saturated":
        return [StageClass(refs, "switch", "at least one of the pair is saturated at rest")]
    view = views.signals[claim.match.band]
    idle = min(idle_current(device, views) for device in devices)
    basis = _swing(devices, view, views)
    if basis is None or not math.isfinite(idle):
        return []
    volts, ohms, words = basis
    return [_by_ratio(refs, idle, volts, ohms, words)]


def _by_ratio(refs: tuple[str, ...], idle: float, volts: float, ohms: float, where: str) -> StageClass:
    """Letter and words from the current at rest and the peak current of a full class-A swing."""
    load = f"{show(volts, 'V')} and {show(ohms, 'ohm')} {where}"
    swing = volts / (2 * ohms)
    ratio = idle / swing if swing > 0 else math.inf
    letter = "A" if ratio >= LEAST_FOR_A else "AB" if ratio >= LEAST_FOR_AB else "B"
    near = NEAR_LIMIT[0] <= ratio <= NEAR_LIMIT[1]
    if letter == "B":
        first = f"{show(idle, 'A', 2)} at rest, next to nothing" if idle >= 1e-6 else "no current at rest"
        basis = f"{first}; class A would take {show(swing, 'A', 2)} in each ({load})"
    elif ratio > _FAR_ABOVE:
        basis = (
            f"{show(idle, 'A', 2)} at rest in each; what the pair drives asks for so little current "
            "that neither device ever turns off"
        )
    else:
        basis = (
            f"{show(idle, 'A', 2)} at rest in each is {_share(ratio)} the {show(swing, 'A', 2)} "
            f"that a full swing in class A would take ({load})"
        )
    if near:
        basis += "; near the limit between A and AB"
    return StageClass(refs, letter, basis, idle, swing, near, volts, ohms)


def _share(ratio: float) -> str:
    """A ratio in words: percent below two, then times."""
    return f"{show(ratio * 100, '', 2)} % of" if ratio < 2 else f"{ratio:.2g} times"


# Above this ratio the load is next to nothing, and the figure of a full swing says nothing.
_FAR_ABOVE = 20
_WHOLE_LOAD = "at the output"
_HALF_WINDING = "for each device, a quarter of what lies between the two"


def _swing(devices: Sequence[Device], view: View, views: Views) -> tuple[float, float, str] | None:
    """Volts and ohms of a pair's full swing, and what the ohms are; None where they are not known."""
    skeleton, middle = views.skeleton_network, view.middle
    if skeleton is None or middle is None:
        return None
    volts = views.point.volts
    meeting = _midpoint(devices, view, views)
    if meeting is not None:
        node, rails = meeting
        across = min(abs(volts[rail] - volts[node]) for rail in rails)
        ohms = abs(skeleton.across(node, 0, middle))
        return (across, ohms, _WHOLE_LOAD) if _are_known(across, ohms) else None
    ends = [_moving_end(device, view, views) for device in devices]
    if ends[0] == ends[1]:
        return None
    across = min(abs(volts[node_of(d.col, views)] - volts[node_of(d.emt, views)]) for d in devices)
    ohms = abs(skeleton.across(ends[0], ends[1], middle)) / 4
    return (across, ohms, _HALF_WINDING) if _are_known(across, ohms) else None


def _are_known(volts: float, ohms: float) -> bool:
    """Whether both are numbers, and the load no short."""
    return math.isfinite(volts) and math.isfinite(ohms) and ohms > 0


def _moving_end(device: Device, view: View, views: Views) -> int:
    """The node at which a device drives its load: the collector, or the emitter where the collector is at 0."""
    collector = node_of(device.col, views)
    return node_of(device.emt, views) if view.class_of[collector] == view.zero else collector


def _midpoint(devices: Sequence[Device], view: View, views: Views) -> tuple[int, tuple[int, int]] | None:
    """The node where two devices in series between the rails meet, and the node at each device's far end.

    Each device has one of its emitter and collector there and the other at 0: both emitters (followers), both
    collectors, or the emitter of one and the collector of the other. None for a pair that has no such net.
    """
    options: list[dict[int, tuple[int, int]]] = []
    for device in devices:
        found: dict[int, tuple[int, int]] = {}
        for near, far in ((device.emt, device.col), (device.col, device.emt)):
            if any(lead.target == view.zero for lead in _leads(views, view, far)):
                for lead in _leads(views, view, near):
                    node = lead.node if lead.node >= 0 else node_of(near, views)
                    found.setdefault(lead.target, (node, node_of(far, views)))
        options.append(found)
    for target, (node, rail) in options[0].items():
        if target != view.zero and target in options[1]:
            return node, (rail, options[1][target][1])
    return None


def _leads(views: Views, view: View, end: tuple[int, str]) -> tuple[Lead, ...]:
    """Leads of a terminal, with the drop that a power pair's emitter resistor may have.

    The emitting end of a compound may be a collector by itself, and the other way round, so both sorts are walked.
    """
    from topo.views.leads import leads

    index, terminal = end
    found: dict[int, Lead] = {}
    for sort in ("emt", "col"):
        for lead in leads(views, view, index, terminal, sort=sort, limit=_PAIR_LEAD):
            found.setdefault(lead.target, lead)
    return tuple(found.values())


def _device_refs(device: Device, views: Views) -> tuple[str, ...]:
    """Designators of the active elements of a device, without the resistors of a compound."""
    return tuple(ref for index in device.elements for ref in views.graph.elements[index].members)


def _single_class(device: Device, claim: Claim, views: Views) -> list[StageClass]:
    """The class of one device: the current never stops, is off on purpose, or the device is a switch."""
    refs = _device_refs(device, views)
    view = views.signals[claim.match.band]
    if device.state == "on":
        idle = idle_current(device, views)
        return [StageClass(refs, "A", f"{show(idle, 'A', 2)} at rest, and the current never stops", idle)]
    if device.state == "saturated":
        return [StageClass(refs, "switch", "saturated at rest")]
    if device.state != "off":
        return []
    if view.band is not None and view.band[0] >= RADIO_FREQUENCY and _has_no_bias(device, views):
        return [StageClass(refs, "C", "no current and no bias at rest: only the crests of the drive open it", 0.0)]
    return [StageClass(refs, "off", "no current at rest", 0.0)]


def _has_no_bias(device: Device, views: Views) -> bool:
    """Whether the control terminal rests at the emitter's own voltage or beyond, with a supply across the device."""
    control, emitter, collector = (node_of(end, views) for end in (device.ctl, device.emt, device.col))
    volts = views.point.volts
    sense = 1 if device.polarity == "n" else -1
    bias = (volts[control] - volts[emitter]) * sense
    return bias < 0.1 and abs(volts[collector] - volts[emitter]) > 0.5
