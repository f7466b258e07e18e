"""The signal's way in legs: joined by the mixers and detectors that change its band, and by filters and integrated
circuits of which nothing is computed."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from topo.graph.graph import Graph
from topo.matching.shelf import Library
from topo.netlist.circuit import Port
from topo.reading.claims import Claim
from topo.reading.driving import Driven, drive_node
from topo.reading.flow import Flow
from topo.reading.path import Leg, Way
from topo.reading.reading import Step
from topo.views.view import View, Views

# A device that hands on this much better in another band, by what it meets at its output, works into that band.
_LEAST_OHMS = 1e-3


@dataclass(frozen=True)
class Changer:
    """A kept claim by which the signal changes its band: in at node `source`, out at `target`; its elements.

    With `same_band` it is handed on in its band, though no current between the two is computed.
    """

    claim: Claim
    source: int
    target: int
    elements: tuple[int, ...]
    same_band: bool = False


def changers(claims: Sequence[Claim], patterns: Library, views: Views) -> list[Changer]:
    """The claims that change the band, in file order."""
    found = []
    for claim in claims:
        rule = patterns.get(claim.pattern).reading
        nets = rule.converts or rule.hands_on
        if len(nets) != 2 or not all(name in claim.match.nets for name in nets):
            continue
        source, target = (claim.match.nets[name][1] for name in nets)
        kinds = _BENT if rule.converts else _OPEN
        own = claim.stage or {
            views.graph.element_of[ref]
            for ref in claim.given
            if views.graph.elements[views.graph.element_of[ref]].kind in kinds
        }
        found.append(Changer(claim, source, target, tuple(sorted(own)), not rule.converts))
        if not rule.converts:
            found.append(Changer(claim, target, source, tuple(sorted(own, reverse=True)), same_band=True))
    return found


# Parts without a control electrode of which the bent characteristic makes new frequencies.
_BENT = frozenset({"diode", "rectifier", "varactor"})
# Parts that pass a signal of which nothing is computed.
_OPEN = frozenset({"crystal", "other"})

FindWay = Callable[[Flow, View, int, Collection[int]], Way]


def through_the_bands(
    views: Views,
    start: int,
    port: Port,
    goals: Collection[int],
    found: Sequence[Changer],
    flow_of: Callable[[Driven, int, Collection[int]], Flow],
    find: FindWay,
) -> Way | None:
    """The way from the input through each changer on it to a goal; None where it does not lead through any.

    The first leg is driven at the input, each further one at what the changer hands on, in the band in which most
    resistance is met there.
    """
    barred = {element for changer in found for element in changer.elements}
    left = list(found)
    legs: list[Leg] = []
    ways: list[Way] = []
    node, bands = start, tuple(range(len(views.signals)))
    while True:
        best = _next_leg(views, node, bands, goals, left, barred, flow_of, find, first=not legs)
        if best is None:
            return None if not legs else _joined(views, ways, legs, start, arrives=False)
        way, band, changer = best
        ways.append(way)
        legs.append(Leg(band, way.elements, changer.elements if changer else (), changer.target if changer else 0))
        if changer is None:
            return _joined(views, ways, legs, start, arrives=True) if len(legs) > 1 else None
        left = [other for other in left if other.claim is not changer.claim]
        node = changer.target
        bands = (band if changer.same_band else _loudest_band(views, node, band),)


def through_opaque(
    views: Views,
    start: int,
    goals: Collection[int],
    flow_of: Callable[[Driven, int, Collection[int]], Flow],
    find: FindWay,
) -> Way | None:
    """The shortest way to a goal that leads into an integrated circuit at one of its terminals and out of it at
    another; None where none does."""
    graph = views.graph
    fixed = {0, *graph.rails}

    def legs_from(node: int, ends: Collection[int]) -> dict[int, Way]:
        driven = drive_node(views, node, 0, 0)
        if driven is None:
            return {}
        flow = flow_of(driven, 0, ())
        found = {end: _arriving(views, flow, views.signal, node, {end}, find) for end in sorted(ends)}
        return {end: way for end, way in found.items() if way is not None}

    best: tuple[int, Way] | None = None
    for element in graph.elements:
        pins = set(element.nodes) - fixed
        if element.kind != "ic" or (pins & set(goals) and start in pins):
            continue
        entries = legs_from(start, pins)
        exits = {pin: way for pin in sorted(pins) for way in legs_from(pin, goals).values()} if entries else {}
        for entry, before in entries.items():
            for pin, after in exits.items():
                length = len(before.elements) + len(after.elements)
                if pin != entry and (best is None or length < best[0]):
                    legs = [Leg(0, before.elements, (element.index,), pin), Leg(0, after.elements)]
                    best = (length, _joined(views, [before, after], legs, start, arrives=True))
    return None if best is None else best[1]


def _next_leg(
    views: Views,
    node: int,
    bands: Sequence[int],
    goals: Collection[int],
    left: Sequence[Changer],
    barred: Collection[int],
    flow_of: Callable[[Driven, int, Collection[int]], Flow],
    find: FindWay,
    first: bool,
) -> tuple[Way, int, Changer | None] | None:
    """The best leg from a node: to a goal, or to a changer; in the band that gives most there."""
    best: tuple[float, Way, int, Changer | None] | None = None
    for band in bands:
        driven = drive_node(views, node, 0, band)
        if driven is None:
            continue
        flow = flow_of(driven, band, barred)
        view = views.signals[band]
        ends: list[tuple[Collection[int], Changer | None]] = [({changer.source}, changer) for changer in left]
        if not first or len(bands) == 1:
            ends.append((goals, None))
        for wanted, changer in ends:
            if changer is not None and view.class_of[changer.source] == view.zero:
                continue
            way = _arriving(views, flow, view, node, wanted, find)
            if way is None:
                continue
            height = -math.inf if changer is None else abs(driven.volts[changer.source])
            if changer is None:
                height = math.inf
            if best is None or height > best[0] * (1.0 + 1e-9):
                best = (height, way, band, changer)
    return None if best is None else best[1:]


def _arriving(views: Views, flow: Flow, view: View, node: int, wanted: Collection[int], find: FindWay) -> Way | None:
    """A way that arrives and passes nothing against the power."""
    if node in wanted:
        return Way((), (), True, node, (), (node,))
    way = find(flow, view, node, wanted)
    return way if way.arrives and not way.doubtful else None


def _loudest_band(views: Views, node: int, before: int) -> int:
    """The band, other than that of the leg before, in which a node shows the highest impedance."""
    network = views.network
    best, highest = before, _LEAST_OHMS
    for number, view in enumerate(views.signals):
        if number == before or network is None or view.middle is None:
            continue
        ohms = abs(network.across(node, 0, view.middle))
        if ohms > highest:
            best, highest = number, ohms
    return best


def _joined(views: Views, ways: Sequence[Way], legs: Sequence[Leg], start: int, arrives: bool) -> Way:
    """The legs as one way; behind the first changer the sense of the signal against the input means nothing."""
    graph = views.graph
    steps: list[Step] = []
    elements: list[int] = []
    nodes: list[int] = [start]
    for number, (way, leg) in enumerate(zip(ways, legs, strict=True)):
        steps += [replace(step, band=leg.band, sign="" if number else step.sign) for step in way.steps]
        elements += way.elements
        nodes += way.nodes
        if leg.changer:
            after = legs[number + 1].band if number + 1 < len(legs) else leg.band
            steps += _changing(leg, graph, after)
            elements += leg.changer
    shown = _without_doubles(steps)
    return Way(
        tuple(shown),
        tuple(dict.fromkeys(elements)),
        arrives,
        nodes[-1],
        (),
        tuple(dict.fromkeys(nodes)),
        tuple(legs),
    )


def _changing(leg: Leg, graph: Graph, after: int) -> list[Step]:
    """The steps at the end of a leg: parts that only hand on one after the other, two that change the band abreast."""
    refs = tuple(ref for index in leg.changer for ref in graph.elements[index].members)
    net = graph.nets[leg.target]
    if all(graph.elements[index].kind in _OPEN for index in leg.changer):
        return [Step(((ref,),), net if ref == refs[-1] else "", "", after) for ref in refs]
    return [Step(tuple((ref,) for ref in refs) if len(refs) == 2 else (refs,), net, "", after)]


def _without_doubles(steps: Sequence[Step]) -> list[Step]:
    """Steps without a part that is named twice running."""
    found: list[Step] = []
    for step in steps:
        if not found or set(found[-1].refs) != set(step.refs):
            found.append(step)
    return found
