"""Tuned circuits: what a coil, a winding or a capacitor is tuned to, how sharply, and whether the band is the
intermediate one of a receiver."""

from __future__ import annotations

from topo.matching.functions.registry import function
from topo.matching.things import NetRef, Pin, Thing
from topo.views.bands import intermediate_bands
from topo.views.view import Tank

Number = float | None
Truth = bool | None


def _tank(scope, thing: Thing) -> Tank | None:
    """The tuned circuit of a coil or capacitor: of a winding its own, else one on its core, the sharpest."""
    own = set(thing.elements)
    among = [tank for tank in scope.views.tanks if tank.element in own or own & set(tank.capacitors)]
    if thing.sort == "winding":
        nodes = set(thing.terminals.values())
        among = [tank for tank in among if set(tank.nodes) <= nodes] or among
    return max(among, key=lambda tank: tank.q, default=None)


@function("resonance(role)", unit="Hz")
def resonance(scope, thing: Thing) -> Number:
    """Hertz to which the circuit is tuned that a coil or capacitor is a part of; of a winding, its core's."""
    tank = _tank(scope, thing)
    return None if tank is None else tank.frequency


# No coil and capacitor reach this (common practice): what does has its losses not given, and no Q is told.
HIGHEST_Q = 400.0


@function("quality(role)", unit="")
def quality(scope, thing: Thing) -> Number:
    """Q of the tuned circuit that a coil or capacitor is a part of, all that loads it included."""
    tank = _tank(scope, thing)
    return None if tank is None or tank.q is None or tank.q > HIGHEST_Q else tank.q


@function("bandwidth(role)", unit="Hz")
def bandwidth(scope, thing: Thing) -> Number:
    """Hertz between the points 3 dB down, of a tuned circuit by itself: its frequency by its Q."""
    tank = _tank(scope, thing)
    return tank.frequency / tank.q if tank is not None and tank.q and tank.q <= HIGHEST_Q else None


@function("tuned(role)")
def tuned(scope, thing: Thing) -> Truth:
    """Whether a coil, a winding by its own capacitor, or a capacitor is part of a tuned circuit of this band."""
    if scope.views.by_position:
        return None
    nodes = set(thing.terminals.values()) if thing.sort == "winding" else None
    own = set(thing.elements)
    return any(
        tank.band == scope.index.band
        and (own & set(tank.capacitors) or tank.element in own)
        and (nodes is None or set(tank.nodes) <= nodes)
        for tank in scope.views.tanks
    )


@function("found_band()")
def found_band(scope) -> Truth:
    """Whether this band was found from tuned circuits, not said in the file: what works in it is tuned."""
    return (
        scope.index.band < len(scope.views.signals)
        and len(scope.views.signals) > 1
        and any(tank.band == scope.index.band for tank in scope.views.tanks)
    )


@function("tunes(role, role)")
def tunes(scope, thing: Thing, coil: Thing) -> Truth:
    """Whether a capacitor tunes a coil or a winding on its core, in this band."""
    if scope.views.by_position:
        return None
    return any(
        tank.band == scope.index.band and set(thing.elements) <= set(tank.capacitors) and tank.element in coil.elements
        for tank in scope.views.tanks
    )


@function("tuned_core(winding)")
def tuned_core(scope, thing: Thing) -> Truth:
    """Whether one of the windings on the core of a winding is tuned in this band."""
    if scope.views.by_position:
        return None
    return any(tank.band == scope.index.band and tank.element in thing.elements for tank in scope.views.tanks)


@function("intermediate()")
def intermediate(scope) -> Truth:
    """Whether the band is that of a receiver's intermediate frequency."""
    return scope.index.band in intermediate_bands(scope.views.tanks)


@function("sustained(role)")
def sustained(scope, thing: Thing) -> Truth:
    """Whether the circuit that a coil is tuned in keeps itself going: at its resonance, what it meets shows a negative
    conductance across it, more than its own losses."""
    tank = _tank(scope, thing)
    return None if tank is None else _keeps_going(scope, tank)


def _keeps_going(scope, tank: Tank) -> Truth:
    """Whether a tuned circuit shows a negative conductance at its resonance; None where it is not known."""
    if scope.linear is None:
        return None
    across = scope.linear.impedance(*tank.nodes, tank.frequency)
    return None if not across or across != across else bool((1.0 / across).real < 0.0)


@function("lies_on(point, winding)")
def lies_on(scope, point: Pin | NetRef, thing: Thing) -> Truth:
    """Whether a net is that of an end or a tap of a winding."""
    winding = scope.graph.windings[thing.handle] if isinstance(thing.handle, int) else None
    nodes = thing.terminals.values() if winding is None else winding.nodes
    return point.node in set(nodes)


@function("around(point, device)")
def around(scope, point: Pin | NetRef, thing: Thing) -> Truth:
    """Whether a net is that of an electrode of a device or of a winding on a core that an electrode meets, through one
    capacitor if the circuit tuned there keeps itself going: what an oscillator's signal is taken from."""
    graph = scope.graph
    fixed = {0, *graph.rails}
    if point.node in fixed:
        return False
    own = set(graph.elements[thing.elements[0]].nodes) - fixed
    if point.node in own:
        return True
    behind = {
        node
        for at in sorted(own)
        for index, _ in graph.at_node[at]
        if graph.elements[index].kind == "capacitor"
        for node in graph.elements[index].nodes
    } - fixed
    going = {tank.element for tank in scope.views.tanks if _keeps_going(scope, tank)}
    for winding in graph.windings:
        nodes = set(winding.nodes)
        met = own & nodes or (winding.element in going and behind & nodes)
        if met and any(point.node in other.nodes for other in graph.windings_of[winding.element]):
            return True
    return any(
        tank.element in going and point.node in tank.nodes and behind & set(tank.nodes) for tank in scope.views.tanks
    )
