"""The drawing of one step, cut out of the drawing of the whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from topo.drawing.marks.room import Room
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Edge, Text, edge_ends, rail_edges
from topo.drawing.schematic.fitting import LINE, TYPE_SIZE, Fitter, text_width
from topo.drawing.schematic.items import Item
from topo.drawing.schematic.labels import rail_texts
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.symbols import symbol
from topo.drawing.series.stages import Joined, Stage
from topo.quantities import show

MINUS = "\N{MINUS SIGN}"
_BASE = 0.34
"""From the middle of a line of text to its baseline, in modules."""
_TURN = {(1, 0): g.PLAIN, (-1, 0): g.MIRRORED, (0, 1): g.RIGHT, (0, -1): g.LEFT}


@dataclass
class Staged:
    """A step's drawing, and the terminals whose label found no place, each with its words."""

    drawing: Drawing
    unlabelled: list[str] = field(default_factory=list)


def staged(whole: Drawing, stage: Stage) -> Staged:
    """The drawing of a step: its parts where they are in the whole, the wires that they need, and no more."""
    names = _drawn_names(whole, stage)
    placed = [_renamed(place, names, stage) for place in _kept(whole, stage)]
    wires: dict[str, set[Edge]] = {}
    for net, edges in whole.wires.items():
        wires.setdefault(names.name(net), set()).update(edges)
    texts = _texts(whole, stage, placed)
    for place in whole.placed:
        if place.item.key in stage.wired:
            placed += _bridge(place, names, stage.names, wires)
            texts += rail_texts(place)
    placed = _without_lone_flags(_with_ports_numbered(placed, stage, texts), wires)
    keys = {place.item.key for place in placed}
    drawing = Drawing(placed, {}, [text for text in texts if not text.owner or text.owner in keys])
    ports = _ports(whole, stage, names, placed, wires)
    drawing.placed = [*placed, *(place for _, place in ports)]
    drawing.wires = _pruned(wires, drawing.placed)
    found = Staged(drawing)
    _label_sources(whole, stage, drawing)
    room = Room(drawing)
    for net, place in ports:
        _label(found, place, _volts(stage.open_nets[net]), room, place.item.key)
    return found


def _volts(value: float) -> str:
    return show(value, "V").replace("-", MINUS) if value == value else "?"


def _kept(whole: Drawing, stage: Stage) -> Iterator[Placed]:
    """The items of parts shown and ports given, and ground symbols that some of them share."""
    nets = {port.net for port in (*stage.circuit.inputs, *stage.circuit.outputs)} - set(stage.open_nets)
    there = []
    for place in whole.placed:
        if place.item.kind in ("input", "output") and place.item.symbol.name == "port":
            if stage.names.name(place.item.nets["1"]) in nets:
                there.append(place)
        elif place.item.key in stage.shown or place.item.key in stage.sources:
            there.append(place)
    used = {pin.net for place in there for pin in place.fit.pins}
    used |= {pin.net for place in whole.placed if place.item.key in stage.wired for pin in place.fit.pins}
    marks = [
        place
        for place in whole.placed
        if place.item.kind in ("flag", "ground") and any(pin.net in used for pin in place.fit.pins)
    ]
    yield from (*there, *marks)


def _drawn_names(whole: Drawing, stage: Stage) -> Joined:
    """The names of the drawing's nets, those that a wire joins being one."""
    names = Joined()
    for place in whole.placed:
        if place.item.key in stage.wired:
            nets = [pin.net for pin in place.fit.pins]
            for net in nets[1:]:
                names.join(nets[0], net)
    return names


def _in_circuit(drawn: str, stage: Stage) -> str:
    """The step's net of which a net of the drawing is all or a part."""
    return stage.names.name(drawn.partition("~")[0])


def _renamed(place: Placed, names: Joined, stage: Stage) -> Placed:
    """An item with the new names of its nets; a battery in place of a part that it stands for."""
    fit = place.fit
    item = fit.item
    if item.key in stage.sources:
        forward = stage.sources[item.key] >= 0
        turn = fit.turn if forward else g.after(fit.turn, g.HALF)
        nets = dict(zip(("1", "2"), _ends(item, forward), strict=True))
        made = Item(item.key, symbol("battery"), nets, (), "battery", (turn,))
        fit = Fitter({}).fit(made, turn)
    if item.rail:
        fit = replace(fit, item=replace(item, rail=stage.names.name(item.rail)))
    pins = tuple(replace(pin, net=names.name(pin.net)) for pin in fit.pins)
    rails = tuple(
        replace(rail, rail=replace(rail.rail, net=stage.names.name(rail.rail.net))) if rail.rail.net else rail
        for rail in fit.rails
    )
    return replace(place, fit=replace(fit, pins=pins, rails=rails))


