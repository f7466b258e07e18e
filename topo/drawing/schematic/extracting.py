"""Reads a drawing back: what is joined to what by its geometry alone, and the drafting errors in it.

Nothing is known here but the shapes in the SVG and the table of symbols: straight segments, dots, and symbols under
their transforms. Segments that end at one point are joined; a dot joins all that pass through it; a crossing without a
dot joins nothing; rail symbols and flags of one name are one net.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.symbols import RAILS, symbol

_SEGMENT = re.compile(r"M(-?\d+) (-?\d+)L(-?\d+) (-?\d+)")
_MATRIX = re.compile(r"matrix\((-?\d+) (-?\d+) (-?\d+) (-?\d+) (-?\d+) (-?\d+)\)")
_NAMED = (*RAILS, "flag")

Pin = tuple[str, str, str]


@dataclass
class Shapes:
    """The shapes of a drawing, in modules. `symbols` are (designator, symbol, net name, turn, x, y)."""

    segments: list[tuple[g.Point, g.Point]] = field(default_factory=list)
    dots: list[g.Point] = field(default_factory=list)
    symbols: list[tuple[str, str, str, g.Turn, int, int]] = field(default_factory=list)


@dataclass
class Extracted:
    """What the geometry says: groups of pins that are joined with the names of their rail symbols, and errors."""

    groups: list[tuple[frozenset[Pin], frozenset[str]]]
    errors: list[str]


def shapes_of(svg: str) -> Shapes:
    """The shapes in an SVG text that this package has written."""
    found = Shapes()
    for element in ElementTree.fromstring(svg).iter():
        kind = element.get("class")
        if kind == "w":
            for match in _SEGMENT.finditer(element.get("d", "")):
                ax, ay, bx, by = (int(number) for number in match.groups())
                found.segments.append(((ax, ay), (bx, by)))
        elif kind == "dot":
            found.dots.append((int(element.get("cx", "0")), int(element.get("cy", "0"))))
        elif kind == "sym":
            matrix = _MATRIX.fullmatch(element.get("transform", ""))
            if matrix is None:
                continue
            a, b, c, d, x, y = (int(number) for number in matrix.groups())
            found.symbols.append(
                (
                    element.get("data-ref", ""),
                    element.get("data-symbol", ""),
                    element.get("data-name", ""),
                    (a, b, c, d),
                    x,
                    y,
                )
            )
    return found


class _Union:
    def __init__(self) -> None:
        self.parent: dict[object, object] = {}

    def find(self, item: object) -> object:
        self.parent.setdefault(item, item)
        while self.parent[item] != item:
            self.parent[item] = self.parent[self.parent[item]]
            item = self.parent[item]
        return item

    def join(self, one: object, two: object) -> None:
        self.parent[self.find(two)] = self.find(one)


def extract(shapes: Shapes) -> Extracted:
    """The pins that the drawing joins, and the errors of drafting in it."""
    errors: list[str] = []
    union = _Union()
    ends: dict[g.Point, list[object]] = {}
    for index, (one, two) in enumerate(shapes.segments):
        if one[0] != two[0] and one[1] != two[1]:
            errors.append(f"a wire from {one} to {two} is oblique")
        if one == two:
            errors.append(f"a wire at {one} has no length")
        for point in (one, two):
            ends.setdefault(point, []).append(("segment", index))
    pins: dict[g.Point, list[Pin]] = {}
    names: dict[Pin, str] = {}
    for number, (ref, name, net, turn, x, y) in enumerate(shapes.symbols):
        for pin in symbol(name).pins:
            px, py = g.grid_turned(turn, pin.x, pin.y)
            label = (f"{ref}#{number}" if name in _NAMED else ref, name, pin.name)
            pins.setdefault((x + px, y + py), []).append(label)
            ends.setdefault((x + px, y + py), []).append(label)
            if name in _NAMED:
                names[label] = net
    dots = set(shapes.dots)
    for point, things in ends.items():
        for thing in things[1:]:
            union.join(things[0], thing)
        if len(things) > 2 and point not in dots:
            errors.append(f"{len(things)} ends meet at {point} without a dot")
        if len(things) == 1 and things[0] not in _flat(pins):
            errors.append(f"a wire ends loose at {point}")
    passing = _passing(shapes.segments, {*ends, *dots})
    for point in sorted({*ends, *dots}):
        through = passing.get(point, [])
        if point in dots:
            for index in through:
                for thing in ends.get(point, []):
                    union.join(thing, ("segment", index))
                union.join(("segment", through[0]), ("segment", index))
            if len(through) * 2 + len(ends.get(point, [])) < 3:
                errors.append(f"the dot at {point} joins nothing")
        elif through:
            errors.append(f"a wire passes over an end at {point}")
    errors += _overlaps(shapes.segments)
    for label, name in names.items():
        union.join(("name", name), label)
    groups: dict[object, tuple[set[Pin], set[str]]] = {}
    for label in (label for point in pins for label in pins[point]):
        own, called = groups.setdefault(union.find(label), (set(), set()))
        if label in names:
            called.add(names[label])
        else:
            own.add(label)
    found = [(frozenset(own), frozenset(called)) for own, called in groups.values() if own]
    return Extracted(found, sorted(errors))


def _flat(pins: dict[g.Point, list[Pin]]) -> set[Pin]:
    return {label for labels in pins.values() for label in labels}


def _passing(segments: Iterable[tuple[g.Point, g.Point]], points: set[g.Point]) -> dict[g.Point, list[int]]:
    """For each of some points the segments that run over it without ending there."""
    rows: dict[int, list[g.Point]] = {}
    columns: dict[int, list[g.Point]] = {}
    for point in points:
        columns.setdefault(point[0], []).append(point)
        rows.setdefault(point[1], []).append(point)
    found: dict[g.Point, list[int]] = {}
    for index, ((ax, ay), (bx, by)) in enumerate(segments):
        if ax == bx:
            low, high = min(ay, by), max(ay, by)
            inside = [point for point in columns.get(ax, ()) if low < point[1] < high]
        else:
            low, high = min(ax, bx), max(ax, bx)
            inside = [point for point in rows.get(ay, ()) if low < point[0] < high]
        for point in inside:
            found.setdefault(point, []).append(index)
    return found


def _overlaps(segments: Iterable[tuple[g.Point, g.Point]]) -> list[str]:
    """Segments that lie on each other along their length."""
    lines: dict[tuple[str, int], list[tuple[int, int]]] = {}
    for (ax, ay), (bx, by) in segments:
        if ax == bx:
            lines.setdefault(("x", ax), []).append((min(ay, by), max(ay, by)))
        else:
            lines.setdefault(("y", ay), []).append((min(ax, bx), max(ax, bx)))
    found = []
    for (axis, place), spans in lines.items():
        spans.sort()
        for (_, end), (start, _) in pairwise(spans):
            if start < end:
                found.append(f"two wires lie on each other at {axis} = {place}")
    return found


def differences(extracted: Extracted, wanted: dict[Pin, str], rails: Iterable[str]) -> list[str]:
    """What the drawing joins otherwise than the circuit does, in words that name the nets; empty if it is the same."""
    told: list[str] = list(extracted.errors)
    seen: dict[Pin, int] = {}
    for number, (pins, names) in enumerate(extracted.groups):
        nets = sorted({wanted[pin] for pin in pins if pin in wanted})
        unknown = sorted(pin for pin in pins if pin not in wanted)
        if unknown:
            # A pin of a symbol that stands for no terminal must be joined to nothing.
            if len(pins) > 1:
                told.append(f"{_pin(unknown[0])} is joined, and the circuit does not know it")
            continue
        if len(nets) > 1:
            told.append(f"the nets {', '.join(nets)} are joined")
        for name in sorted(names):
            if nets != [name]:
                told.append(f"the symbol of {name} stands on {', '.join(nets)}")
        for pin in pins:
            if pin in seen:
                told.append(f"{_pin(pin)} is drawn twice")
            seen[pin] = number
    groups_of: dict[str, set[int]] = {}
    for pin, net in wanted.items():
        if pin not in seen:
            told.append(f"{_pin(pin)}, on net {net}, is not drawn")
        else:
            groups_of.setdefault(net, set()).add(seen[pin])
    told += [f"the net {net} falls into {len(groups)} pieces" for net, groups in groups_of.items() if len(groups) > 1]
    named = {name for _, names in extracted.groups for name in names}
    told += [f"the net {name} has no symbol" for name in rails if name in groups_of and name not in named]
    return told


def _pin(pin: Pin) -> str:
    return f"{pin[0]}.{pin[2]}"
