"""What the operating point says of parts and nets: volts, amperes, watts, values."""

from __future__ import annotations

import math

from topo.matching.devices import are_parallel
from topo.matching.functions.registry import function
from topo.matching.index import SIGNAL
from topo.matching.kinds import GENERIC
from topo.matching.things import NetRef, Pin, Thing

Number = float | None


def known(value: float | None) -> Number:
    """The number, None for NaN."""
    return None if value is None or math.isnan(value) else float(value)


def volts(scope, node: int) -> Number:
    """Volts of a node to ground."""
    found = scope.point.volts
    return known(found[node]) if node < len(found) else None


def between(scope, a: int, b: int) -> Number:
    """Volts of a node to another."""
    first, second = volts(scope, a), volts(scope, b)
    return None if first is None or second is None else first - second


def thing_of(bound: object) -> Thing | None:
    """The thing that an argument is or belongs to."""
    return bound.thing if isinstance(bound, Pin) else bound if isinstance(bound, Thing) else None


def ends(thing: Thing) -> tuple[int, int]:
    """The nodes between which a thing lies: its two ends, or a device's emitter and collector."""
    names = (
        ("col", "emt") if thing.sort == "device" else ("1", "2") if "1" in thing.terminals else tuple(thing.terminals)
    )
    return thing.terminals[names[0]], thing.terminals[names[1]]


@function("voltage(point, point?)", unit="V")
def voltage(scope, point: Pin | NetRef, reference: Pin | NetRef | None = None) -> Number:
    """Volts of a net or terminal, to ground or to another; signed (turned over where the pattern is)."""
    found = volts(scope, point.node) if reference is None else between(scope, point.node, reference.node)
    return -found if found is not None and scope.mirrored else found


@function("drop(role)", unit="V")
def drop(scope, thing: Thing) -> Number:
    """|volts| across a two-terminal part; across a device from collector to emitter."""
    found = between(scope, *ends(thing))
    return None if found is None else abs(found)


def terminal_current(scope, element: int, terminal: str) -> Number:
    """Amperes into a terminal of an element."""
    graph, point = scope.graph, scope.point
    names = graph.elements[element].terminals
    if element >= len(point.currents) or terminal not in names:
        return None
    row = point.currents[element]
    position = names.index(terminal)
    return known(row[position]) if position < len(row) else None


def device_current(scope, thing: Thing, name: str) -> Number:
    """|amperes| into an electrode of a device; all terminals of a compound's devices on that net together.

    Devices in parallel may each have a resistor in that lead: their currents are added wherever they meet.
    """
    device = thing.device
    if len(device.elements) == 1:
        found = terminal_current(scope, *thing.pins[name])
        return None if found is None else abs(found)
    node, generic = thing.terminals[name], GENERIC.get(name, name)
    alike = are_parallel([scope.graph.elements[index] for index in device.elements], scope.graph)
    total = 0.0
    for index in device.elements:
        element = scope.graph.elements[index]
        for terminal, at in zip(element.terminals, element.nodes, strict=True):
            if at == node or (alike and GENERIC.get(terminal) == generic):
                part = terminal_current(scope, index, terminal)
                if part is None:
                    return None
                total += part
    return abs(total)


@function("current(any)", unit="A")
def current(scope, bound: Pin | Thing) -> Number:
    """|amperes| at rest: a device's collector current, the current through a two-terminal part, or into a terminal."""
    if isinstance(bound, Pin):
        if bound.thing.sort == "device":
            return device_current(scope, bound.thing, bound.terminal)
        found = terminal_current(scope, *bound.thing.pins[bound.terminal])
        return None if found is None else abs(found)
    if not isinstance(bound, Thing):
        return None
    if bound.sort == "device":
        return device_current(scope, bound, "col")
    if bound.sort == "branch" and bound.branch is None:
        return device_current_of_junction(scope, bound)
    branch = bound.branch
    if branch is not None and branch.part_of is not None:
        from topo.views.branches import branch_current

        return known(branch_current(branch, scope.graph, scope.point))
    name = "1" if "1" in bound.pins else next(iter(bound.pins))
    found = terminal_current(scope, *bound.pins[name])
    return None if found is None else abs(found)


def device_current_of_junction(scope, thing: Thing) -> Number:
    """|amperes| through a diode-connected transistor: into its emitter."""
    emitter = thing.handle.emt  # type: ignore[attr-defined]
    found = terminal_current(scope, *emitter)
    return None if found is None else abs(found)


@function("power(role)", unit="W")
def power(scope, thing: Thing) -> Number:
    """Watts at rest: volts across times amperes through."""
    across, through = drop(scope, thing), current(scope, thing)
    return None if across is None or through is None else across * through


@function("value(role)", unit="value")
def value(scope, thing: Thing) -> Number:
    """The part's value in SI units."""
    if thing.value is not None:
        return known(thing.value)
    if thing.sort == "branch" and thing.branch is not None and len(thing.elements) == 1 and not thing.branch.part_of:
        return known(scope.graph.elements[thing.elements[0]].value)
    return None


@function("vbe(device)", unit="V")
def control_voltage(scope, thing: Thing) -> Number:
    """Volts from emitter to control terminal; positive where it turns the device on."""
    found = between(scope, thing.terminals["ctl"], thing.terminals["emt"])
    return None if found is None else found * (1 if thing.device.polarity == "n" else -1)


@function("vce(device)", unit="V")
def working_voltage(scope, thing: Thing) -> Number:
    """|volts| from emitter to collector."""
    return drop(scope, thing)


@function("supply(net)", unit="V")
def supply(scope, net: NetRef) -> Number:
    """Volts of a rail to ground; signed (turned over where the pattern is)."""
    return voltage(scope, net)


@function("lowest_rail()", unit="V")
def lowest_rail(scope) -> Number:
    """Volts of the lowest given rail, ground included."""
    found = [known(volts) for volts in scope.graph.rails.values()]
    return None if None in found else min([0.0, *(volts for volts in found if volts is not None)])


@function("highest_rail()", unit="V")
def highest_rail(scope) -> Number:
    """Volts of the highest given rail, ground included."""
    found = [known(volts) for volts in scope.graph.rails.values()]
    return None if None in found else max([0.0, *(volts for volts in found if volts is not None)])


@function("reactance(role, number?)", unit="ohm")
def reactance(scope, thing: Thing, frequency: float | None = None) -> Number:
    """|ohm| of a capacitor or coil; at the band's lower edge, a bead's at the upper edge, if no frequency is said."""
    if thing.kind == "bead":
        return value(scope, thing)
    size = value(scope, thing)
    if frequency is None:
        frequency = scope.band_edge("low")
    if size is None or not frequency or size <= 0:
        return None
    angular = 2 * math.pi * frequency
    if thing.kind == "capacitor":
        return 1 / (angular * size)
    return angular * size if thing.kind in ("inductor", "choke") else None


@function("facing(role)", unit="ohm")
def facing(scope, thing: Thing) -> Number:
    """|ohm| that the rest of the circuit shows across the part at mid band."""
    verdict = scope.view(SIGNAL).verdicts.get(thing.elements[0])
    if verdict is not None and verdict.facing is not None and len(thing.elements) == 1:
        return known(verdict.facing)
    own, across = value(scope, thing), scope.driving_point(*ends(thing))
    if own is None or across is None or thing.kind != "resistor" or own <= 0 or across == 0:
        return None
    rest = 1 / across - 1 / own
    return abs(1 / rest) if rest else None
