"""From a circuit to a drawing: items, order, placement, wires, texts; and the proof that both say the same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from topo.drawing.schematic.cutting import flag_ranks, pieces_of
from topo.drawing.schematic.drawing import Drawing, of_board
from topo.drawing.schematic.extracting import Pin, differences, extract, shapes_of
from topo.drawing.schematic.fitting import Fitter
from topo.drawing.schematic.folding import folded
from topo.drawing.schematic.grouping import Template, drawn_apart, grouped
from topo.drawing.schematic.improving import improve
from topo.drawing.schematic.items import (
    Rail,
    drawn_terminals,
    is_upside_down,
    items_of,
    rails_of,
    with_shared_grounds,
    with_supplies_wired,
    with_windings_in_order,
)
from topo.drawing.schematic.layout import Layout, Taste
from topo.drawing.schematic.metrics import measure
from topo.drawing.schematic.mirroring import Symmetry, symmetries
from topo.drawing.schematic.ordering import Cluster, clusters_of, followed_on, guessed_path, path_ranks
from topo.drawing.schematic.placing import place_all
from topo.drawing.schematic.reflecting import reflect_wires
from topo.drawing.schematic.routing import route_all
from topo.drawing.schematic.stretching import lopsided, settle
from topo.drawing.schematic.stringing import strung
from topo.errors import TopoError
from topo.netlist.circuit import Circuit

_MOST_ROUNDS = 6
# Several layouts are made with different weights, and the best one kept; fewer of large circuits.
_TASTES = (Taste(), Taste(4.0, 2.5, 0.5), Taste(7.0, 2.5, 0.5), Taste(10.0, 1.2, 0.2))
_SMALL, _LARGE = 20, 45
_STEPS = 40


class DrawingError(TopoError):
    """A figure that does not say what the circuit says: a fault of the tool, and the figure is not written."""


@dataclass(frozen=True)
class Plan:
    """What the drawing goes by beside the circuit: the signal path as steps of designators, pairs of devices that are
    drawn as mirror images, volts of nets where they are known, names to write that are not the designators, and how
    patterns draw the blocks."""

    steps: Sequence[Sequence[str]] = ()
    pairs: Sequence[tuple[str, str]] = ()
    volts: Mapping[str, float] | None = None
    names: Mapping[str, str] | None = None
    templates: Sequence[Template] = ()


def draw(circuit: Circuit, plan: Plan | None = None, *, ieee: bool = False) -> Drawing:
    """Lay a circuit out.

    A net that cannot be wired is cut: each of its pins gets a flag with the net's name, and all is laid out anew.
    """
    plan = plan or Plan()
    rails = rails_of(circuit)
    for _ in range(_MOST_ROUNDS):
        drawing, failed = _drawn(circuit, plan, rails, ieee)
        if not failed:
            return drawing
        rails.update({net: Rail(net, "flag", net) for net in failed})
    rest = dict.fromkeys(net for part in circuit.parts for net in (t.net for t in part.terminals))
    rails.update({net: Rail(net, "flag", net) for net in rest if net not in rails})
    return _drawn(circuit, plan, rails, ieee)[0]


def _drawn(circuit: Circuit, plan: Plan, rails: dict[str, Rail], ieee: bool) -> tuple[Drawing, list[str]]:
    """The drawing, and the nets that could not be wired."""
    items = items_of(circuit, rails, plan.names or {}, ieee=ieee)
    steps = followed_on(plan.steps, items, rails) or guessed_path(items, rails, [port.net for port in circuit.inputs])
    lines = symmetries(circuit, rails, plan.pairs, drawn_apart(plan.templates, circuit))
    twins = {ref: other for line in lines if not line.sideways for ref, other in line.twin.items()}
    items = with_supplies_wired(with_shared_grounds(items, rails, twins), rails)
    ranks = path_ranks(steps, items)
    items = with_windings_in_order(items, ranks, rails)
    sense = -1 if is_upside_down(rails) else 1
    volts = {net: sense * value for net, value in (plan.volts or {}).items()}
    found: list[tuple[Drawing, bool]] = []
    for piece in pieces_of(items, rails, ranks):
        on_path = any(item.key in ranks for item in piece)
        own = ranks if on_path else path_ranks(guessed_path(piece, rails, []), piece)
        clusters = clusters_of(piece, rails, lines, {**own, **flag_ranks(piece)})
        fitter = Fitter(rails)
        clusters = strung(grouped(clusters, plan.templates, fitter, lines), rails)
        drawing, failed = _best_of(clusters, fitter, volts, lines)
        if failed:
            return drawing, [net.partition("~")[0] for net in failed]
        found.append((drawing, on_path))
    return folded(found), []


def _best_of(clusters: Sequence[Cluster], fitter: Fitter, volts: Mapping[str, float], lines: Sequence[Symmetry]):
    """The best of a few layouts of one piece, and the nets that could not be wired in it."""
    size = sum(len(cluster.items) for cluster in clusters)
    count = 3 if size <= _SMALL else 2 if size <= _LARGE else 1
    best: tuple[float, Drawing, Layout, dict] | None = None
    clean = False
    failed: list[str] = []
    for number, taste in enumerate(_TASTES):
        if number >= count and clean:
            break
        layout = Layout(fitter, _counts(clusters, fitter.rails), volts, taste)
        where = place_all(layout, clusters)
        made = layout.saved()
        drawing, failed = _finished(layout, clusters, lines)
        if failed:
            continue
        clean = clean or not measure(drawing).text_overlaps
        worth = _badness(drawing)
        if best is None or worth < best[0]:
            layout.restore(made)
            best = (worth, drawing, layout, where)
    if best is None:
        return Drawing([], {}), failed
    worth, drawing, layout, where = best
    improve(layout, clusters, where, _STEPS)
    improved, failed = _finished(layout, clusters, lines)
    return (drawing if failed or _badness(improved) >= worth else improved), []


def _finished(layout: Layout, clusters: Sequence[Cluster], lines: Sequence[Symmetry]) -> tuple[Drawing, list[str]]:
    """The drawing of a layout, all wired anew and its texts placed; and the nets that could not be wired."""
    _, failed = route_all(layout.board, [net for net in layout.counts if layout.board.terminals.get(net)])
    if failed:
        return Drawing([], {}), failed
    reflect_wires(layout.board, lines, layout.axes)
    drawing = of_board(layout.placed, layout.board)
    drawing.twins = _twins(clusters)
    return settle(drawing), []


def _twins(clusters: Sequence[Cluster]) -> list[tuple[str, str, bool]]:
    """The pairs of items that are drawn as mirror images, and whether side by side."""
    each = [member for cluster in clusters for member in cluster.members or (cluster,)]
    found = [(one.item.key, one.twin.key, one.sideways) for one in each if one.twin is not None]
    for cluster in clusters:
        places = {(seat.x, seat.y): seat.item for seat in cluster.seats if cluster.line is not None}
        for (x, y), item in places.items():
            image = (2 * cluster.axis - x, y) if cluster.sideways else (x, 2 * cluster.axis - y)
            other = places.get(image)
            if other is not None and image > (x, y):
                found.append((item.key, other.key, cluster.sideways))
    return found


def _badness(drawing: Drawing) -> float:
    """What an editor would hold against a drawing, in modules of wire."""
    found = measure(drawing)
    return (
        100.0 * (found.text_overlaps + found.symbol_overlaps + found.wires_through_symbols)
        + 30.0 * found.flags
        + 10.0 * sum(max(0, count - 1) for count in lopsided(drawing))
        + 14.0 * found.crossings
        + 5.0 * found.bends
        + found.wire_length
        + 1.5 * (found.width + found.height)
    )


def _counts(clusters: Sequence[Cluster], rails: Mapping[str, Rail]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for cluster in clusters:
        for item in cluster.items:
            for net in item.nets.values():
                if net not in rails:
                    counts[net] = counts.get(net, 0) + 1
    return counts


def wanted_pins(circuit: Circuit, drawing: Drawing, ieee: bool = False) -> dict[Pin, str]:
    """The net of each pin by the circuit, and of the ports that are drawn."""
    wanted: dict[Pin, str] = {}
    for part in circuit.parts:
        for name, pins in drawn_terminals(part, ieee):
            for terminal in part.terminals:
                if terminal.name in pins:
                    wanted[part.ref, name, pins[terminal.name]] = terminal.net
    for word, ports in (("input", circuit.inputs), ("output", circuit.outputs)):
        drawn = {place.item.key for place in drawing.placed if place.item.kind == word}
        for number, port in enumerate(ports):
            if f"{word} {number + 1}" in drawn:
                wanted[f"{word} {number + 1}", "port", "1"] = port.net
    return wanted


def prove(svg: str, circuit: Circuit, drawing: Drawing, ieee: bool = False) -> None:
    """Read the written figure back and compare it with the circuit.

    Raises:
        DrawingError: it joins otherwise; the message names the nets.
    """
    told = differences(extract(shapes_of(svg)), wanted_pins(circuit, drawing, ieee), rails_of(circuit))
    if told:
        raise DrawingError(
            "Internal error: the figure would not say what the circuit says, and is not written.\n"
            + "\n".join(f"  {line}" for line in told[:8])
            + "\nThis is a fault of topo, not of the circuit. Please report it together with the circuit file."
        )
