"""The signal path: from the input to the output in steps, with both sides of a pair."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from topo.reading.flow import Edge, Flow, cheapest, electrode, is_device, reached
from topo.reading.reading import Step
from topo.views.view import View

# A net whose signal is further than this from being in phase or in antiphase with the input gets no sign.
_CLEAR_SIGN = 0.25
_COILS = frozenset({"inductor", "choke", "bead", "transformer"})


@dataclass(frozen=True)
class Leg:
    """A stretch of a way in one band: the elements passed, and those that change the band at its end (none at the
    last). `target` is the node behind these."""

    band: int
    elements: tuple[int, ...]
    changer: tuple[int, ...] = ()
    target: int = 0


@dataclass(frozen=True)
class Way:
    """A way through the circuit: its steps, the elements in signal order, and whether it arrives.

    `end` is the node where it ends; `doubtful` are elements passed against the power; `nodes` are those that it
    comes by, in order. `legs` are its stretches where it leads through several bands, else none.
    """

    steps: tuple[Step, ...]
    elements: tuple[int, ...]
    arrives: bool
    end: int
    doubtful: tuple[int, ...] = ()
    nodes: tuple[int, ...] = ()
    legs: tuple[Leg, ...] = ()


@dataclass(frozen=True)
class Span:
    """A stretch of a way, from place `low` up to `high`, that has a second side: the `other` edges.

    `forks` are steps at its ends that lead through the same element to (or from) another node.
    """

    low: int
    high: int
    other: tuple[Edge, ...]
    forks: Mapping[int, Edge]


def find_way(
    flow: Flow,
    view: View,
    start: int,
    goals: Collection[int],
    pairs: Sequence[tuple[frozenset[int], frozenset[int]]],
    leads: Mapping[int, Collection[int]],
) -> Way:
    """The signal's way from the input to one of the goals.

    Args:
        pairs: for each pair of the reading, the elements of its two sides.
        leads: for each device element, the parts (stoppers, beads) in the lead of its control electrode.
    Returns:
        The way; where no way leads to a goal, the longest one that leads on (in devices, then in parts), with
        `arrives` false.
    """
    every_side = [side for pair in pairs for side in pair]
    best = cheapest(_within(flow, every_side, leads), start, goals) or cheapest(flow, start, goals)
    arrives = best is not None
    if best is None:
        best = _furthest(flow, start)
    ends = goals if arrives else {best[-1].target} if best else ()
    spans: list[Span] = []
    for first, second in _pairs_met(best, pairs):
        others = [side for side in every_side if not side & first]
        span = _beside(_within(flow, others, leads), best, start, ends, first, second)
        if span is not None and all(span.low >= other.high or span.high <= other.low for other in spans):
            spans.append(span)
    steps = _joined(_steps(flow, view, best, sorted(spans, key=lambda span: span.low)))
    order = _in_step(best, sorted(spans, key=lambda span: span.low))
    elements = tuple(dict.fromkeys(edge.element for edge in order))
    nodes = tuple(dict.fromkeys([start, *(edge.target for edge in order)]))
    doubtful = tuple(dict.fromkeys(edge.element for edge in best if edge.way == "against"))
    return Way(steps, elements, arrives, best[-1].target if best else start, doubtful, nodes)


def _in_step(way: Sequence[Edge], spans: Sequence[Span]) -> list[Edge]:
    """All edges of a way and of its second sides, the two sides of a span taken in turn."""
    found: list[Edge] = []
    place = 0
    for span in spans:
        found += way[place : span.low]
        for one, two in zip_longest(way[span.low : span.high], span.other):
            found += [edge for edge in (one, two) if edge is not None]
        found += [edge for _, edge in sorted(span.forks.items())]
        place = span.high
    return [*found, *way[place:]]


def _furthest(flow: Flow, start: int) -> tuple[Edge, ...]:
    """The way on from the start that passes the most devices, leaves the last by its collector, and goes furthest."""
    ways = reached(flow, start)

    def reach(node: int) -> tuple[int, bool, int, int]:
        devices = [edge for edge in ways[node] if edge.way == "device"]
        return len(devices), bool(devices) and devices[-1].sign < 0, len(ways[node]), -node

    return ways[max(ways, key=reach)]


def _within(flow: Flow, sides: Sequence[frozenset[int]], leads: Mapping[int, Collection[int]]) -> Flow:
    """The signal's graph with no way round the devices of pairs.

    A node with a control electrode (or the stopper before it) is left by that device alone: a load resistor that is
    bootstrapped from the output would be a shorter way. A device of a compound hands on to the next one in it.
    """
    exits = _exits(flow, sides, leads)
    onward = _onward(flow, sides, leads)
    leaving = {
        node: tuple(
            edge
            for edge in row
            if edge.element in exits.get(node, (edge.element,))
            and edge.target in onward.get(edge.element, (edge.target,))
        )
        for node, row in flow.leaving.items()
    }
    return replace(flow, leaving=leaving)


def _exits(flow: Flow, sides: Sequence[frozenset[int]], leads: Mapping[int, Collection[int]]) -> dict[int, set[int]]:
    """For each node with a control electrode of an acting device (or its lead): the elements by which it is left."""
    acting = {edge.element for row in flow.leaving.values() for edge in row if edge.way == "device"}
    found: dict[int, set[int]] = {}
    for index in sorted({index for side in sides for index in side} & acting):
        for node, element in _entries(flow, index, leads):
            found.setdefault(node, set()).add(element)
    return found


def _onward(flow: Flow, sides: Sequence[frozenset[int]], leads: Mapping[int, Collection[int]]) -> dict[int, set[int]]:
    """For each device of a compound that drives another of it: the nodes to which it hands on."""
    found: dict[int, set[int]] = {}
    for side in sides:
        for index in sorted(side):
            entries = {node for other in sorted(side - {index}) for node, _ in _entries(flow, other, leads)}
            targets = {edge.target for row in flow.leaving.values() for edge in row if edge.element == index}
            if entries & targets:
                found[index] = entries & targets
    return found


def _entries(flow: Flow, index: int, leads: Mapping[int, Collection[int]]) -> list[tuple[int, int]]:
    """The nodes before a device's control electrode, its lead's included, each with the element to take there."""
    element = flow.graph.elements[index]
    control = electrode(element, "ctl")
    if control is None:
        return []
    inner = element.node(control)
    found = [(inner, index)]
    for passed in leads.get(index, ()):
        found += [(node, passed) for node in flow.graph.elements[passed].nodes if node != inner]
    return found


def _pairs_met(
    way: Sequence[Edge], pairs: Iterable[tuple[frozenset[int], frozenset[int]]]
) -> list[tuple[frozenset[int], frozenset[int]]]:
    """The pairs of which the way passes one side, in the way's order, that side first."""
    met: list[tuple[int, frozenset[int], frozenset[int]]] = []
    order = {edge.element: place for place, edge in reversed(list(enumerate(way)))}
    for left, right in pairs:
        places = [[order[index] for index in side if index in order] for side in (left, right)]
        if bool(places[0]) != bool(places[1]):
            first, second = (left, right) if places[0] else (right, left)
            met.append((min(places[0] or places[1]), first, second))
    return [(first, second) for _, first, second in sorted(met, key=lambda item: item[0])]


