"""Groups of items that stand to each other as the drawings of their patterns say.

A pattern's drawing gives places to its roles, written for devices whose current comes from above; for the opposite
polarity all of it is turned upside down. Groups that share an item grow together. What does not fit - no room, a
mirror line that it would break - is left out, and is placed like any other item.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.fitting import Fit, Fitter
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.layout import CLEAR
from topo.drawing.schematic.mirroring import Symmetry
from topo.drawing.schematic.ordering import Cluster, Seat
from topo.netlist.circuit import Circuit
from topo.netlist.kinds import GROUPS

_TURNS = {"plain": g.PLAIN, "mirror": g.MIRRORED, "flip": g.FLIPPED, "half": g.HALF}
_P_KINDS = ("pnp", "pjfet", "pmos")
_FARTHEST_STEP = 5
_UNSEATED = 100


@dataclass(frozen=True)
class Template:
    """A pattern's drawing for one block: for each role its place (`at`, `o`), and the designator drawn for it.

    `pairs` are roles above and below a level line of symmetry, which may change places.
    """

    places: Mapping[str, Mapping[str, Any]]
    refs: Mapping[str, str]
    pairs: Sequence[Sequence[str]] = ()

    def exchanged(self) -> Template:
        """The same with the roles of all pairs changed over."""
        other = {one: two for pair in self.pairs for one, two in (pair, pair[::-1])}
        return replace(self, refs={other.get(role, role): ref for role, ref in self.refs.items()})


def drawn_apart(templates: Sequence[Template], circuit: Circuit) -> set[frozenset[str]]:
    """The pairs of devices that a pattern draws otherwise than as images about a level line."""
    found: set[frozenset[str]] = set()
    for template in templates:
        devices = [
            (circuit.by_ref[ref], template.places[role])
            for role, ref in template.refs.items()
            if ref in circuit.by_ref and circuit.by_ref[ref].kind in GROUPS["amplifying"]
        ]
        for (one, place), (two, other) in combinations(devices, 2):
            turned = place.get("o", "plain") != other.get("o", "plain")
            if place["at"][0] != other["at"][0] or turned != (one.kind == two.kind):
                found.add(frozenset((one.ref, two.ref)))
    return found


@dataclass
class _Group:
    seats: dict[str, Seat] = field(default_factory=dict)


def grouped(
    clusters: Sequence[Cluster], templates: Sequence[Template], fitter: Fitter, lines: Sequence[Symmetry]
) -> list[Cluster]:
    """The clusters, those of a group's items replaced by the group."""
    by_key: dict[str, list[Item]] = {}
    for cluster in clusters:
        for item in cluster.items:
            by_key.setdefault(item.key, []).append(item)
    items = {key: found[0] for key, found in by_key.items() if key and len(found) == 1}
    groups: list[_Group] = []
    for template in sorted(templates, key=lambda template: -_devices(template, items)):
        _use(template, items, groups, fitter)
    line_of = {cluster.item.key: cluster.line for cluster in clusters if cluster.line is not None}
    line_of |= {cluster.twin.key: cluster.line for cluster in clusters if cluster.line is not None and cluster.twin}
    found: list[Cluster] = []
    for group in groups:
        made = _cluster_of(group, clusters, line_of, lines)
        if made is not None:
            found.append(made)
    inside = {seat.item.key for cluster in found for seat in cluster.seats}
    rest = [cluster for cluster in clusters if not any(item.key in inside for item in cluster.items)]
    return [*found, *rest]


def _devices(template: Template, items: Mapping[str, Item]) -> int:
    """How many devices a template places, of which those with more are used first; more than two count as two."""
    keys = {template.refs[role] for role in template.places if template.refs.get(role) in items}
    return min(2, sum(items[key].kind in GROUPS["amplifying"] for key in keys))


def _use(template: Template, items: Mapping[str, Item], groups: list[_Group], fitter: Fitter) -> None:
    """Make a group of a template, or let it grow a group that has one of its items.

    What the template leaves open - which of a pair is above, and without a device which way up it belongs - is as it
    leaves the shorter wires.
    """
    ways = [
        _laid(one, items, groups, upside, fitter)
        for one in ((template, template.exchanged()) if template.pairs else (template,))
        for upside in _ways_up(template, items)
    ]
    group, seats, _ = min(ways, key=lambda way: (way[2], _looseness(way[1], fitter))) if len(ways) > 1 else ways[0]
    if group is not None:
        group.seats = seats
    elif len(seats) > 1:
        groups.append(_Group(seats))


def _ways_up(template: Template, items: Mapping[str, Item]) -> tuple[int, ...]:
    """1 for a template as it is written, -1 for one that is turned upside down."""
    keys = [template.refs[role] for role in template.places if template.refs.get(role) in items]
    first = next((items[key] for key in keys if items[key].kind in GROUPS["amplifying"]), None)
    if first is None:
        return 1, -1
    return (-1 if (first.kind in _P_KINDS) != (g.FLIPPED in first.turns) else 1,)


