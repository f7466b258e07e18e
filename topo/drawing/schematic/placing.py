"""Placement: the parts go down one by one, each where its wires, its text and the order of the signal ask for least.

Places are first judged by an estimate of length and bends; the best of them are really wired and the cheapest is kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.estimating import NEVER, Estimates
from topo.drawing.schematic.layout import Layout, Placed
from topo.drawing.schematic.ordering import Cluster, next_cluster
from topo.netlist.kinds import GROUPS

_FINALISTS = 6
_LOOKED_AT = 90
_KEPT = 300
_FLOW, _MOST_FLOW, _AHEAD = 3.0, 120.0, 4
_ON_ITS_BACK = 6.0
_LYING = 8.0
_BACKWARDS = 30.0
_GAIN = 0.5


def place_all(layout: Layout, clusters: Sequence[Cluster], passes: int = 2) -> None:
    """Place all clusters and wire each as it comes; then, so often, take each up and look for a better place."""
    left = list(clusters)
    where: dict[int, list[Placed]] = {}
    for cluster in clusters:
        if cluster.rank is not None:
            for net in cluster.nets:
                layout.ranked[net] = layout.ranked.get(net, 0) + 1
    while left:
        cluster = next_cluster(left, layout.there, layout.ranked) if layout.placed else _seed(left)
        left = [item for item in left if item is not cluster]
        where[id(cluster)] = insert(layout, cluster)
    for _ in range(passes):
        moved = False
        for cluster in clusters:
            old = where[id(cluster)]
            if len(layout.placed) == len(old):
                continue
            where[id(cluster)] = _insert_again(layout, cluster, old)
            moved |= [(place.x, place.y, place.fit.turn) for place in old] != [
                (place.x, place.y, place.fit.turn) for place in where[id(cluster)]
            ]
        if not moved:
            break


def _seed(left: Sequence[Cluster]) -> Cluster:
    """The first device of the signal path, else the first cluster on it, else the first of all."""
    ranked = [item for item in left if item.rank is not None]
    devices = [item for item in ranked if len(item.item.symbol.pins) > 2]
    pool = devices or [item for item in left if len(item.item.symbol.pins) > 2] or ranked or list(left)
    return min(pool, key=lambda item: item.rank if item.rank is not None else 999)


def _insert_again(layout: Layout, cluster: Cluster, old: list[Placed]) -> list[Placed]:
    """Take a cluster up and place it anew; it goes back with its wires as they were where nothing is better."""
    nets = list(dict.fromkeys(pin.net for place in old for pin in place.fit.pins))
    wires = {net: layout.board.saved(net) for net in nets}
    cost = {net: layout.cost[net] for net in nets}
    layout.remove(old)
    layout.ranks.pop(id(cluster), None)
    worth = (sum(cost.values()) - sum(layout.cost[net] for net in nets)) / 20
    worth += _soft(layout, cluster, old) + _order(layout, cluster, old)
    best = _best(layout, cluster)
    if best is not None and best[0] < worth - _GAIN:
        layout.trial(best[1], keep=True)
        old = best[1]
    else:
        layout.put_back(old, wires, cost)
    _note_rank(layout, cluster, old)
    return old


def insert(layout: Layout, cluster: Cluster) -> list[Placed]:
    """Place one cluster at its best place and wire it."""
    best = _best(layout, cluster)
    places = best[1] if best is not None else _aside(layout, cluster)
    layout.trial(places, keep=True)
    if cluster.line is not None and cluster.line not in layout.axes:
        layout.axes[cluster.line] = _axis_of(cluster, places)
    _note_rank(layout, cluster, places)
    return places


def _note_rank(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> None:
    if cluster.rank is not None:
        layout.ranks[id(cluster)] = (cluster.rank, sum(place.x for place in places) / len(places))


def _best(layout: Layout, cluster: Cluster) -> tuple[float, list[Placed]] | None:
    """The cheapest place of a cluster with its cost; None where none was found."""
    judged = _candidates(layout, cluster)
    finalists: list[tuple[float, int, list[Placed]]] = []
    for number, (estimate, places) in enumerate(judged):
        if len(finalists) >= _LOOKED_AT:
            break
        if layout.free(places):
            finalists.append((_soft(layout, cluster, places) + estimate, number, places))
    finalists.sort(key=lambda item: item[:2])
    best: tuple[float, list[Placed]] | None = None
    tried = 0
    for _, _, places in finalists:
        if tried >= _FINALISTS:
            break
        wires = layout.trial(places)
        if wires is None:
            continue
        tried += 1
        total = wires + _soft(layout, cluster, places) + _order(layout, cluster, places)
        if best is None or total < best[0] - 1e-6:
            best = (total, places)
    return best


def _axis_of(cluster: Cluster, places: Sequence[Placed]) -> int:
    if cluster.sideways:
        return places[0].x if len(places) == 1 else (places[0].x + places[1].x) // 2
    return places[0].y if len(places) == 1 else (places[0].y + places[1].y) // 2


def _aside(layout: Layout, cluster: Cluster) -> list[Placed]:
    """A place right of everything on its mirror line, or below everything, for what found none."""
    box = layout.box()
    axis = layout.axes.get(cluster.line) if cluster.line is not None and not cluster.sideways else None
    spots = [(int(box[0]) + 3 * down, int(box[3]) + 8 + down) for down in range(60)]
    if axis is not None:
        rows = [axis] if cluster.twin is None else list(range(axis - 8, axis - 24, -3))
        spots = [(int(box[2]) + 5 + right, row) for right in range(30) for row in rows]
    for x, y in spots:
        line = (
            axis
            if axis is not None
            else layout.axes.get(cluster.line if cluster.line is not None else -1, x + 6 if cluster.sideways else y + 6)
        )
        for places in _at(layout, cluster, cluster.item.turns[0], x, y, line):
            hits = [layout.board.hit_by(place.fit, place.x, place.y) for place in places]
            if layout.free(places) and None not in hits:
                return places
    raise RuntimeError(f"no place was found for {cluster.item.key}")


def _at(layout: Layout, cluster: Cluster, turn: g.Turn, x: int, y: int, axis: int) -> Iterator[list[Placed]]:
    """The placements of a cluster at a point: the item, and its image about the axis."""
    first = Placed(layout.fitter.fit(cluster.item, turn), x, y)
    if cluster.twin is None:
        yield [first]
        return
    fit = layout.fitter.fit(cluster.twin, image_of(cluster, turn))
    yield [first, Placed(fit, 2 * axis - x, y) if cluster.sideways else Placed(fit, x, 2 * axis - y)]


def image_of(cluster: Cluster, turn: g.Turn) -> g.Turn:
    """The position of a cluster's lower item, given that of the upper."""
    assert cluster.twin is not None
    if cluster.sideways:
        image = g.after(g.MIRRORED, turn)
        return g.after(image, g.MIRRORED) if cluster.swapped else image
    image = g.after(g.FLIPPED, turn)
    if cluster.twin.kind != cluster.item.kind:
        # The symbols of opposite polarity are each other's image already.
        return g.after(image, g.FLIPPED)
    return g.after(image, g.MIRRORED) if cluster.swapped else image


