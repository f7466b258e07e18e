"""Placement: the parts go down one by one, each where its wires, its text and the order of the signal ask for least.

Places are first judged by an estimate of length and bends; the best of them are really wired and the cheapest is kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.layout import CLEAR, Layout, Placed
from topo.drawing.schematic.ordering import Cluster, next_cluster
from topo.drawing.schematic.survey import NEVER, Seats, Survey, Window
from topo.netlist.kinds import GROUPS

_FINALISTS = 6
_KEPT = 24
_NEAREST, _FARTHEST = 1, 30
_FLOW, _MOST_FLOW, _AHEAD = 3.0, 120.0, 4
_ON_ITS_BACK = 6.0
_LYING = 8.0
_BACKWARDS = 30.0
_GAIN = 0.5
# An estimate may be above what a place really costs by about so much.
_OVERRATED = 5.0


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
    layout.ranks = {key: value for key, value in layout.ranks.items() if key[0] != id(cluster)}
    worth = (sum(cost.values()) - sum(layout.cost[net] for net in nets)) / 20
    worth += _soft(layout, cluster, old) + _order(layout, cluster, old)
    best = _best(layout, cluster, worth - _GAIN)
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
    seats = tuple((place.fit, place.x, place.y) for place in places)
    for rank, middle in _middles(cluster, seats).items():
        layout.ranks[id(cluster), rank] = (rank, middle)


def _best(layout: Layout, cluster: Cluster, most: float = NEVER) -> tuple[float, list[Placed]] | None:
    """The cheapest place of a cluster with its cost; None where none was found that costs no more than `most`."""
    best: tuple[float, list[Placed]] | None = None
    tried = 0
    for estimate, places in _candidates(layout, cluster):
        if tried >= _FINALISTS or estimate > most + _OVERRATED:
            break
        apart = _soft(layout, cluster, places) + _order(layout, cluster, places)
        wires = layout.trial(places, most=most - apart)
        if wires is None:
            continue
        tried += 1
        if wires + apart < most and (best is None or wires + apart < best[0] - 1e-6):
            best = (wires + apart, places)
            most = best[0]
    return best


def _axis_of(cluster: Cluster, places: Sequence[Placed]) -> int:
    if cluster.seats:
        seat = cluster.seats[0]
        return places[0].x - seat.x + cluster.axis if cluster.sideways else places[0].y - seat.y + cluster.axis
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
        places = _at(layout, cluster, cluster.item.turns[0], x, y, line)
        hits = [layout.board.hit_by(place.fit, place.x, place.y) for place in places]
        if layout.free(places) and None not in hits:
            return places
    raise RuntimeError(f"no place was found for {cluster.item.key}")


def seated(seats: Seats, x: int, y: int) -> list[Placed]:
    """Items at their places, with the cluster's origin at a point."""
    return [Placed(fit, x + dx, y + dy) for fit, dx, dy in seats]


def _at(layout: Layout, cluster: Cluster, turn: g.Turn, x: int, y: int, axis: int) -> list[Placed]:
    """A cluster at a point: the item and its image about the axis, or the whole group."""
    if cluster.seats:
        return seated(_group(layout, cluster), x, y)
    first = Placed(layout.fitter.fit(cluster.item, turn), x, y)
    if cluster.twin is None:
        return [first]
    fit = layout.fitter.fit(cluster.twin, image_of(cluster, turn))
    return [first, Placed(fit, 2 * axis - x, y) if cluster.sideways else Placed(fit, x, 2 * axis - y)]


def _group(layout: Layout, cluster: Cluster) -> Seats:
    return tuple((layout.fitter.fit(seat.item, seat.turn), seat.x, seat.y) for seat in cluster.seats)


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


def _positions(layout: Layout, cluster: Cluster, window: Window) -> Iterator[tuple[Seats, range, range]]:
    """The positions of a cluster, each with the rows and columns where its origin may be."""
    x0, y0, x1, y1 = window
    rows, columns = range(y0, y1 + 1), range(x0, x1 + 1)
    axis = layout.axes.get(cluster.line) if cluster.line is not None else None
    if cluster.seats:
        seats = _group(layout, cluster)
        here = None if axis is None else axis - cluster.axis
        if here is None:
            yield seats, rows, columns
        else:
            yield (seats, rows, range(here, here + 1)) if cluster.sideways else (seats, range(here, here + 1), columns)
        return
    for turn in _turns(cluster):
        first = layout.fitter.fit(cluster.item, turn)
        if cluster.twin is None:
            one = ((first, 0, 0),)
            if axis is None:
                yield one, rows, columns
            elif cluster.sideways:
                yield one, rows, range(axis, axis + 1)
            else:
                yield one, range(axis, axis + 1), columns
            continue
        second = layout.fitter.fit(cluster.twin, image_of(cluster, turn))
        start = x0 if cluster.sideways else y0
        gaps = range(4, 10) if axis is None else range(_NEAREST, min(_FARTHEST, axis - start) + 1)
        for gap in gaps:
            away = 2 * gap
            seats = ((first, 0, 0), (second, away, 0) if cluster.sideways else (second, 0, away))
            if not _apart(seats):
                continue
            if axis is None:
                yield seats, rows, columns
            elif cluster.sideways:
                yield seats, rows, range(axis - gap, axis - gap + 1)
            else:
                yield seats, range(axis - gap, axis - gap + 1), columns


