"""The order in which a drawing is built: where the signal comes by, and what belongs together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.items import Item, Rail
from topo.drawing.schematic.mirroring import Symmetry
from topo.netlist.kinds import ELECTRODES, GROUPS


@dataclass(frozen=True)
class Seat:
    """An item's position and place in a group."""

    item: Item
    turn: g.Turn
    x: int
    y: int


@dataclass
class Cluster:
    """What is placed in one step: an item, an item and its mirror image, or a group of items that stand fast.

    `rank` is the place along the signal path, None off it. `line` is the number of the mirror line that the item is
    placed about, None where it has none; `twin` is the lower item; `swapped` that its ends answer crosswise; `sideways`
    that the line stands upright. `inward` says that both reach the line, `room` how far from it they should stay.
    `seats` are the places of a group, `axis` where its mirror line is; `ranks` are the items' own along the path.
    `members` are the clusters of a string, which are placed in one line; `item` and `twin` are then the first's.
    """

    item: Item
    twin: Item | None = None
    swapped: bool = False
    line: int | None = None
    rank: int | None = None
    nets: tuple[str, ...] = ()
    sideways: bool = False
    inward: bool = False
    room: int = 0
    seats: tuple[Seat, ...] = ()
    axis: int = 0
    ranks: Mapping[str, int] = field(default_factory=dict)
    members: tuple[Cluster, ...] = ()

    @property
    def items(self) -> tuple[Item, ...]:
        """The items of the cluster, the upper first."""
        if self.seats:
            return tuple(seat.item for seat in self.seats)
        if self.members:
            lower = tuple(one.twin for one in self.members if one.twin is not None)
            return (*(one.item for one in self.members), *lower)
        return (self.item,) if self.twin is None else (self.item, self.twin)


def clusters_of(
    items: Sequence[Item],
    rails: Mapping[str, Rail],
    lines: Sequence[Symmetry],
    ranks: Mapping[str, int],
) -> list[Cluster]:
    """The clusters, in the order of their items."""
    by_key: dict[str, list[Item]] = {}
    for item in items:
        by_key.setdefault(item.key, []).append(item)
    found: list[Cluster] = []
    done: set[int] = set()
    for item in items:
        if id(item) in done:
            continue
        done.add(id(item))
        cluster = Cluster(item, rank=ranks.get(item.key))
        for number, line in enumerate(lines):
            if item.key in line.middle:
                cluster.line, cluster.sideways = number, line.sideways
            elif item.key in line.twin:
                other = next(iter(by_key.get(line.twin[item.key], ())), None)
                if other is None or id(other) in done or len(by_key[item.key]) > 1:
                    continue
                done.add(id(other))
                upper, lower = (item, other) if item.key in line.upper else (other, item)
                cluster.item, cluster.twin, cluster.line = upper, lower, number
                cluster.swapped, cluster.sideways = lower.key in line.swapped, line.sideways
                own = list(upper.nets.values())
                cluster.inward = any(line.nets.get(net) == net for net in own) or any("~" in net for net in own)
        nets = [net for one in cluster.items for net in one.nets.values() if net not in rails]
        cluster.nets = tuple(dict.fromkeys(nets))
        cluster.ranks = {one.key: ranks[one.key] for one in cluster.items if one.key in ranks}
        found.append(cluster)
    roomy = {one.line for one in found if one.inward and one.item.two_ended and not one.sideways}
    lines_of = {net: one.line for one in found if one.twin is not None for net in one.nets if "~" in net}
    for cluster in found:
        if cluster.item.rail:
            # A ground symbol that twins share stands on their line.
            cluster.line = lines_of.get(cluster.nets[0])
        if cluster.twin is not None and cluster.line in roomy and cluster.item.kind in ELECTRODES:
            cluster.room = 8
    return found


def next_cluster(left: Sequence[Cluster], placed: Mapping[str, int], ranked: Mapping[str, int]) -> Cluster:
    """The cluster to place next.

    Shunts of what stands come first, then devices in its columns and what hangs on nets off the signal path, then the
    next on the path, then what joins two places that stand already. `placed` counts the placed pins of each net,
    `ranked` the pins that each net has on the signal path.
    """

    def urgency(index: int) -> tuple[int, ...]:
        cluster = left[index]
        there = [net for net in cluster.nets if placed.get(net)]
        missing = [net for net in cluster.nets if not placed.get(net)]
        rank = cluster.rank if cluster.rank is not None else 999
        return _urgency(cluster, there, missing, placed, ranked), rank, len(missing), -len(there), index

    return left[min(range(len(left)), key=urgency)]


