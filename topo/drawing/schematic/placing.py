"""Placement: the parts go down one by one, each where its wires, its text and the order of the signal ask for least.

Places are first judged by an estimate of length and bends; the best of them are really wired and the cheapest is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.layout import CLEAR, Layout, Placed
from topo.drawing.schematic.ordering import Cluster, next_cluster
from topo.drawing.schematic.postures import posture
from topo.drawing.schematic.stringing import forms
from topo.drawing.schematic.survey import NEVER, Seats, Survey, Window

_FINALISTS = 6
_KEPT = 24
_LISTED = 18
_NEAREST, _FARTHEST = 1, 30
_FLOW, _MOST_FLOW, _AHEAD = 3.0, 120.0, 4
_SHORT_OF_ROOM = 6.0
_GAIN = 0.5
# An estimate may be above what a place really costs by about so much.
_OVERRATED = 5.0


def place_all(layout: Layout, clusters: Sequence[Cluster], passes: int = 2) -> dict[int, list[Placed]]:
    """Place all clusters and wire each as it comes; then, so often, take each up and look for a better place.

    Returns:
        By the identity of each cluster where it stands.
    """
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
    return where


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
    forget(layout, cluster)
    worth = (sum(cost.values()) - sum(layout.cost[net] for net in nets)) / 20
    worth += _soft(layout, cluster, old) + order_cost(layout, cluster, old)
    best = _best(layout, cluster, worth - _GAIN)
    if best is not None and best[0] < worth - _GAIN:
        layout.trial(best[1], keep=True)
        old = best[1]
    else:
        layout.put_back(old, wires, cost)
    note_rank(layout, cluster, old)
    return old


def insert(layout: Layout, cluster: Cluster) -> list[Placed]:
    """Place one cluster at its best place and wire it."""
    best = _best(layout, cluster)
    places = best[1] if best is not None else _aside(layout, cluster)
    layout.trial(places, keep=True)
    if cluster.line is not None and cluster.line not in layout.axes:
        layout.axes[cluster.line] = _axis_of(cluster, places)
    note_rank(layout, cluster, places)
    return places


def forget(layout: Layout, cluster: Cluster) -> None:
    """Forget where a cluster stood along the signal path."""
    layout.ranks = {key: value for key, value in layout.ranks.items() if key[0] != id(cluster)}


def note_rank(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> None:
    """Note where a cluster stands along the signal path."""
    seats = tuple((place.fit, place.x, place.y) for place in places)
    for rank, middle in _middles(cluster, seats).items():
        layout.ranks[id(cluster), rank] = (rank, middle)


def _best(layout: Layout, cluster: Cluster, most: float = NEVER) -> tuple[float, list[Placed]] | None:
    """The cheapest place of a cluster with its cost; None where none was found that costs no more than `most`."""
    found = finalists(layout, cluster, most, 1)
    return found[0] if found else None


def finalists(
    layout: Layout, cluster: Cluster, most: float = NEVER, count: int = _FINALISTS
) -> list[tuple[float, list[Placed]]]:
    """The cheapest places of a cluster with their costs, the best first; all of those given are really wired."""
    found: list[tuple[float, list[Placed]]] = []
    tried = 0
    for estimate, places in _candidates(layout, cluster):
        if tried >= _FINALISTS or estimate > most + _OVERRATED:
            break
        apart = _soft(layout, cluster, places) + order_cost(layout, cluster, places)
        wires = layout.trial(places, most=most - apart)
        if wires is None:
            continue
        tried += 1
        if wires + apart < most - 1e-6:
            found.append((wires + apart, places))
            found.sort(key=lambda item: item[0])
            if len(found) >= count:
                del found[count:]
                most = found[-1][0]
    return found


def _axis_of(cluster: Cluster, places: Sequence[Placed]) -> int:
    if cluster.seats:
        seat = cluster.seats[0]
        return places[0].x - seat.x + cluster.axis if cluster.sideways else places[0].y - seat.y + cluster.axis
    image = places[len(places) // 2]
    return (places[0].x + image.x) // 2 if cluster.sideways else (places[0].y + image.y) // 2


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
        places = _at(layout, cluster, x, y, line)
        hits = [layout.board.hit_by(place.fit, place.x, place.y) for place in places]
        if layout.free(places) and None not in hits:
            return places
    raise RuntimeError(f"no place was found for {cluster.item.key}")


def seated(seats: Seats, x: int, y: int) -> list[Placed]:
    """Items at their places, with the cluster's origin at a point."""
    return [Placed(fit, x + dx, y + dy) for fit, dx, dy in seats]