def _laid(
    template: Template, items: Mapping[str, Item], groups: Sequence[_Group], upside: int, fitter: Fitter
) -> tuple[_Group | None, dict[str, Seat], int]:
    """The group that a template grows, its seats with those of the template, and how many sit otherwise already."""
    roles = [role for role in template.places if template.refs.get(role) in items]
    refs = {role: template.refs[role] for role in roles}
    group = next((group for role in roles for group in groups if refs[role] in group.seats), None)
    taken = {key for other in groups if other is not group for key in other.seats}
    if len(set(refs.values())) < 2:
        return group, dict(group.seats) if group is not None else {}, 0
    there = group.seats if group is not None else {}
    devices = [role for role in roles if items[refs[role]].kind in GROUPS["amplifying"]]
    anchor = next((role for role in roles if refs[role] in there), (devices or roles)[0])
    grown, otherwise = _Group(dict(there)), 0
    origin = there.get(refs[anchor], Seat(items[refs[anchor]], g.PLAIN, 0, 0))
    ax, ay = template.places[anchor]["at"]
    plain = template.places[anchor].get("o", "plain") == "plain"
    aside = -1 if there and origin.turn[0] < 0 and plain and anchor in devices else 1
    left = sorted(refs, key=lambda role: role != anchor)
    while left:
        own = [grown.seats[key] for key in refs.values() if key in grown.seats]
        role = next((role for role in left if _belongs(items[refs[role]], own, fitter)), None)
        if role is None:
            break
        left.remove(role)
        key = refs[role]
        x, y = template.places[role]["at"]
        x, y = origin.x + aside * (x - ax), origin.y + upside * (y - ay)
        if key in there:
            otherwise += (there[key].x, there[key].y) != (x, y)
        if key in taken or key in grown.seats:
            continue
        seat = _seat(
            items[key],
            x,
            y,
            str(template.places[role].get("o", "")),
            aside,
            grown,
            fitter,
        )
        if seat is not None:
            grown.seats[key] = seat
    return group, grown.seats, otherwise


def _belongs(item: Item, own: Sequence[Seat], fitter: Fitter) -> bool:
    """Whether an item has a net in common with what a template has seated; devices and transformers may lack that."""
    if not item.two_ended or not own:
        return True
    there = {net for seat in own for net in seat.item.nets.values() if net not in fitter.rails}
    return any(net in there for net in item.nets.values())


def _looseness(seats: Mapping[str, Seat], fitter: Fitter) -> int:
    """How far pins of one net are apart, and how many items lack a seat: the less the better."""
    places: dict[str, list[tuple[int, int]]] = {}
    for seat in seats.values():
        for pin in fitter.fit(seat.item, seat.turn).pins:
            places.setdefault(pin.net, []).append((seat.x + pin.x, seat.y + pin.y))
    far = sum(abs(x - ends[0][0]) + abs(y - ends[0][1]) for ends in places.values() for x, y in ends[1:])
    return far - _UNSEATED * len(seats)


def _seat(item: Item, x: int, y: int, how: str, aside: int, group: _Group, fitter: Fitter) -> Seat | None:
    """The seat of an item near a place: in line with what it is joined to, clear of all that sits already."""
    there = [
        (seat.x + pin.x, seat.y + pin.y, pin)
        for seat in group.seats.values()
        for pin in fitter.fit(seat.item, seat.turn).pins
    ]
    if item.kind in GROUPS["amplifying"]:
        turns = [g.after(item.turns[0], _TURNS.get(how, g.PLAIN))]
        if aside < 0:
            turns = [g.after(g.MIRRORED, turns[0])]
    else:
        upright = how != "h"
        turns = [turn for turn in item.turns if bool(turn[1]) == upright] or list(item.turns)
    best: tuple[float, Seat] | None = None
    for turn in turns:
        fit = fitter.fit(item, turn)
        sx, sy = _in_line(fit, x, y, there)
        far: float = sum(
            min(
                (abs(sx + pin.x - px) + abs(sy + pin.y - py) for px, py, other in there if other.net == pin.net),
                default=0,
            )
            for pin in fit.pins
        )
        # A wiper that nothing draws to one side looks to where the signal goes.
        far += 0.5 * any(pin.name == "w" and pin.dx < 0 for pin in fit.pins)
        if best is None or far < best[0]:
            best = (far, Seat(item, turn, sx, sy))
    assert best is not None
    seat = best[1]
    fit = fitter.fit(item, seat.turn)
    away = 1 if seat.x >= 0 else -1
    for step in range(_FARTHEST_STEP + 1):
        moved = Seat(item, seat.turn, seat.x + step * away, seat.y)
        if _has_room(fit, moved, group, fitter) and _texts_fit([*group.seats.values(), moved], fitter):
            return moved
        if item.kind in GROUPS["amplifying"] or _straight(fit, seat, there):
            break
    # Where a text alone lacks room, the drawing is parted for it later.
    return seat if _has_room(fit, seat, group, fitter) else None


