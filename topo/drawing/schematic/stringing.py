"""Strings: parts one behind the other, with nothing else on the nets between them, which are placed in one line."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.fitting import Fit, Fitter, text_width
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.ordering import Cluster
from topo.netlist.kinds import GROUPS

_LONGEST = 3
_PITCH, _GAP = 5, 0.7
_WAYS = ((1, 0), (0, 1), (-1, 0), (0, -1))

Places = tuple[tuple[Fit, int, int], ...]


def strung(clusters: Sequence[Cluster], rails: Collection[str]) -> list[Cluster]:
    """The clusters, those that follow one another on nets of their own replaced by a string of them."""
    pins: dict[str, int] = {}
    for cluster in clusters:
        for item in cluster.items:
            for net in item.nets.values():
                pins[net] = pins.get(net, 0) + 1
    inner = {net for net, count in pins.items() if count == 2 and net not in rails}
    by_net: dict[str, list[Cluster]] = {}
    for cluster in clusters:
        if _may_be_strung(cluster):
            for net in dict.fromkeys(cluster.item.nets.values()):
                if net in inner:
                    by_net.setdefault(net, []).append(cluster)
    pairs = {net: (both[0], both[1]) for net, both in by_net.items() if len(both) == 2}
    links = {net: pair for net, pair in pairs.items() if _alike(pair[0], pair[1], net)}
    found: list[Cluster] = []
    done: set[int] = set()
    for cluster in clusters:
        if id(cluster) in done:
            continue
        chain = _chain(cluster, links)
        while len(chain) > 1:
            part, chain = chain[:_LONGEST], chain[_LONGEST:]
            if not _is_shunt_on_the_path(part, rails) and len(part) > 1:
                found.append(_string_of(part))
                done.update(id(one) for one in part)
        if id(cluster) not in done:
            found.append(cluster)
            done.add(id(cluster))
    return found


def _may_be_strung(cluster: Cluster) -> bool:
    if cluster.seats or not all(item.two_ended for item in cluster.items):
        return False
    if cluster.line is not None and cluster.twin is None:
        return False
    return cluster.item.kind not in GROUPS["load"] and cluster.item.kind not in GROUPS["source"]


def _alike(one: Cluster, two: Cluster, net: str) -> bool:
    """Whether two clusters can stand in one line; the lower items of twins must follow one another as the upper do."""
    if (one.line, one.sideways, one.rank is None) != (two.line, two.sideways, two.rank is None):
        return False
    if (one.twin is None) != (two.twin is None):
        return False
    if one.twin is None or two.twin is None:
        return True
    images = [set(own.twin.nets.values()) - set(own.item.nets.values()) for own in (one, two) if own.twin is not None]
    return len(images[0] & images[1]) == 1 and net not in images[0]


def _chain(cluster: Cluster, links: dict[str, tuple[Cluster, Cluster]]) -> list[Cluster]:
    """The clusters that follow one another through one of them, from the end that comes first."""
    ends: list[list[Cluster]] = []
    for start in dict.fromkeys(cluster.item.nets.values()):
        run: list[Cluster] = []
        here, net = cluster, start
        while net in links:
            here = links[net][1] if links[net][0] is here else links[net][0]
            if here is cluster or here in run:
                break
            run.append(here)
            net = next((other for other in here.item.nets.values() if other != net), net)
        ends.append(run)
    before, after = (*ends, [], [])[:2]
    if any(one in before for one in after):
        return [cluster]
    return [*reversed(before), cluster, *after]


def _is_shunt_on_the_path(part: Sequence[Cluster], rails: Collection[str]) -> bool:
    return part[0].rank is not None and any(net in rails for one in part for net in one.item.nets.values())


def _string_of(part: Sequence[Cluster]) -> Cluster:
    first = part[0]
    ranks = {key: rank for one in part for key, rank in one.ranks.items()}
    if ranks and part[-1].rank is not None and first.rank is not None and part[-1].rank < first.rank:
        part = part[::-1]
        first = part[0]
    return Cluster(
        first.item,
        twin=first.twin,
        line=first.line,
        rank=min(ranks.values(), default=None),
        nets=tuple(dict.fromkeys(net for one in part for net in one.nets)),
        sideways=first.sideways,
        inward=any(one.inward for one in part),
        members=tuple(part),
        ranks=ranks,
    )


def forms(fitter: Fitter, cluster: Cluster) -> list[Places]:
    """The upper items of a string in one line: to the right, downwards, to the left and upwards, where that is legal.

    Places are relative to the first item.
    """
    items = [member.item for member in cluster.members]
    found: list[Places] = []
    for way in _WAYS:
        places: list[tuple[Fit, int, int]] = []
        away = 0
        for number, item in enumerate(items):
            turn = _turn_along(item, _entry(items, number), way)
            if turn is None:
                break
            if number:
                away += _pitch(items[number - 1], item) if way[0] else _PITCH
            places.append((fitter.fit(item, turn), away * way[0], away * way[1]))
        else:
            found.append(tuple(places))
    return found


def _entry(items: Sequence[Item], number: int) -> str:
    """The pin by which a string comes into one of its items."""
    own = items[number].nets
    if number:
        before = set(items[number - 1].nets.values())
        return next(pin for pin, net in own.items() if net in before)
    behind = set(items[1].nets.values())
    return next((pin for pin, net in own.items() if net not in behind), next(iter(own)))


def _turn_along(item: Item, entry: str, way: tuple[int, int]) -> g.Turn | None:
    pin = item.symbol.pin(entry)
    for turn in item.turns:
        if g.grid_turned(turn, pin.dx, pin.dy) == (-way[0], -way[1]):
            return turn
    return None


def _pitch(one: Item, two: Item) -> int:
    """How far apart two items lie in a row, so that their texts do not meet."""
    wide = [max((text_width(line) for line in item.lines), default=0.0) for item in (one, two)]
    return max(_PITCH, math.ceil(sum(wide) / 2 + _GAP))