def _at(layout: Layout, cluster: Cluster, x: int, y: int, axis: int) -> list[Placed]:
    """A cluster at a point: the item and its image about the axis, the whole group, or the string."""
    if cluster.seats:
        return seated(_group(layout, cluster), x, y)
    upper = _uppers(layout, cluster)[0]
    return seated(_with_images(layout, cluster, upper, axis - (x if cluster.sideways else y)), x, y)


def _uppers(layout: Layout, cluster: Cluster) -> list[Seats]:
    """The positions of an item or a string, without its images."""
    if cluster.members:
        return forms(layout.fitter, cluster)
    return [((layout.fitter.fit(cluster.item, turn), 0, 0),) for turn in _turns(cluster)]


def _with_images(layout: Layout, cluster: Cluster, upper: Seats, gap: int) -> Seats:
    """Upper items and their images about a mirror line that is so far from their origin."""
    if cluster.twin is None:
        return upper
    lower = []
    for member, (fit, x, y) in zip(cluster.members or (cluster,), upper, strict=True):
        assert member.twin is not None
        image = layout.fitter.fit(member.twin, image_of(member, fit.turn))
        lower.append((image, 2 * gap - x, y) if cluster.sideways else (image, x, 2 * gap - y))
    return (*upper, *lower)


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
    for upper in _uppers(layout, cluster):
        if cluster.twin is None:
            if axis is None:
                yield upper, rows, columns
            elif cluster.sideways:
                yield upper, rows, range(axis, axis + 1)
            else:
                yield upper, range(axis, axis + 1), columns
            continue
        start = x0 if cluster.sideways else y0
        gaps = range(4, 10) if axis is None else range(_NEAREST, min(_FARTHEST, axis - start) + 1)
        for gap in gaps:
            seats = _with_images(layout, cluster, upper, gap)
            if not _apart(seats):
                continue
            if axis is None:
                yield seats, rows, columns
            elif cluster.sideways:
                yield seats, rows, range(axis - gap, axis - gap + 1)
            else:
                yield seats, range(axis - gap, axis - gap + 1), columns


def _apart(seats: Seats) -> bool:
    """Whether items stand clear of their images, text and all, on one side of the line."""
    half = len(seats) // 2
    for one, ax, ay in seats[:half]:
        pins = {(ax + pin.x, ay + pin.y) for pin in one.pins}
        for two, x, y in seats[half:]:
            if any((x + pin.x, y + pin.y) in pins for pin in two.pins):
                return False
            mine = [g.moved(g.grown(box, CLEAR), ax, ay) for box in one.solid]
            if any(g.meet(box, g.moved(other, x, y)) for box in mine for other in two.solid):
                return False
    return True


def _candidates(layout: Layout, cluster: Cluster) -> list[tuple[float, list[Placed]]]:
    """The likely places with what they are thought to cost, the best first; no more than are worth a look."""
    survey = Survey(layout, cluster)
    positions = list(_positions(layout, cluster, survey.window))
    survey.look(positions)
    found: list[tuple[float, int, Seats, int, int]] = []
    for seats, rows, columns in positions:
        costs = survey.judge(seats, rows, columns)
        costs += _flow(layout, cluster, seats, np.array(columns))[None, :]
        costs += posture(layout, cluster, seated(seats, 0, 0)) + _short_of_room(cluster, seats)
        flat = costs.ravel()
        few = np.argpartition(flat, _KEPT)[:_KEPT] if len(flat) > _KEPT else np.arange(len(flat))
        for index in sorted(few.tolist(), key=lambda number: (flat[number], number)):
            cost = float(flat[index])
            if cost >= NEVER:
                break
            place = columns[index % len(columns)], rows[index // len(columns)]
            found.append((cost, len(found), seats, *place))
    found.sort(key=lambda item: item[:2])
    return [(cost, seated(seats, x, y)) for cost, _, seats, x, y in found[:_LISTED]]


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
    return _SHORT_OF_ROOM * max(0, cluster.room - (seats[1][2] - seats[0][2]) // 2)


def order_cost(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """The cost of a place against the order of the signal, and of an unusual position."""
    seats = tuple((place.fit, place.x, place.y) for place in places)
    return float(_flow(layout, cluster, seats, np.zeros(1))[0]) + posture(layout, cluster, places)


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
                total += np.minimum(np.maximum(wrong * _FLOW, 0.0), _MOST_FLOW)
    return total
