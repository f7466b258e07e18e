"""What speaks against a position that is legal but not customary."""

from __future__ import annotations

import math
from collections.abc import Sequence

from topo.drawing.schematic.fitting import PinPlace
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.layout import Layout, Placed
from topo.drawing.schematic.ordering import Cluster
from topo.netlist.kinds import GROUPS

_ON_ITS_BACK = 6.0
_LYING = 8.0
_BACKWARDS = 30.0


def posture(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    """The cost of a position that is legal but not customary."""
    if cluster.seats:
        return 0.0
    if cluster.members:
        return _posture_of_string(layout, cluster, places)
    place = places[0]
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
        first = not layout.ranks or cluster.rank > min(rank for rank, _ in layout.ranks.values())
        return _from_the_right(layout, left.net, right.net) if first else 0.0
    return _lying(layout, item, ends)


def _posture_of_string(layout: Layout, cluster: Cluster, places: Sequence[Placed]) -> float:
    upper = [(place, list(place.fit.pins)) for place in places[: len(cluster.members)]]
    if upper[0][0].fit.upright:
        series = 5.0 if cluster.rank is not None and cluster.twin is None else 0.0
        return series + sum(_against_current(layout, ends) for _, ends in upper)
    if cluster.twin is not None and cluster.inward and not cluster.sideways:
        return _LYING
    if cluster.rank is None:
        return sum(_lying(layout, place.item, ends) for place, ends in upper if len(ends) == 2)
    ends = [(place.x + pin.x, pin.net) for place, pins in upper for pin in pins]
    first = not layout.ranks or cluster.rank > min(rank for rank, _ in layout.ranks.values())
    return _from_the_right(layout, min(ends)[1], max(ends)[1]) if first else 0.0


def _from_the_right(layout: Layout, left: str, right: str) -> float:
    """The cost of a part of the path whose right end alone is joined to what stands."""
    return 12.0 if layout.there.get(right, 0) > 0 and not layout.there.get(left, 0) > 0 else 0.0


def _lying(layout: Layout, item: Item, ends: Sequence[PinPlace]) -> float:
    """The cost of a part off the path that lies, though a direct current flows through it."""
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