def _ends(item: Item, forward: bool) -> list[str]:
    nets = [item.nets[pin.name] for pin in item.symbol.pins[:2]]
    return nets if forward else nets[::-1]


def _bridge(place: Placed, names: Joined, renamed: Joined, wires: dict[str, set[Edge]]) -> list[Placed]:
    """The wire that stands for a part, and its rail symbols as items of their own."""
    art = place.item.symbol
    points = []
    for pin in art.pins[:2]:
        x, y = g.grid_turned(place.fit.turn, pin.x, pin.y)
        points.append((place.x + x, place.y + y))
    net = next((names.name(pin.net) for pin in place.fit.pins), "")
    edges = wires.setdefault(net, set())
    (ax, ay), (bx, by) = points
    if ax == bx:
        edges.update((ax, y, 1) for y in range(min(ay, by), max(ay, by)))
    else:
        edges.update((x, ay, 0) for x in range(min(ax, bx), max(ax, bx)))
    edges.update(rail_edges(place))
    found = []
    for rail in place.fit.rails:
        name = rail.rail.symbol
        item = Item("", symbol(name), {"1": net}, (), "ground", (rail.turn,), renamed.name(rail.rail.net))
        found.append(Placed(Fitter({}).fit(item, rail.turn), place.x + rail.x, place.y + rail.y))
    return found


def _texts(whole: Drawing, stage: Stage, placed: list[Placed]) -> list[Text]:
    keys = {place.item.key for place in placed if place.item.key not in stage.sources}
    own = [text for text in whole.texts if text.owner and text.owner in keys]
    return own + [text for place in _kept(whole, stage) for text in rail_texts(place)]


def _with_ports_numbered(placed: list[Placed], stage: Stage, texts: list[Text]) -> list[Placed]:
    """The given ports under the numbers that they have in the step; their texts go with them."""
    found = []
    new: dict[str, str] = {}
    for place in placed:
        if place.item.symbol.name == "port":
            ports = stage.circuit.inputs if place.item.kind == "input" else stage.circuit.outputs
            net = stage.names.name(place.item.nets["1"])
            number = next(index for index, port in enumerate(ports, 1) if port.net == net)
            item = replace(place.item, key=f"{place.item.kind} {number}")
            new[place.item.key] = item.key
            place = replace(place, fit=replace(place.fit, item=item))
        found.append(place)
    texts[:] = [replace(text, owner=new.get(text.owner, text.owner)) for text in texts]
    return found


def _without_lone_flags(placed: list[Placed], wires: Mapping[str, set[Edge]]) -> list[Placed]:
    """The items without flags that stand on nothing, or have lost their fellows of the same name."""
    while True:
        kept = _pruned(wires, placed)
        ends = {point for edges in kept.values() for edge in edges for point in edge_ends(edge)}
        flags = [place for place in placed if place.item.kind == "flag"]
        ends |= {
            (place.x + pin.x, place.y + pin.y)
            for place in placed
            if place.item.kind != "flag"
            for pin in place.fit.pins
        }
        called = [place.item.rail for place in flags]
        lone = [place for place in flags if (place.x, place.y) not in ends or called.count(place.item.rail) < 2]
        if not lone:
            return placed
        placed = [place for place in placed if not any(place is other for other in lone)]


def _ports(
    whole: Drawing, stage: Stage, names: Joined, placed: list[Placed], wires: Mapping[str, set[Edge]]
) -> list[tuple[str, Placed]]:
    """A terminal for each net that goes on, where the nearest part that is not yet there would be joined."""
    there = {place.item.key for place in placed}
    absent = [
        place
        for place in whole.placed
        if place.item.key
        and place.item.key not in there
        and place.item.key not in stage.shown
        and place.item.key not in stage.wired
        and place.item.key not in stage.sources
    ]
    found = []
    fitter = Fitter({})
    start = len(stage.circuit.inputs) - len(stage.open_nets)
    for number, net in enumerate(stage.open_nets, start + 1):
        drawn = dict.fromkeys(
            pin.net for place in placed for pin in place.fit.pins if _in_circuit(pin.net, stage) == net
        )
        for own in drawn:
            ends = {
                (place.x + pin.x, place.y + pin.y): (pin.dx, pin.dy)
                for place in absent
                for pin in place.fit.pins
                if names.name(pin.net) == own
            }
            starts = [(p.x + pin.x, p.y + pin.y) for p in placed for pin in p.fit.pins if pin.net == own]
            point = _nearest(starts, ends, wires.get(own, set()))
            if point is not None:
                turn = _TURN[ends[point]]
                item = Item(f"input {number}", symbol("port"), {"1": own}, (), "input", (turn,))
                found.append((net, Placed(fitter.fit(item, turn), *point)))
                break
    return found