def _beside(
    flow: Flow,
    way: Sequence[Edge],
    start: int,
    goals: Collection[int],
    first: frozenset[int],
    second: frozenset[int],
) -> Span | None:
    """The stretch of the way that has another side, through the other device of a pair."""
    other = cheapest(flow, start, goals, without=first)
    if other is None or not any(edge.element in second for edge in other):
        return None
    if any(edge.way == "against" for edge in other) and not any(edge.way == "against" for edge in way):
        return None
    shortest = min(len(way), len(other))
    low = 0
    while low < shortest and _same(way[low], other[low]):
        low += 1
    tail = 0
    while tail < shortest - low and _same(way[-1 - tail], other[-1 - tail]):
        tail += 1
    high = len(way) - tail
    aside = list(other[low : len(other) - tail])
    forks: dict[int, Edge] = {}
    while low < high and aside and way[low].element == aside[0].element:
        forks[low] = aside.pop(0)
        low += 1
    while low < high and aside and way[high - 1].element == aside[-1].element:
        high -= 1
        forks[high] = aside.pop()
    return Span(low, high, tuple(aside), forks)


def _same(edge: Edge, other: Edge) -> bool:
    """Whether two steps lead through the same element from node to node."""
    return (edge.element, edge.source, edge.target) == (other.element, other.source, other.target)


def _steps(flow: Flow, view: View, way: Sequence[Edge], spans: Sequence[Span]) -> list[Step]:
    """Steps of a way: one after the other where it is single, side by side along each span, file order first."""
    forks: dict[int, list[list[Edge]]] = {}
    for span in spans:
        for here, edge in span.forks.items():
            forks[here] = _in_file_order([[way[here]], [edge]], _is_turned(flow, way, span))
    steps: list[Step] = []
    place = 0
    for span in [*spans, Span(len(way), len(way), (), {})]:
        for here in range(place, span.low):
            if _is_shown(flow, view, way[here]):
                steps.append(_step(flow, forks.get(here, [[way[here]]])))
        both = _in_file_order([list(way[span.low : span.high]), list(span.other)], _is_turned(flow, way, span))
        steps += _side_by_side(flow, *([edge for edge in side if _is_shown(flow, view, edge)] for side in both))
        place = span.high
    return steps


