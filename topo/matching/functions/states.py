"""States of parts at rest, and of nets: on, off, forward, held, on a rail. None where not known."""

from __future__ import annotations

from topo.matching.functions.electrical import current, drop
from topo.matching.functions.registry import function
from topo.matching.index import DC, SIGNAL, WIRE
from topo.matching.kinds import DIODES, GENERIC
from topo.matching.things import NetRef, Pin, Thing

Truth = bool | None

# A part with less than this through it does not conduct (common practice: leakage).
NO_CURRENT = 1e-7
# A junction with less than this across it is not called forward without a current to show for it.
LEAST_FORWARD_DROP = 0.02


def _state(scope, thing: Thing) -> str:
    if thing.sort == "device":
        return thing.device.state
    return scope.point.states.get(thing.elements[0], "")


def _is(scope, thing: Thing, *states: str) -> Truth:
    found = _state(scope, thing)
    return found in states if found else None


@function("on(device)")
def on(scope, thing: Thing) -> Truth:
    """Whether a device conducts and can amplify."""
    return _is(scope, thing, "on")


@function("off(device)")
def off(scope, thing: Thing) -> Truth:
    return _is(scope, thing, "off")


@function("saturated(device)")
def saturated(scope, thing: Thing) -> Truth:
    return _is(scope, thing, "saturated")


@function("reversed(device)")
def reversed_(scope, thing: Thing) -> Truth:
    """Whether a device works with emitter and collector exchanged."""
    return _is(scope, thing, "reversed")


@function("forward(role)")
def forward(scope, thing: Thing) -> Truth:
    """Whether a diode, or a transistor joined as one, conducts in its forward direction."""
    return _is(scope, thing, "forward", "on", "saturated")


@function("breakdown(role)")
def breakdown(scope, thing: Thing) -> Truth:
    """Whether a zener diode stands at its voltage."""
    return _is(scope, thing, "breakdown")


@function("conducting(role)")
def conducting(scope, thing: Thing) -> Truth:
    """Whether a current flows in a part at rest, in either direction."""
    if thing.sort == "device" or thing.kind in DIODES:
        found = _state(scope, thing)
        if found:
            return found in ("on", "saturated", "forward", "breakdown", "reversed")
    through = current(scope, thing)
    if through is None:
        across = drop(scope, thing)
        return None if across is None or across else False
    return through > NO_CURRENT


def _nodes(scope, point: Pin | NetRef) -> list[int]:
    """The nodes of a net in the views in which it is bound, or the node of a terminal."""
    if isinstance(point, Pin):
        return [point.node]
    found = [point.node]
    for view in (WIRE, DC):
        if view in point.classes:
            found += scope.view(view).members[point.classes[view]]
    return found


@function("held(point)")
def held(scope, point: Pin | NetRef) -> Truth:
    """Whether a net is 0 in the signal view; a control terminal, whether its bias lead ends on such a net."""
    index = scope.index
    classes = index.class_of[SIGNAL]
    if any(classes[node] == index.zero for node in _nodes(scope, point)):
        return True
    if isinstance(point, Pin):
        reached = index.reach(DC, point.thing, point.terminal, None)
        return any(classes[node] == index.zero for _, node, passed in reached if passed)
    return False


@function("at_zero(point)")
def at_zero(scope, pin: Pin | NetRef) -> Truth:
    """Whether a terminal, through its lead or not, or a net is at 0 in the signal view."""
    from topo.views.leads import at_zero as lead_to_zero

    index = scope.index
    if index.class_of[SIGNAL][pin.node] == index.zero:
        return True
    if not isinstance(pin, Pin) or pin.thing.sort != "device":
        return False
    element, name = pin.thing.pins[pin.terminal]
    generic = GENERIC.get(name)
    return generic is not None and lead_to_zero(scope.views, element, name, generic, index.band) is not None


@function("is_rail(point)")
def is_rail(scope, point: Pin | NetRef) -> Truth:
    """Whether a net is a rail, given or derived, and not ground."""
    index = scope.index
    cls = index.class_of[DC][point.node]
    return (cls in index.rails[DC] or index.class_of[WIRE][point.node] in index.rails[WIRE]) and cls != index.ground[DC]


@function("is_ground(point)")
def is_ground(scope, point: Pin | NetRef) -> Truth:
    return scope.index.class_of[DC][point.node] == scope.index.ground[DC]


@function("alone(point)")
def alone(scope, net: Pin | NetRef) -> Truth:
    """Whether nothing but parts of this match is on a net; a declared input or output is something else on it."""
    graph = scope.graph
    own = {element for things in scope.roles.values() for thing in things for element in thing.elements}
    aliases = graph.circuit.aliases
    ports = [aliases.get(port.net.casefold(), port.net) for port in (*graph.circuit.inputs, *graph.circuit.outputs)]
    ended = {graph.node_of.get(name) for name in ports}
    view = scope.view(WIRE)
    for node in view.members[view.class_of[net.node]]:
        if node in ended or any(element not in own for element, _ in graph.at_node[node]):
            return False
    return True


@function("rf()")
def rf(scope) -> Truth:
    """Whether the band lies above 100 kHz."""
    low = scope.band_edge("low")
    return None if low is None else low >= 100e3
