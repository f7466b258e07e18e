"""Order of the blocks along the signal, and which devices a bias, supply or protection block serves."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from topo.graph.graph import Graph
from topo.reading.claims import Claim
from topo.reading.flow import electrode, is_device
from topo.views.view import View, Views

SERVING_SORTS = frozenset({"bias", "supply", "protection"})
# Blocks at one place of the path, in the order in which one would speak of them.
_AT_ONE_PLACE = (
    "supply",
    "bias",
    "control",
    "coupling",
    "compound",
    "splitter",
    "stage",
    "driver",
    "output",
    "protection",
    "feedback",
    "whole",
)
# How many resistors may lie between a supply block and what it feeds.
_DEEPEST_WALK = 2


def in_signal_order(
    claims: Iterable[Claim], way: Sequence[int], served: Mapping[int, tuple[int, ...]], graph: Graph
) -> list[Claim]:
    """Claims along the signal path.

    A stage stands where its first device is, a coupling where its part is, a block that serves devices before the
    first of them, feedback behind the last device it speaks of; what has no place comes last, in file order.

    Args:
        way: element indices of the path, in order.
        served: device elements that a claim serves, by `id` of the claim.
    """
    claims = list(claims)
    places = {element: place for place, element in enumerate(way)}
    stands = dict(places)
    for claim in claims:
        own = [places[index] for index in claim.stage if index in places]
        if claim.kind == "stage" and own and claim.sort != "bias":
            stands.update(dict.fromkeys(claim.stage, min(own)))

    def key(claim: Claim) -> tuple[float, int, tuple[int, ...], str]:
        place = _place(claim, places, stands, served.get(id(claim), ()), graph)
        sort = claim.sort if claim.sort in _AT_ONE_PLACE else "stage"
        return place, _AT_ONE_PLACE.index(sort), claim.order, claim.pattern

    return sorted(claims, key=key)


def _place(
    claim: Claim, places: Mapping[int, int], stands: Mapping[int, int], served: Sequence[int], graph: Graph
) -> float:
    """The place of a claim on the path; `stands` is where the stage stands that a device belongs to."""
    parts = [graph.element_of[ref] for ref in claim.given if ref in graph.element_of]
    own = [places[index] for index in parts if index in places]
    fed = [stands[index] for index in served if index in stands]
    devices = [places[index] for index in claim.stage or claim.devices if index in places]
    if claim.sort == "whole":
        return math.inf
    if claim.sort == "coupling":
        passed = [places[index] for index in parts if index in places and not is_device(graph.elements[index])]
        return min(passed, default=max(devices, default=math.inf))
    if claim.sort == "feedback":
        spoken_of = [places[index] for index in claim.devices | claim.witnessed if index in places]
        return max(spoken_of, default=max(own, default=math.inf))
    if claim.sort in SERVING_SORTS or (not devices and not own):
        return min(fed, default=min(devices, default=min(own, default=math.inf)))
    return min(devices, default=min(own, default=min(fed, default=math.inf)))


def served_devices(claim: Claim, views: Views) -> tuple[int, ...]:
    """Device elements that a bias, supply or protection claim serves, in file order; none for other claims.

    What the pattern names as a witness counts; where it names none, the devices that its nets (or the collectors of
    its own devices) reach for direct current without passing a given rail. What lies across a given rail serves all.
    """
    if claim.sort not in SERVING_SORTS or _is_across_a_rail(claim, views.graph):
        return ()
    if claim.witnessed:
        return tuple(sorted(claim.witnessed))
    if claim.sort == "bias" and claim.stage and (loaded := _at_one_point_for_the_signal(claim, views)):
        return loaded
    return tuple(index for index in _fed(claim, views) if index not in claim.devices)


def _at_one_point_for_the_signal(claim: Claim, views: Views) -> tuple[int, ...]:
    """Devices that share, for the signal, the collector net of a claim's own: by collector or emitter; no spreader."""
    graph, view = views.graph, views.signal
    spreading = {index for spreader in views.spreaders for index in spreader}

    def classes(index: int, names: Iterable[str]) -> set[int]:
        element = graph.elements[index]
        found = (electrode(element, name) for name in names)
        return {view.class_of[element.node(terminal)] for terminal in found if terminal is not None} - {view.zero}

    own = {cls for index in claim.stage for cls in classes(index, ("col",))}
    return tuple(
        element.index
        for element in graph.elements
        if is_device(element)
        and element.index not in claim.devices
        and element.index not in spreading
        and classes(element.index, ("col", "emt")) & own
    )


def _is_across_a_rail(claim: Claim, graph: Graph) -> bool:
    """Whether all of a claim's parts lie between given rails and ground."""
    elements = [graph.elements[graph.element_of[ref]] for ref in claim.given if ref in graph.element_of]
    fixed = {0, *graph.rails}
    return bool(elements) and all(node in fixed for element in elements for node in element.nodes)


def _fed(claim: Claim, views: Views) -> list[int]:
    """Devices that a claim reaches in the DC view: a supply through two resistors, others directly or through one."""
    graph, view = views.graph, views.dc
    hard = {view.class_of[0], *(view.class_of[node] for node in graph.rails)}
    own = {graph.element_of[ref] for ref in claim.match.claimed if ref in graph.element_of}
    reached = {cls for cls in _starting_classes(claim, views) if cls not in hard}
    frontier = set(reached)
    for _ in range(_DEEPEST_WALK if claim.sort == "supply" else 1):
        frontier = {cls for cls in _beyond(view, frontier, own) if cls not in hard and cls not in reached}
        reached |= frontier
    names: tuple[str, ...] = ("ctl", "emt", "col")
    if claim.sort == "protection":
        names = ("emt", "col")
    elif claim.sort == "bias" and not claim.stage:
        names = ("ctl",)
    return [
        element.index
        for element in graph.elements
        if is_device(element)
        for name in names
        if (terminal := electrode(element, name)) is not None and view.class_of[element.node(terminal)] in reached
    ]


def _starting_classes(claim: Claim, views: Views) -> set[int]:
    """DC classes from which a claim serves: the collectors of its own devices, or else its nets."""
    graph, view = views.graph, views.dc
    if claim.stage:
        own = [(graph.elements[index], electrode(graph.elements[index], "col")) for index in sorted(claim.stage)]
        return {view.class_of[element.node(terminal)] for element, terminal in own if terminal is not None}
    numbers = [number for name, number in claim.match.nets.values() if name in ("dc", "wire")]
    return {view.class_of[number] for number in numbers if 0 <= number < len(view.class_of)}


def _beyond(view: View, classes: Iterable[int], own: Iterable[int]) -> set[int]:
    """Classes one resistor further on, other than through the claim's own parts."""
    barred = set(own)
    found: set[int] = set()
    for cls in classes:
        for position in view.branches_at.get(cls, ()):
            branch = view.branches[position]
            if branch.kind in ("resistor", "potentiometer") and not barred & set(branch.elements):
                found |= set(branch.ends) - {cls}
    return found