def _urgency(cluster: Cluster, there, missing, placed: Mapping[str, int], ranked: Mapping[str, int]) -> int:
    if not there:
        return 9
    if cluster.rank is not None:
        return 4
    if len(cluster.nets) == 1:
        return 1
    if cluster.seats:
        return 2
    if cluster.item.kind in ELECTRODES:
        _, emitting, collecting = ELECTRODES[cluster.item.kind]
        main = [cluster.item.nets.get(emitting, ""), cluster.item.nets.get(collecting, "")]
        return 2 if any(placed.get(net) for net in main) else 7
    if len(cluster.item.symbol.pins) > 3:
        return 7
    if cluster.twin is not None:
        return 2
    if cluster.item.kind in GROUPS["coil"] and missing:
        # A choke feeds from elsewhere; what lies behind it waits until the path stands.
        return 6
    if not missing:
        return 5
    return 3 if not any(ranked.get(net) for net in missing) else 6


def path_ranks(steps: Sequence[Sequence[str]], items: Sequence[Item]) -> dict[str, int]:
    """Ranks of designators along the signal path; ports stand at its ends."""
    ranks: dict[str, int] = {}
    for number, refs in enumerate(steps):
        for ref in refs:
            ranks.setdefault(ref, number + 1)
    for item in items:
        if item.kind == "input":
            ranks[item.key] = 0
        elif item.kind == "output":
            ranks[item.key] = len(steps) + 1
    return ranks


def guessed_path(items: Sequence[Item], rails: Mapping[str, Rail], starts: Sequence[str]) -> list[tuple[str, ...]]:
    """A signal path where the reading gives none: from the inputs on, devices entered at their control electrode."""
    reached = dict.fromkeys(starts, 0)
    steps: list[tuple[str, ...]] = []
    left = [item for item in items if item.kind not in ("input", "output")]
    devices = [item for item in left if item.kind in GROUPS["amplifying"] or item.kind == "opamp"]
    while devices:
        entry = next((item for item in devices if any(item.nets.get(c) in reached for c in _CONTROL)), devices[0])
        devices.remove(entry)
        steps.append((entry.key,))
        front = [net for net in entry.nets.values() if net not in rails]
        for net in front:
            reached.setdefault(net, 0)
        for item in left:
            if item.two_ended and any(net in front for net in item.nets.values()):
                for net in item.nets.values():
                    if net not in rails:
                        reached.setdefault(net, 0)
    return steps


def followed_on(
    steps: Sequence[Sequence[str]], items: Sequence[Item], rails: Mapping[str, Rail]
) -> list[Sequence[str]]:
    """The steps of a path, and where they end short of an output the devices behind, entered by their control."""
    by_key = {item.key: item for item in items}
    found = [*steps]
    last = [by_key[key] for key in found[-1] if key in by_key] if found else []
    ends = {net for item in items if item.kind == "output" for net in item.nets.values()}
    if not last or any(item.kind in GROUPS["load"] or ends & set(item.nets.values()) for item in last):
        return found
    seen = {key for step in found for key in step}
    front = {net for item in last for net in item.nets.values() if net not in rails}
    while True:
        for _ in range(_MOST_BETWEEN):
            for item in items:
                passive = item.two_ended or item.kind in ("potentiometer", "transformer")
                if passive and item.key not in seen and front & set(item.nets.values()):
                    front |= {net for net in item.nets.values() if net not in rails}
        entered = next(
            (
                item
                for item in items
                if (item.kind in GROUPS["amplifying"] or item.kind == "opamp")
                and item.key not in seen
                and any(item.nets.get(name) in front for name in _CONTROL)
            ),
            None,
        )
        if entered is None:
            return found
        found.append((entered.key,))
        seen.add(entered.key)
        front = {net for net in entered.nets.values() if net not in rails}


# So many parts in a row may stand between two devices.
_MOST_BETWEEN = 4
_CONTROL = ("b", "g", "g1", "in+", "in-")