def _candidates(layout: Layout, cluster: Cluster) -> list[tuple[float, list[Placed]]]:
    """The likely places with their estimates, the best first; no more than are worth a look."""
    estimates = Estimates(layout, cluster)
    x0, y0, x1, y1 = estimates.window
    axis = layout.axes.get(cluster.line) if cluster.line is not None else None
    found: list[tuple[float, int, g.Turn, int, int, int]] = []
    apart = (0,) if cluster.twin is None or axis is not None else tuple(range(4, 10))
    columns = range(x0, x1 + 1)
    for turn in _turns(cluster):
        first = layout.fitter.fit(cluster.item, turn)
        second = layout.fitter.fit(cluster.twin, image_of(cluster, turn)) if cluster.twin is not None else None
        posture = _posture(layout, cluster, Placed(first, 0, 0))
        for gap in apart:
            across = columns if cluster.sideways else range(y0, y1 + 1)
            if cluster.twin is not None and axis is None:
                # The line goes with the item: each row or column has its own.
                costs = np.concatenate(
                    [
                        _slice(estimates.over(first, second, here + gap, cluster.sideways), n, cluster.sideways)
                        for n, here in enumerate(across)
                    ],
                    axis=1 if cluster.sideways else 0,
                )
            else:
                costs = estimates.over(first, second, axis or 0, cluster.sideways)
                if axis is not None:
                    legal = np.array([(here < axis) if cluster.twin is not None else here == axis for here in across])
                    costs = (
                        costs
                        + np.where(legal, 0.0, NEVER)[(None, slice(None)) if cluster.sideways else (slice(None), None)]
                    )
            flow = [_flow(layout, cluster, axis if cluster.sideways and axis is not None else x) for x in columns]
            costs = costs + np.array(flow)[None, :] + posture
            flat = costs.ravel()
            for index in np.argsort(flat, kind="stable")[:_KEPT]:
                cost = float(flat[index])
                if cost >= NEVER:
                    break
                x, y = x0 + int(index) % len(columns), y0 + int(index) // len(columns)
                line = axis if axis is not None else (x if cluster.sideways else y) + gap
                found.append((cost, len(found), turn, x, y, line))
    found.sort(key=lambda item: item[:2])
    return [(item[0], places) for item in found[: 2 * _KEPT] for places in _at(layout, cluster, *item[2:])]


