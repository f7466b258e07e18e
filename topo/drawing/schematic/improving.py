"""Improvement: where wires cross or bend, two or three neighbours are taken up together and placed anew.

The first of them goes to several places in turn, the others follow; the best of all is kept if it is better than what
was there. Steps are counted.
"""

from __future__ import annotations

from collections.abc import Sequence

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.board import BITS, Board
from topo.drawing.schematic.layout import Layout, Placed
from topo.drawing.schematic.ordering import Cluster
from topo.drawing.schematic.placing import finalists, forget, note_rank, order_cost
from topo.drawing.schematic.prices import BEND, CROSSING, TEE, UNIT

_PLACES = 4
_GAIN = 0.5
_OVERRATED = 10.0
_MOST_FOLLOWERS = 2
_STRAIGHT = (5, 10)

Where = dict[int, list[Placed]]


def improve(layout: Layout, clusters: Sequence[Cluster], where: Where, steps: int) -> None:
    """Look for better places for what is on nets that cross or bend, so many steps at most."""
    of_net: dict[str, list[Cluster]] = {}
    for cluster in clusters:
        for net in cluster.nets:
            of_net.setdefault(net, []).append(cluster)
    tried: set[tuple[int, ...]] = set()
    worth = worth_of(layout, clusters, where)
    while steps > 0:
        group = next((one for one in _groups(layout, of_net) if tuple(map(id, one)) not in tried), None)
        if group is None:
            return
        steps -= 1
        tried.add(tuple(map(id, group)))
        found = _moved(layout, clusters, where, group, worth)
        if found is not None:
            worth = found
            nets = {net for cluster in group for net in cluster.nets}
            again = {id(cluster) for net in nets for cluster in of_net[net]}
            tried = {key for key in tried if not again.intersection(key)}


def _groups(layout: Layout, of_net: dict[str, list[Cluster]]):
    """Clusters to take up together, those on the worst nets first."""
    faults = _faults(layout.board)
    for net in sorted(faults, key=lambda net: (-faults[net], net)):
        movable = sorted(of_net.get(net, ()), key=lambda cluster: len(cluster.items))
        for first in movable:
            beside = [other for other in movable if other is not first]
            beside += [other for own in first.nets for other in of_net[own] if other is not first]
            followers = list({id(other): other for other in beside if not other.seats}.values())
            for number in range(min(len(followers), _MOST_FOLLOWERS)):
                yield [first, followers[number]]


def _faults(board: Board) -> dict[str, int]:
    """What the crossings and bends of each net cost, if there are any."""
    found: dict[str, int] = {}
    for point, here in board.wires.items():
        for net, own in here.items():
            mask = own | board.leads[point] if board.pins.get(point) == net else own
            cost = BEND if BITS[mask] == 2 and mask not in _STRAIGHT else 0
            if len(here) > 1:
                cost += CROSSING
            if cost:
                found[net] = found.get(net, 0) + cost
    return found


def _moved(
    layout: Layout, clusters: Sequence[Cluster], where: Where, group: Sequence[Cluster], worth: float
) -> float | None:
    """What all is worth when a group has found better places; None where it went back."""
    before, old = layout.saved(), {id(cluster): where[id(cluster)] for cluster in group}
    for cluster in group:
        layout.remove(where[id(cluster)])
        forget(layout, cluster)
    without, rest = layout.saved(), [cluster for cluster in clusters if id(cluster) not in old]
    bare = worth_of(layout, rest, where)
    best = worth - _GAIN
    kept: tuple[tuple, Where] | None = None
    first, *others = group
    for cost, places in finalists(layout, first, best - bare + _OVERRATED, _PLACES):
        layout.trial(places, keep=True)
        note_rank(layout, first, places)
        where[id(first)] = places
        if _follow(layout, others, where, best - bare - cost + 2 * _OVERRATED):
            found = worth_of(layout, clusters, where)
            if found < best:
                best = found
                kept = layout.saved(), {id(cluster): where[id(cluster)] for cluster in group}
        layout.restore(without)
    if kept is None:
        layout.restore(before)
        where.update(old)
        return None
    layout.restore(kept[0])
    where.update(kept[1])
    return best


def _follow(layout: Layout, clusters: Sequence[Cluster], where: Where, most: float) -> bool:
    """Place clusters one after another where they cost no more than that together; whether that was possible."""
    for cluster in clusters:
        found = finalists(layout, cluster, most, 1)
        if not found:
            return False
        cost, places = found[0]
        most -= cost
        layout.trial(places, keep=True)
        note_rank(layout, cluster, places)
        where[id(cluster)] = places
    return True


def worth_of(layout: Layout, clusters: Sequence[Cluster], where: Where) -> float:
    """What a layout costs, in modules of wire: wires, texts in the way, size, and what is against the order."""
    taste = layout.taste
    box = layout.box()
    total = wire_cost(layout.board) / UNIT + taste.level * len(layout.levels)
    total += taste.growth * (box[2] - box[0] + box[3] - box[1])
    total += taste.crowded * _crowded(layout)
    return total + sum(order_cost(layout, cluster, where[id(cluster)]) for cluster in clusters)


def wire_cost(board: Board) -> int:
    """The length, bends, junctions and crossings of all wires, at the router's prices."""
    total = 0
    for point, here in board.wires.items():
        if len(here) > 1:
            total += CROSSING
        for net, own in here.items():
            mask = own | board.leads[point] if board.pins.get(point) == net else own
            total += UNIT * ((own & 1) + (own >> 1 & 1))
            count = BITS[mask]
            if count > 2:
                total += TEE * (count - 2)
            elif count == 2 and mask not in _STRAIGHT:
                total += BEND
    return total


def _crowded(layout: Layout) -> int:
    """The number of texts that lie on a symbol or another text by the places that they are likely to have."""
    count = 0
    solids = [(box, place) for place in layout.placed for box in place.solids()]
    zones = [(box, place) for place in layout.placed for box in place.zones()]
    for number, (zone, place) in enumerate(zones):
        count += sum(g.meet(zone, box) for box, other in solids if other is not place)
        count += sum(g.meet(zone, box) for box, other in zones[number + 1 :] if other is not place)
    return count