def _nearest(starts: Iterable[g.Point], ends: Mapping[g.Point, g.Point], edges: set[Edge]) -> g.Point | None:
    """Of some points that which is nearest along the wires."""
    near: dict[g.Point, list[g.Point]] = {}
    for edge in sorted(edges):
        one, two = edge_ends(edge)
        near.setdefault(one, []).append(two)
        near.setdefault(two, []).append(one)
    queue = list(dict.fromkeys(starts))
    seen = set(queue)
    for point in queue:
        if point in ends:
            return point
        for other in near.get(point, ()):
            if other not in seen:
                seen.add(other)
                queue.append(other)
    return None


def _pruned(wires: Mapping[str, set[Edge]], placed: Iterable[Placed]) -> dict[str, set[Edge]]:
    """The wires without what leads to nothing."""
    needed: dict[str, set[g.Point]] = {}
    for place in placed:
        for pin in place.fit.pins:
            needed.setdefault(pin.net, set()).add((place.x + pin.x, place.y + pin.y))
    found: dict[str, set[Edge]] = {}
    for net, all_edges in wires.items():
        wanted = needed.get(net, set())
        edges = set(all_edges)
        at: dict[g.Point, set[Edge]] = {}
        for edge in edges:
            for point in edge_ends(edge):
                at.setdefault(point, set()).add(edge)
        waiting = sorted(point for point, own in at.items() if len(own) == 1 and point not in wanted)
        while waiting:
            point = waiting.pop()
            if len(at[point]) != 1 or point in wanted:
                continue
            edge = at[point].pop()
            edges.discard(edge)
            one, two = edge_ends(edge)
            other = two if one == point else one
            at[other].discard(edge)
            waiting.append(other)
        if edges:
            found[net] = edges
    return found


def _label_sources(whole: Drawing, stage: Stage, drawing: Drawing) -> None:
    """The volts of an ideal source, where the first text of the part stood in whose place it is, or near."""
    for ref, value in stage.sources.items():
        room = Room(drawing)
        words = _volts(abs(value))
        place = next(place for place in drawing.placed if place.item.key == ref)
        x0, y0, x1, y1 = g.moved(place.fit.body, place.x, place.y)
        middle, centre = (x0 + x1) / 2, (y0 + y1) / 2
        spots = [(text.x, (text.box[1] + text.box[3]) / 2, text.anchor) for text in whole.texts if text.owner == ref]
        spots += [(x1 + 0.4, centre + shift, "start") for shift in (0, -1, 1, -2, 2)]
        spots += [(x0 - 0.4, centre + shift, "end") for shift in (0, -1, 1, -2, 2)]
        spots += [(middle, y0 - 0.9, "middle"), (middle, y1 + 0.9, "middle")]
        texts = [_text(words, x, y, anchor, ref) for x, y, anchor in spots]
        drawing.texts.append(next((text for text in texts if room.free(text.box, far=0.15)), texts[0]))


def _text(words: str, x: float, middle: float, anchor: str, owner: str) -> Text:
    wide = text_width(words)
    left = x if anchor == "start" else x - wide if anchor == "end" else x - wide / 2
    box = (left, middle - TYPE_SIZE / 2, left + wide, middle + TYPE_SIZE / 2)
    return Text(words, x, middle + _BASE, anchor, box, owner)


def _label(found: Staged, place: Placed, words: str, room: Room, owner: str) -> None:
    """Words beside a terminal, beyond it or aside."""
    dx, dy = g.grid_turned(place.fit.turn, -1, 0)
    x, y = place.x + 1.25 * dx, place.y + 1.25 * dy
    far, aside = 0.7, LINE / 2 + 0.35
    if dx:
        anchor = "end" if dx < 0 else "start"
        places = [(x + far * dx, y, anchor), (x, y - aside, "middle"), (x, y + aside, "middle")]
        places += [
            (x + step, y + side, own) for own, step in (("start", -0.6), ("end", 0.6)) for side in (-aside, aside)
        ]
    else:
        places = [(x, y + dy * (0.6 + LINE / 2), "middle"), (x + 0.6, y, "start"), (x - 0.6, y, "end")]
        places += [(x + step, y + dy * (0.6 + LINE / 2), own) for own, step in (("start", -0.6), ("end", 0.6))]
    places += [(px + 0.5 * dx, py + 0.5 * dy, own) for px, py, own in places]
    for px, py, anchor in places:
        text = _text(words, px, py, anchor, owner)
        if room.free(text.box, far=0.15):
            found.drawing.texts.append(text)
            room.add(text.box)
            return
    found.unlabelled.append(words)