def _apart(seats: Seats) -> bool:
    """Whether two items stand clear of each other, text and all."""
    (one, _, _), (two, x, y) = seats
    pins = {(pin.x, pin.y) for pin in one.pins}
    if any((x + pin.x, y + pin.y) in pins for pin in two.pins):
        return False
    return not any(g.meet(g.grown(box, CLEAR), g.moved(other, x, y)) for box in one.solid for other in two.solid)


def _candidates(layout: Layout, cluster: Cluster) -> list[tuple[float, list[Placed]]]:
    """The likely places with what they are thought to cost, the best first; no more than are worth a look."""
    survey = Survey(layout, cluster)
    positions = list(_positions(layout, cluster, survey.window))
    survey.look(positions)
    found: list[tuple[float, int, Seats, int, int]] = []
    for seats, rows, columns in positions:
        costs = survey.judge(seats, rows, columns)
        costs += _flow(layout, cluster, seats, np.array(columns))[None, :]
        costs += _posture(layout, cluster, Placed(seats[0][0], 0, 0)) + _short_of_room(cluster, seats)
        flat = costs.ravel()
        few = np.argpartition(flat, _KEPT)[:_KEPT] if len(flat) > _KEPT else np.arange(len(flat))
        for index in sorted(few.tolist(), key=lambda number: (flat[number], number)):
            cost = float(flat[index])
            if cost >= NEVER:
                break
            place = columns[index % len(columns)], rows[index // len(columns)]
            found.append((cost, len(found), seats, *place))
    found.sort(key=lambda item: item[:2])
    return [(cost, seated(seats, x, y)) for cost, _, seats, x, y in found[: 3 * _FINALISTS]]


def _turns(cluster: Cluster) -> tuple[g.Turn, ...]:
    turns = cluster.item.turns
    lies = cluster.item.two_ended or cluster.item.symbol.name.startswith("coil")
    if cluster.line is not None and cluster.twin is None and lies:
        return tuple(turn for turn in turns if turn[1]) or turns
    return turns


def _soft(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """What speaks against a place apart from its wires."""
    total = layout.crowding(places)
    old = layout.box()
    new = g.around([old, *(box for place in places for box in place.solids())]) if layout.placed else old
    total += layout.taste.growth * ((new[2] - new[0]) - (old[2] - old[0]) + (new[3] - new[1]) - (old[3] - old[1]))
    total += _short_of_room(cluster, tuple((place.fit, place.x, place.y) for place in places))
    for place in places:
        for rail in place.fit.rails:
            if (rail.rail.symbol, place.y + rail.y) not in layout.levels:
                total += layout.taste.level
    return total


def _short_of_room(cluster: Cluster, seats: Seats) -> float:
    if not cluster.room or cluster.twin is None:
        return 0.0
    return 2.0 * max(0, cluster.room - (seats[1][2] - seats[0][2]) // 2)


def _order(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """The cost of a place against the order of the signal, and of an unusual position."""
    seats = tuple((place.fit, place.x, place.y) for place in places)
    return float(_flow(layout, cluster, seats, np.zeros(1))[0]) + _posture(layout, cluster, places[0])


def _middles(cluster: Cluster, seats: Seats) -> dict[int, float]:
    """For each rank of a cluster the mean place of its items along the signal axis."""
    found: dict[int, list[int]] = {}
    for fit, x, _ in seats:
        rank = cluster.ranks.get(fit.item.key)
        if rank is not None:
            found.setdefault(rank, []).append(x)
    return {rank: sum(xs) / len(xs) for rank, xs in found.items()}


def _flow(layout: Layout, cluster: Cluster, seats: Seats, columns: np.ndarray) -> np.ndarray:
    """For each column the cost of a place along the signal axis that is against the order of the signal."""
    total = np.zeros(len(columns))
    for own, middle in _middles(cluster, seats).items():
        for rank, x in layout.ranks.values():
            if rank != own:
                wrong = (x + _AHEAD - columns - middle) if rank < own else (columns + middle + _AHEAD - x)
                total += np.clip(wrong * _FLOW, 0.0, _MOST_FLOW)
    return total


def _posture(layout: Layout, cluster: Cluster, place: Placed) -> float:
    """The cost of a position that is legal but not customary."""
    if cluster.seats:
        return 0.0
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