def _in_line(fit: Fit, x: int, y: int, there) -> tuple[int, int]:
    """A place moved by a module where that brings a pin into line with one that it is joined to."""
    for pin in fit.pins:
        for px, py, other in there:
            if other.net != pin.net:
                continue
            if pin.dy and other.dy and abs(x + pin.x - px) == 1:
                return px - pin.x, y
            if pin.dx and other.dx and abs(y + pin.y - py) == 1:
                return x, py - pin.y
    return x, y


def _straight(fit: Fit, seat: Seat, there) -> bool:
    """Whether an item stands in one column with a pin that it is joined to."""
    return any(
        other.net == pin.net and pin.dy and other.dy and seat.x + pin.x == px
        for pin in fit.pins
        for px, _, other in there
    )


def _has_room(fit: Fit, seat: Seat, group: _Group, fitter: Fitter) -> bool:
    own = [g.moved(g.grown(box, CLEAR), seat.x, seat.y) for box in fit.solid]
    pins = {(seat.x + pin.x, seat.y + pin.y) for pin in fit.pins}
    for other in group.seats.values():
        theirs = fitter.fit(other.item, other.turn)
        if any((other.x + pin.x, other.y + pin.y) in pins for pin in theirs.pins):
            return False
        solid = [g.moved(box, other.x, other.y) for box in theirs.solid]
        if any(g.meet(one, two) for one in own for two in solid):
            return False
    return True


def _texts_fit(seats: Sequence[Seat], fitter: Fitter) -> bool:
    """Whether each upright item has room for its text at its right or, failing that, at its left."""
    fits = [(seat, fitter.fit(seat.item, seat.turn)) for seat in seats]
    solid = [[g.moved(box, seat.x, seat.y) for box in fit.solid] for seat, fit in fits]
    taken: list[g.Box] = []
    for number, (seat, fit) in enumerate(fits):
        if not fit.upright or not fit.zones:
            continue
        others = [box for index, boxes in enumerate(solid) if index != number for box in boxes]
        (x0, y0, x1, y1) = fit.zones[0]
        left = fit.body[0] - (x0 - fit.body[2])
        for zone in ((x0, y0, x1, y1), (left - (x1 - x0), y0, left, y1)):
            box = g.moved(zone, seat.x, seat.y)
            if not any(g.meet(box, other) for other in (*others, *taken)):
                taken.append(box)
                break
        else:
            return False
    return True


def _cluster_of(
    group: _Group, clusters: Sequence[Cluster], line_of: Mapping[str, int | None], lines: Sequence[Symmetry]
) -> Cluster | None:
    """The group as a cluster, without what would break a mirror line; None where too little is left."""
    seats = dict(group.seats)
    own = [line_of[key] for key in seats if key in line_of]
    number = own[0] if own else None
    if number is not None and _stands_otherwise(seats, lines[number]):
        number = None
    axis = 0
    if number is not None:
        line = lines[number]
        double = next(
            (_double(line, seats[key], seats[line.twin[key]]) for key in seats if line.twin.get(key) in seats), None
        )
        if double is None:
            double = next((_double(line, seats[key], seats[key]) for key in seats if key in line.middle), None)
        for key in list(seats):
            if line_of.get(key, number) != number or not _fits_line(seats.get(key), seats, line, double):
                seats.pop(key, None)
        for key in list(seats):
            if key in line.twin and line.twin[key] not in seats:
                seats.pop(key)
        if double is None or double % 2:
            return None
        axis = double // 2
    if len(seats) < 2:
        return None
    within = [cluster for cluster in clusters if any(item.key in seats for item in cluster.items)]
    ranks = {key: rank for cluster in within for key, rank in cluster.ranks.items() if key in seats}
    ordered = tuple(seats.values())
    return Cluster(
        ordered[0].item,
        line=number,
        rank=min(ranks.values(), default=None),
        nets=tuple(dict.fromkeys(net for cluster in within for net in cluster.nets)),
        sideways=number is not None and lines[number].sideways,
        seats=ordered,
        axis=axis,
        ranks=ranks,
    )


def _stands_otherwise(seats: Mapping[str, Seat], line: Symmetry) -> bool:
    """Whether the patterns place twins otherwise than as mirror images; the mirror line then does not count."""
    pairs = [(seat, seats[line.twin[key]]) for key, seat in seats.items() if line.twin.get(key) in seats]
    doubles = {_double(line, one, two) for one, two in pairs}
    across = any((one.y != two.y) if line.sideways else (one.x != two.x) for one, two in pairs)
    return across or len(doubles) > 1 or any(double % 2 for double in doubles)


def _double(line: Symmetry, one: Seat, two: Seat) -> int:
    """Twice the place of the line between two seats."""
    return one.x + two.x if line.sideways else one.y + two.y


def _fits_line(seat: Seat | None, seats: Mapping[str, Seat], line: Symmetry, double: int | None) -> bool:
    """Whether a seat is the image of its twin's, or on the line where it belongs there."""
    if seat is None:
        return False
    key = seat.item.key
    if key in line.middle:
        return double is not None and _double(line, seat, seat) == double
    if key not in line.twin:
        return True
    twin = seats.get(line.twin[key])
    if twin is None or _double(line, seat, twin) != double:
        return False
    return (seat.y == twin.y) if line.sideways else (seat.x == twin.x)