def _in_file_order(sides: list[list[Edge]], turned: bool) -> list[list[Edge]]:
    """Two sides, turned round or not."""
    return sides[::-1] if turned else sides


def _is_turned(flow: Flow, way: Sequence[Edge], span: Span) -> bool:
    """Whether the second side of a span stands before the first in the file, by its devices or else its parts."""

    def first(side: Sequence[Edge]) -> tuple[bool, int]:
        elements = [flow.graph.elements[edge.element] for edge in side]
        devices = [element for element in elements if is_device(element)]
        order = {part.ref: position for position, part in enumerate(flow.graph.circuit.parts)}
        return not devices, min((order[element.members[0]] for element in devices or elements), default=0)

    return bool(span.other) and first(span.other) < first(way[span.low : span.high])


def _side_by_side(flow: Flow, one: list[Edge], two: list[Edge]) -> list[Step]:
    """Two sides as steps: device against device, what lies between them in one step a stretch."""
    stretches = [_stretches(flow, side) for side in (one, two)]
    if len(stretches[0]) != len(stretches[1]):
        return [_step(flow, [one, two])] if one or two else []
    return [step for left, right in zip(*stretches, strict=True) for step in _aligned(flow, left, right)]


def _aligned(flow: Flow, left: Sequence[Edge], right: Sequence[Edge]) -> list[Step]:
    """Two stretches as steps: parts of like kinds side by side, what only one side has by itself."""
    if len(left) == len(right):
        return [_step(flow, [[a], [b]]) for a, b in zip(left, right, strict=True)]
    from difflib import SequenceMatcher

    one, two = ([flow.graph.elements[edge.element].kind for edge in side] for side in (left, right))
    steps: list[Step] = []
    for tag, low, high, start, end in SequenceMatcher(None, one, two, autojunk=False).get_opcodes():
        if tag == "equal":
            steps += [_step(flow, [[a], [b]]) for a, b in zip(left[low:high], right[start:end], strict=True)]
        else:
            steps += [_step(flow, [[edge]]) for edge in (*left[low:high], *right[start:end])]
    return steps


def _stretches(flow: Flow, side: Sequence[Edge]) -> list[list[Edge]]:
    """A side cut up: parts, device, parts, device ..., parts."""
    found: list[list[Edge]] = [[]]
    for edge in side:
        if is_device(flow.graph.elements[edge.element]):
            found += [[edge], []]
        else:
            found[-1].append(edge)
    return found


def _is_shown(flow: Flow, view: View, edge: Edge) -> bool:
    """Whether a step is worth a place in the path: not a spreader's junction, resistor or bypass capacitor."""
    element = flow.graph.elements[edge.element]
    if is_device(element) or element.kind in _COILS or element.kind == "opamp":
        return True
    verdict = view.verdicts.get(edge.element)
    if element.kind == "capacitor" and verdict is not None:
        return all(flow.graph.elements[index].kind == "capacitor" for index in verdict.group)
    return view.class_of[edge.source] != view.class_of[edge.target]


def _step(flow: Flow, sides: Sequence[Sequence[Edge]]) -> Step:
    """A step with its designators, the net behind it and the sign there."""
    refs = tuple(tuple(dict.fromkeys(ref for edge in side for ref in _refs(flow, edge))) for side in sides)
    refs = tuple(dict.fromkeys(side for side in refs if side))
    ends = [side[-1].target for side in sides if side]
    signs = [sign_at(flow, node) for node in ends]
    nets = [flow.graph.nets[node] for node in ends]
    return Step(refs, " | ".join(dict.fromkeys(nets)), signs[0] if len(set(signs)) == 1 else "|".join(signs))


def _refs(flow: Flow, edge: Edge) -> list[str]:
    """The designators passed in a step: of devices in parallel, all."""
    elements = flow.fellows.get(edge.element, (edge.element,))
    return [ref for index in elements for ref in flow.graph.elements[index].members]


def sign_at(flow: Flow, node: int) -> str:
    """ "+" or "-" where the signal is in phase or in antiphase with the drive, "?" where it is neither."""
    if flow.volts is None:
        return ""
    value = flow.volts[node]
    size = abs(value)
    if not size or not math.isfinite(size) or abs(value.real) < _CLEAR_SIGN * size:
        return "?"
    return "+" if value.real > 0 else "-"


def _joined(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Steps without a part named twice running (a transformer passed by both sides, a tapped winding)."""
    found: list[Step] = []
    for step in steps:
        if found and set(found[-1].refs) == set(step.refs):
            found[-1] = Step(found[-1].sides, step.net, step.sign)
        else:
            found.append(step)
    return tuple(found)
