"""A large circuit in pieces: what hangs on the signal path by one net only, and stretches of a long path.

Each piece is laid out alone. A net that is cut gets a flag with its name on both sides, so that the pieces can stand
in rows beneath each other without wires between them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.symbols import symbol
from topo.netlist.kinds import GROUPS

# Below so many items a figure is one piece; a feed by the side must have so many of its own to be worth a flag.
_SMALL, _FEED = 30, 5
# A row of the signal path has about so many items, and never fewer than these.
_ROW, _SHORTEST = 46, 14
# Of feeds within one another the smallest is taken that still has so much of the largest.
_MOST_OF = 0.7

_MARK = "~flag "
_LAST = 1 << 20

Piece = list[Item]


def uncut(net: str) -> str:
    """The name in the circuit of a net that may be one side of a cut."""
    return net.partition(_MARK)[0]


def pieces_of(items: Sequence[Item], rails: Collection[str], ranks: Mapping[str, int]) -> list[Piece]:
    """The items in pieces that no wire joins: those of the signal path first, in its order."""
    found = _connected(items, rails)
    if len(items) > _SMALL:
        for split in (_feed_split, _path_split):
            done: list[Piece] = []
            while found:
                piece = found.pop(0)
                parts = split(piece, rails, ranks)
                if parts is None:
                    done.append(piece)
                else:
                    found = [*parts, *found]
            found = done
    place = {item.key: number for number, item in reversed(list(enumerate(items)))}
    return sorted(found, key=lambda piece: (_first(piece, ranks), min(place.get(item.key, 1 << 30) for item in piece)))


def _first(piece: Iterable[Item], ranks: Mapping[str, int]) -> int:
    return min((ranks[item.key] for item in piece if item.key in ranks), default=1 << 30)


def _connected(items: Sequence[Item], rails: Collection[str], without: str = "") -> list[Piece]:
    """The items that wires join, in the order of the first of each piece."""
    by_net: dict[str, list[int]] = {}
    for number, item in enumerate(items):
        for net in dict.fromkeys(item.nets.values()):
            if net not in rails and net != without:
                by_net.setdefault(net, []).append(number)
    piece_of: dict[int, int] = {}
    for start in range(len(items)):
        if start in piece_of:
            continue
        front = [start]
        piece_of[start] = start
        for number in front:
            for net in items[number].nets.values():
                for other in by_net.get(net, ()):
                    if other not in piece_of:
                        piece_of[other] = start
                        front.append(other)
    pieces: dict[int, Piece] = {}
    for number, item in enumerate(items):
        pieces.setdefault(piece_of[number], []).append(item)
    return list(pieces.values())


def flag_ranks(piece: Iterable[Item]) -> dict[str, int]:
    """Ranks of a piece's flags along the signal path: those at its beginning and at its end.

    The symbol of a supply that is wired stands behind what is across the supply.
    """
    ends = {"in": -1, "out": _LAST}
    found: dict[str, int] = {}
    for item in piece:
        if item.kind == "flag" and (side := item.key.rpartition(" ")[2]) in ends:
            found[item.key] = ends[side]
        elif item.kind == "supply":
            found[item.key] = _LAST
        elif item.kind not in GROUPS["diode"] and any(net.endswith("~supply") for net in item.nets.values()):
            found[item.key] = _LAST - 1
    return found


def _nets(piece: Iterable[Item], rails: Collection[str]) -> list[str]:
    return list(dict.fromkeys(net for item in piece for net in item.nets.values() if net not in rails))


def _feed_split(piece: Piece, rails: Collection[str], ranks: Mapping[str, int]) -> list[Piece] | None:
    """The piece and what feeds it from the side: devices off the signal path, joined to it by one net."""
    if not any(item.key in ranks for item in piece):
        return None
    feeds: list[tuple[int, str, Piece]] = []
    for net in _nets(piece, rails):
        if "~" in net:
            continue
        for part in _connected(piece, rails, without=net):
            own = len(part)
            if own >= _FEED and not any(item.key in ranks for item in part) and _has_device(part):
                feeds.append((own, net, part))
    if not feeds:
        return None
    feeds.sort(key=lambda feed: -feed[0])
    largest = {item.key for item in feeds[0][2]}
    inside = [
        feed for feed in feeds if {item.key for item in feed[2]} <= largest and feed[0] >= _MOST_OF * len(largest)
    ]
    _, net, feed = inside[-1]
    beyond = {id(item) for item in feed}
    # What only leads from there to ground or a supply belongs to what feeds.
    beyond |= {id(item) for item in piece if item.key not in ranks and _nets([item], rails) == [net]}
    feed = [item for item in piece if id(item) in beyond]
    return _cut(net, [item for item in piece if id(item) not in beyond], feed, "side", "out")


def _has_device(part: Iterable[Item]) -> bool:
    return any(item.kind in GROUPS["amplifying"] or item.kind in ("regulator", "opamp") for item in part)


def _path_split(piece: Piece, rails: Collection[str], ranks: Mapping[str, int]) -> list[Piece] | None:
    """A long piece in two, at the net of the signal path that leaves rows of about one length."""
    rows = -(-len(piece) // _ROW)
    if rows < 2:
        return None
    best: tuple[float, str, Piece] | None = None
    for net in _nets(piece, rails):
        if "~" in net:
            continue
        parts = _connected(piece, rails, without=net)
        if len(parts) < 2:
            continue
        last = max(parts, key=lambda part: max((ranks.get(item.key, -1) for item in part), default=-1))
        before = len(piece) - len(last)
        if min(before, len(last)) < _SHORTEST or _first(last, ranks) <= 0:
            continue
        ahead = [ranks[item.key] for part in parts if part is not last for item in part if item.key in ranks]
        if not ahead or _first(last, ranks) < max(ahead):
            continue
        uneven = min(abs(before - len(piece) * row / rows) for row in range(1, rows))
        if best is None or uneven < best[0]:
            best = (uneven, net, last)
    if best is None:
        return None
    own = {id(item) for item in best[2]}
    return _cut(best[1], [item for item in piece if id(item) not in own], best[2], "out", "in")


def _cut(net: str, near: Piece, far: Piece, near_side: str, far_side: str) -> list[Piece]:
    """Two pieces that shared a net, each with a flag of its own on it: "in" at its beginning, "out" at its end."""
    found = []
    for side, piece in ((near_side, near), (far_side, far)):
        own = f"{net}{_MARK}{side}"
        renamed = [
            replace(item, nets={pin: own if value == net else value for pin, value in item.nets.items()})
            if net in item.nets.values()
            else item
            for item in piece
        ]
        turns = {"in": (g.PLAIN,), "out": (g.MIRRORED,)}.get(side, (g.PLAIN, g.MIRRORED))
        flag = Item(f"{net} flag {side}", symbol("flag"), {"1": own}, (net,), "flag", turns, net)
        found.append([*renamed, flag])
    return found
