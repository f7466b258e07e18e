"""Small-signal quantities: transconductance, current gain, impedances, gain between nets."""

from __future__ import annotations

from topo.matching.functions.electrical import current, device_current
from topo.matching.functions.registry import function
from topo.matching.things import NetRef, Pin, Thing

Number = float | None
Point = Pin | NetRef


@function("gm(device)", unit="S")
def transconductance(scope, thing: Thing) -> Number:
    """Change of collector current with control voltage at rest; of a compound, that of its output device."""
    return scope.transconductance(thing.device.col[0], current(scope, thing))


@function("re(device)", unit="ohm")
def emitter_resistance(scope, thing: Thing) -> Number:
    """VT/I of a bipolar transistor, 1/gm of other devices."""
    if thing.device.family == "bipolar":
        through = current(scope, thing)
        return scope.thermal_voltage / through if through else None
    found = transconductance(scope, thing)
    return 1 / found if found else None


@function("hfe(device)", unit="")
def current_gain(scope, thing: Thing) -> Number:
    """Collector to base current at rest where both flow, else the transistor's own; none for FETs and valves."""
    if thing.device.family != "bipolar":
        return None
    if len(thing.elements) == 1:
        found = scope.graph.elements[thing.elements[0]].params.get("hFE")
        if found:
            return float(found)
    collector, base = current(scope, thing), device_current(scope, thing, "ctl")
    return collector / base if collector and base else None


@function("impedance(point)", unit="ohm")
def impedance(scope, point: Point) -> Number:
    """|ohm| of a net to 0 at mid band, all that hangs on it included."""
    return scope.driving_point(point.node, None)


@function("gain(point, point)", unit="")
def gain(scope, start: Point, end: Point) -> Number:
    """Volts at one net for a volt at another at mid band; negative where it is turned over."""
    found = scope.transfer(start.node, end.node)
    return None if found is None else found.real
