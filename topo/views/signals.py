"""The signal view of one band, from the verdicts on its parts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from topo.analysis.sources import is_steady
from topo.graph.graph import Graph, WindingElement
from topo.quantities import show
from topo.views.bands import intermediate_bands
from topo.views.branches import view_branches
from topo.views.entrances import keep_entrances
from topo.views.groups import Group, make_groups
from topo.views.judging import COIL_REST, EDGE_REMARK, WIDE, judge, spread
from topo.views.junctions import LEAST_SIEMENS, Conductor
from topo.views.kinds import COILS, DEVICES, DIODES, RESISTIVE, electrodes
from topo.views.merging import Classes
from topo.views.network import Network
from topo.views.plain import closed_classes
from topo.views.positions import by_position
from topo.views.view import Tank, Verdict, View

NEAR_BAND = 1.2
"""A loop that resonates further from the band than this factor shapes it but is not tuned to it."""
FAR_BELOW = 0.1
"""A band whose middle lies below this share of a coil's resonance sees the coil's winding as it sees a wire."""


def signal_view(
    graph: Graph,
    band: tuple[float, float],
    number: int,
    network: Network | None,
    conductors: Sequence[Conductor],
    switches: Sequence[int],
    tanks: Sequence[Tank],
) -> View:
    """The signal view of a band.

    Args:
        number: the band's place among the bands.
        network: the linearised circuit, or None where there is none: then all is judged by position.
        conductors: what conducts at rest (junctions, spreaders, multipliers).
        tanks: all tuned circuits; those of this band are neither wires nor nothing here.
    """
    middle = math.sqrt(band[0] * band[1])
    if network is not None and not network.is_sound(middle):
        network = None
    classes = Classes(len(graph.nets))
    for node in graph.rails:
        classes.join(0, node, -1, "rails")
    for element in graph.elements:
        if is_steady(graph, element):
            classes.join(*_pair(graph, element.index), element.index, "an ideal source of steady voltage")
    wires: list[tuple[int, int]] = []
    for index in switches:
        element = graph.elements[index]
        ends = (element.node(_collecting(element.kind)), element.node(_emitting(element.kind)))
        classes.join(*ends, index, "a saturated transistor is a closed switch")
        wires.append(ends)
    tuned = tuned_parts(tanks, number)
    fixed = network.fixed_nodes(middle) if network is not None else frozenset()
    blind = _blind_nodes(graph, network)
    groups = [group for group in make_groups(graph, conductors, fixed) if not blind & set(group.nodes)]
    verdicts: dict[int, Verdict] = {}
    judged: list[Verdict] = []
    positions = _positions(graph, band, tuned, blind, network is None)
    if network is not None:
        wires.extend(_pair(graph, index) for index, verdict in positions.items() if verdict.fate == "short")
        between = number in intermediate_bands(tanks)
        judged = [
            _unless_tuned(graph, group, verdict, tuned, band)
            for group, verdict in zip(groups, judge(groups, network, band, wires, between), strict=True)
        ]
    _join_all(graph, classes, groups, judged, positions)
    if network is not None:
        _hold_with_followers(graph, classes, network, band, groups, judged)
        _join_all(graph, classes, groups, judged, {})
        verdicts.update(spread(groups, judged))
    verdicts.update(positions)
    for index, tank in tuned.items():
        verdicts[index] = _tuning(graph, index, tank, band, verdicts.get(index))
    if network is None:
        _join_conductors(classes, conductors, verdicts)
    _judge_windings(graph, classes, band, network, tanks, verdicts)
    verdicts = keep_entrances(graph, classes, verdicts)
    return _finish(graph, classes, verdicts, band)


def tuned_parts(tanks: Sequence[Tank], number: int) -> dict[int, Tank]:
    """The tuning parts of a band by element: coils and capacitors of its tuned circuits."""
    found: dict[int, Tank] = {}
    for tank in tanks:
        if tank.band == number:
            for index in (tank.element, *tank.capacitors):
                found.setdefault(index, tank)
    return found


def _unless_tuned(
    graph: Graph, group: Group, verdict: Verdict, tuned: Mapping[int, Tank], band: tuple[float, float]
) -> Verdict:
    """The verdict, or if a member of the group tunes, that it is a part."""
    for index in group.elements:
        if index in tuned:
            return _tuning(graph, index, tuned[index], band, verdict)
    return verdict


def _hold_with_followers(
    graph: Graph,
    classes: Classes,
    network: Network,
    band: tuple[float, float],
    groups: list[Group],
    judged: list[Verdict],
) -> None:
    """Judge the bypass at the emitter of a bias follower with the follower, as a bypass across a junction is.

    A bias follower has its control and its collector at 0: what it shows at the emitter holds the net as its bypass
    does. Groups and verdicts are changed in place.
    """
    for index, block in sorted(network.linear.blocks.items()):
        element = graph.elements[index]
        if element.kind not in DEVICES:
            continue
        names = electrodes(element)
        control, emitting, collecting = (element.node(name) for name in names)
        if not classes.same(control, 0) or not classes.same(collecting, 0) or classes.same(emitting, 0):
            continue
        place = block.terminals.index(element.terminals.index(names[1]))
        siemens = abs(float(block.slopes[place, place]))
        held = Conductor((0, emitting), (index,), siemens, "follower", ())
        for position, group in enumerate(groups):
            bypass = group.kind == "capacitor" and group.nodes == (0, emitting) and judged[position].fate != "short"
            if bypass and siemens >= LEAST_SIEMENS:
                groups[position] = replace(
                    group, elements=(*group.elements, index), conductors=(*group.conductors, held)
                )
                judged[position] = judge([groups[position]], network, band)[0]


def _tuning(graph: Graph, index: int, tank: Tank, band: tuple[float, float], verdict: Verdict | None = None) -> Verdict:
    """That a part tunes, with the numbers of its verdict."""
    partners = [graph.elements[i].name for i in (tank.element, *tank.capacitors) if i != index]
    near = band[0] / NEAR_BAND <= tank.frequency <= band[1] * NEAR_BAND
    words = f"{'tunes' if near else 'resonates'} with {', '.join(partners)} at {show(tank.frequency, 'Hz')}"
    return replace(verdict or Verdict("shaping"), fate="shaping", remark=words)


def _positions(
    graph: Graph,
    band: tuple[float, float],
    tuned: Mapping[int, Tank],
    blind: frozenset[int],
    everything: bool,
) -> dict[int, Verdict]:
    """Verdicts by position: on parts without a value or on a blind node, or on all capacitors and coils."""
    fixed = {0, *graph.rails}
    found = {}
    for element in graph.elements:
        if element.index in tuned or len(element.nodes) != 2:
            continue
        unknown = (element.value is None and element.kind != "bead") or bool(blind & set(element.nodes))
        if (element.kind == "capacitor" or element.kind in COILS) and (everything or unknown):
            found[element.index] = by_position(graph, element, band, fixed.__contains__)
    return found


def _blind_nodes(graph: Graph, network: Network | None) -> frozenset[int]:
    """Nodes whose impedance is not known, a device or resistance at them being left out of the linear circuit."""
    if network is None:
        return frozenset()
    fixed = {0, *graph.rails}
    weighty = DEVICES | DIODES | RESISTIVE | {"thermistor", "opamp"}
    found = {
        node
        for index in network.linear.left_out
        if graph.elements[index].kind in weighty
        for node in graph.elements[index].nodes
    }
    return frozenset(found - fixed)


def _pair(graph: Graph, index: int) -> tuple[int, int]:
    nodes = graph.elements[index].nodes
    return nodes[0], nodes[1]


def _collecting(kind: str) -> str:
    return "c" if kind in ("npn", "pnp") else "d"


def _emitting(kind: str) -> str:
    return "e" if kind in ("npn", "pnp") else "s"


def _join_all(
    graph: Graph,
    classes: Classes,
    groups: Sequence[Group],
    judged: Sequence[Verdict],
    positions: Mapping[int, Verdict],
) -> None:
    """Make the nodes of every wire one."""
    for group, verdict in zip(groups, judged, strict=False):
        if verdict.fate != "short":
            continue
        inside = {index for conductor in group.conductors for index in conductor.elements}
        for index in group.elements:
            if index not in inside:
                classes.join(*_pair(graph, index), index, "short in the band")
        for conductor in group.conductors:
            for a, b, element in conductor.wires:
                classes.join(a, b, element, "conducts at rest")
    for index, verdict in positions.items():
        if verdict.fate == "short":
            classes.join(*_pair(graph, index), index, "short by position")


def _join_conductors(classes: Classes, conductors: Sequence[Conductor], verdicts: dict[int, Verdict]) -> None:
    """Without numbers, what conducts at rest is a wire."""
    for conductor in conductors:
        for a, b, element in conductor.wires:
            classes.join(a, b, element, "conducts at rest")
            verdicts[element] = Verdict("short", remark="by position: conducts at rest", assumed=True)


def _judge_windings(
    graph: Graph,
    classes: Classes,
    band: tuple[float, float],
    network: Network | None,
    tanks: Sequence[Tank],
    verdicts: dict[int, Verdict],
) -> None:
    """Windings of a coil that is tuned far above the band are wires in it, where the numbers say so; others stay."""
    middle = math.sqrt(band[0] * band[1])
    for index, windings in graph.windings_of.items():
        resonances = [tank.frequency for tank in tanks if tank.element == index]
        if not resonances or middle > FAR_BELOW * min(resonances):
            if network is not None and index not in verdicts:
                verdicts[index] = _magnetising(graph, network, windings, (band[0], middle, band[1]))
            continue
        for winding in windings:
            if network is not None and not _is_wire(network, winding, middle):
                continue
            for a, b in zip(winding.nodes, winding.nodes[1:], strict=False):
                classes.join(a, b, index, "a winding far below its resonance")
            verdicts[index] = Verdict("short", remark="far below its resonance", assumed=network is None)


def _magnetising(
    graph: Graph, network: Network, windings: Sequence[WindingElement], frequencies: tuple[float, float, float]
) -> Verdict:
    """A coil with windings that stays a part: its first loaded winding against what it faces, with a remark where its
    own reactance loads the bottom of the band."""
    element = graph.elements[windings[0].element]
    if element.params.get("primary", element.value) is None:
        return Verdict("kept")
    winding = windings[0]
    rho: list[float] = []
    facing = None
    for frequency in frequencies:
        own = network.linear.winding_admittance(winding.index, frequency)
        across = network.across(winding.nodes[0], winding.nodes[-1], frequency)
        if not own or across == 0:
            return Verdict("kept")
        rest = 1.0 / across - own
        rho.append(abs(rest) / abs(own))
        facing = 1.0 / abs(rest) if rest and len(rho) == 2 else facing
    remark = "its reactance loads the bottom of the band" if COIL_REST < rho[0] < EDGE_REMARK else ""
    return Verdict("kept", rho[1], rho[0], rho[2], facing, remark)


def _is_wire(network: Network, winding: WindingElement, frequency: float) -> bool:
    """Whether a winding's impedance far below resonance is small against what the rest shows across it."""
    own = network.linear.winding_admittance(winding.index, frequency)
    if not own:
        return False
    across = network.across(winding.nodes[0], winding.nodes[-1], frequency)
    return across == 0 or abs(1.0 / across - own) <= WIDE[0] * abs(own)


def _finish(graph: Graph, classes: Classes, verdicts: Mapping[int, Verdict], band: tuple[float, float]) -> View:
    """The view of these classes and verdicts."""
    class_of = classes.table()
    fates = {index: verdict.fate for index, verdict in verdicts.items()}
    closed = closed_classes(graph, class_of, {class_of[0]}, windings=True)
    branches, gone = view_branches(graph, class_of, fates, closed)
    absent = ("short", "open", "no effect")
    present = frozenset(
        element.index for element in graph.elements if element.kind in DEVICES or fates.get(element.index) not in absent
    )
    return View(
        "signal",
        class_of,
        class_of[0],
        frozenset({class_of[0]}),
        present,
        verdicts=dict(sorted(verdicts.items())),
        branches=branches,
        band=band,
        gone=gone,
        joints=tuple(classes.joints),
    )