def _slice(costs: np.ndarray, number: int, sideways: bool) -> np.ndarray:
    return costs[:, number : number + 1] if sideways else costs[number : number + 1]


def _turns(cluster: Cluster) -> tuple[g.Turn, ...]:
    turns = cluster.item.turns
    if cluster.line is not None and cluster.twin is None and cluster.item.two_ended:
        return tuple(turn for turn in turns if turn[1]) or turns
    return turns


def _soft(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """What speaks against a place apart from its wires."""
    total = layout.crowding(places)
    old = layout.box()
    new = g.around([old, *(box for place in places for box in place.solids())]) if layout.placed else old
    total += layout.taste.growth * ((new[2] - new[0]) - (old[2] - old[0]) + (new[3] - new[1]) - (old[3] - old[1]))
    if cluster.room:
        total += 2.0 * max(0, cluster.room - (places[1].y - places[0].y) // 2)
    for place in places:
        for rail in place.fit.rails:
            if (rail.rail.symbol, place.y + rail.y) not in layout.levels:
                total += layout.taste.level
    return total


def _order(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """The cost of a place against the order of the signal, and of an unusual position."""
    middle = sum(place.x for place in places) / len(places)
    return _flow(layout, cluster, middle) + _posture(layout, cluster, places[0])


def _flow(layout: Layout, cluster: Cluster, middle: float) -> float:
    """The cost of a place along the signal axis that is against the order of the signal."""
    total = 0.0
    if cluster.rank is not None:
        for rank, x in layout.ranks.values():
            if rank != cluster.rank:
                wrong = (x + _AHEAD - middle) if rank < cluster.rank else (middle + _AHEAD - x)
                total += min(max(0.0, wrong) * _FLOW, _MOST_FLOW)
    return total


def _posture(layout: Layout, cluster: Cluster, place: Placed) -> float:
    """The cost of a position that is legal but not customary."""
    fit = place.fit
    item = place.item
    if item.kind in GROUPS["amplifying"]:
        backwards = fit.turn[0] < 0 and not cluster.sideways
        return 0.0 if not backwards else 5.0 if cluster.rank is None else _BACKWARDS
    if item.symbol.name.startswith("transformer"):
        return 14.0 if fit.turn[0] < 0 else 0.0
    ends = [pin for pin in fit.pins if pin.name != "w"]
    if item.kind == "potentiometer" and len(ends) < 3:
        if not fit.turn[1]:
            return _LYING
        return _against_current(layout, ends)
    if not item.two_ended or len(fit.pins) != 2:
        return 0.0
    if fit.upright:
        series = cluster.rank is not None and cluster.twin is None
        return _against_current(layout, ends) + (5.0 if series else 0.0)
    if cluster.twin is not None and cluster.inward and not cluster.sideways:
        return _LYING
    if cluster.rank is not None:
        left, right = sorted(ends, key=lambda pin: pin.x)
        entered = layout.there.get(left.net, 0) > 0
        left_from = layout.there.get(right.net, 0) > 0
        first = not layout.ranks or cluster.rank > min(rank for rank, _ in layout.ranks.values())
        return 12.0 if left_from and not entered and first else 0.0
    one, two = ends
    drop = abs(layout.volts.get(one.net, 0.0) - layout.volts.get(two.net, 0.0))
    junction = item.kind in GROUPS["junction"]
    return (4.0 if junction else 1.5) if drop > 0.02 or junction else 0.0


def _against_current(layout: Layout, ends: Sequence) -> float:
    """The cost of an upright part whose lower end has the higher voltage."""
    if len(ends) != 2:
        return 0.0
    above, below = sorted(ends, key=lambda pin: pin.y)
    high, low = layout.volts.get(above.net, math.nan), layout.volts.get(below.net, math.nan)
    return _ON_ITS_BACK if high < low - 0.02 else 0.0
