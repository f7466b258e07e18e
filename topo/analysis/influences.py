"""How every part's value enters the equations: at direct current, and in the circuit made linear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from topo.analysis.devices.group import GMIN, Array, Group
from topo.analysis.equations import Equations, add_devices
from topo.analysis.linear import Linear
from topo.analysis.newton import Solution
from topo.analysis.parameters import P_TYPES, device_parameters
from topo.analysis.resistances import Path, coil_sections
from topo.analysis.solving import Ready
from topo.graph.graph import Composition, Element, Graph
from topo.graph.normalising import wiper_position
from topo.netlist.circuit import Part
from topo.netlist.kinds import kind_of

RELATIVE_STEP = 1e-4
"""A device's law is differentiated to its parameters by central differences this far on either side: exact to about
a millionth, without solving anything."""

_INNER = {"RS": "a", "rb": "b", "rc": "c", "re": "e"}
_BY_VALUE = ("zener", "regulator")
_ADDS_IN_PARALLEL = ("capacitor", "electrolytic")


@dataclass
class Influence:
    """What a relative change of one part's value does, all per unit of change (1 is 100 %).

    `equations` are changes of the rows of the DC equations at fixed unknowns (row -> amperes or volts). For the linear
    circuit at a fixed operating point: `admittances` are (a, b, siemens, farad) between unknowns, `diagonal` changes of
    A(f) at a row, `coils` rows whose inductances all change alike, `turns` the rows of a winding whose turns change
    and those of its whole core, `block` the change of a device's slopes.
    `device` and `currents` (t,): the direct change of a device's terminal currents.
    """

    ref: str
    name: str
    value: float
    equations: dict[int, float] = field(default_factory=dict)
    admittances: list[tuple[int, int, float, float]] = field(default_factory=list)
    diagonal: list[tuple[int, float]] = field(default_factory=list)
    coils: list[tuple[float, tuple[int, ...]]] = field(default_factory=list)
    turns: tuple[tuple[int, ...], tuple[int, ...]] | None = None
    device: int | None = None
    currents: Array | None = None
    block: Array | None = None

    def flow(self, a: int, b: int, amperes: float) -> None:
        """A change of the current from node a to node b."""
        self.equations[a] = self.equations.get(a, 0.0) + amperes
        self.equations[b] = self.equations.get(b, 0.0) - amperes


def influences(ready: Ready, solution: Solution, network: Linear | None = None) -> list[Influence]:
    """Every part's value, and every parameter of its devices, with what they change; in file order.

    Args:
        network: the circuit made linear, for the second half; None leaves it out.
    Couplings are not among them, nor what stands in for a value that was not given. Of a transformer the turns of each
    winding after the first count, relative to the first: `turns 2` and so on.
    """
    graph = ready.equations.graph
    paths: dict[int, list[Path]] = {}
    for path in ready.paths.rows:
        paths.setdefault(path.element, []).append(path)
    places = {
        index: (group, place, at)
        for at, group in enumerate(ready.equations.groups)
        for place, index in enumerate(group.elements)
    }
    rows = list(_of_supplies(ready.equations, solution, network))
    for element in graph.elements:
        if element.index in places:
            group, place, at = places[element.index]
            rows += _of_device(ready.equations, element, group, place, solution.controls[at][place], network)
            rows += _of_inner(ready.equations, element, solution, group.at[place], group.names, network)
        else:
            rows += _of_passive(graph, element, paths.get(element.index, []), solution.unknowns, network)
            rows += _of_source(ready.equations, element, solution, network)
    return rows


def _of_supplies(equations: Equations, solution: Solution, network: Linear | None) -> Iterator[Influence]:
    for supply in equations.graph.circuit.supplies:
        row = equations.rows.get(("supply", supply.net))
        if row is None or not supply.volts:
            continue
        yield Influence(supply.net, "volts", supply.volts, {row: -supply.volts})
        if supply.resistance > 0:
            current = float(solution.unknowns[row])
            inside = Influence(supply.net, "resistance", supply.resistance, {row: -supply.resistance * current})
            if network is not None:
                inside.diagonal = [(network.supply_rows[supply.net], -supply.resistance)]
            yield inside


def _of_source(
    equations: Equations, element: Element, solution: Solution, network: Linear | None
) -> Iterator[Influence]:
    """A battery's or source's voltage and resistance, or the current of a current source."""
    if element.kind == "current" and element.value:
        made = Influence(element.members[0], "value", element.value)
        made.flow(element.nodes[0], element.nodes[1], element.value)
        yield made
    row = equations.rows.get(("element", element.index))
    if row is None or element.kind not in ("battery", "source"):
        return
    if element.value:
        yield Influence(element.members[0], "value", element.value, {row: -element.value})
    ohms = float(element.params.get("R", 0.0))
    if ohms > 0:
        inside = Influence(element.members[0], "R", ohms, {row: -ohms * float(solution.unknowns[row])})
        if network is not None:
            inside.diagonal = [(network.source_rows[element.index], -ohms)]
        yield inside


def shares(made_of: Composition, parallel_adds: bool) -> dict[str, float]:
    """For each member of a set, the relative change of the whole for a relative change of its own value."""
    if made_of.rule == "part":
        return {made_of.ref: 1.0}
    adds = (made_of.rule == "parallel") == parallel_adds
    weights = [(item.value or 0.0) if adds else 1.0 / (item.value or np.inf) for item in made_of.sets]
    total = sum(weights) or 1.0
    found: dict[str, float] = {}
    for item, weight in zip(made_of.sets, weights, strict=True):
        for ref, share in shares(item, parallel_adds).items():
            found[ref] = share * weight / total
    return found


def _of_passive(
    graph: Graph, element: Element, paths: list[Path], volts: Array, network: Linear | None
) -> Iterator[Influence]:
    """The values of a part that is no device and no source, or of each of several merged into one."""
    made_of = element.made_of if element.made_of.rule != "part" else Composition("part", ref=element.members[0])
    direct = "rdc" if "rdc" in element.params and element.kind != "antenna" else "value"
    inductive = element.kind in ("inductor", "choke", "bead", "transformer")
    main = "primary" if element.kind == "transformer" else "value"
    for ref, share in shares(made_of, element.kind in _ADDS_IN_PARALLEL).items():
        part = graph.circuit.by_ref[ref]
        value = part.params.get("primary") if main == "primary" else part.value
        whole = Influence(ref, main, value or 0.0)
        if not inductive and direct == "value":
            _change_paths(whole, paths, volts, [share] * len(paths))
        _change_links(whole, element, network, [share, share])
        if network is not None and inductive and value:
            whole.coils = [(share, tuple(coil.row for coil in network.coils.get(element.index, ())))]
        if value and (whole.equations or whole.admittances or whole.coils):
            yield whole
        moved = wiper_share(graph, part) if element.kind == "resistor" and part.kind == "potentiometer" else None
        if moved is not None:
            wiper = Influence(ref, "at", moved[0])
            _change_paths(wiper, paths, volts, [share * moved[1]] * len(paths))
            _change_links(wiper, element, network, [share * moved[1]])
            yield wiper
    if direct == "rdc" and element.params["rdc"]:
        copper = Influence(element.members[0], "rdc", float(element.params["rdc"]))
        _change_paths(copper, paths, volts, [1.0] * len(paths))
        if network is not None and inductive:
            copper.diagonal = [(coil.row, -coil.ohms) for coil in network.coils.get(element.index, ())]
        yield copper
    if element.kind == "transformer":
        yield from _of_turns(graph, element, paths, volts, network)
    if element.kind == "potentiometer" and len(element.nodes) == 3:
        at = float(element.params.get("at", 0.5))
        if 0.0 < at < 1.0:
            wiper = Influence(element.members[0], "at", at)
            changes = [1.0, -at / (1.0 - at)]
            _change_paths(wiper, paths, volts, changes)
            _change_links(wiper, element, network, changes)
            yield wiper


def _of_turns(
    graph: Graph, element: Element, paths: list[Path], volts: Array, network: Linear | None
) -> Iterator[Influence]:
    """The turns of each winding after the first; its resistance goes with their square where `rdc` is given."""
    copper = 2.0 if "rdc" in element.params else 0.0
    sections = coil_sections(graph, element)
    whole = sum(section.turns for section in sections if section.winding == 0) or 1.0
    coils = [] if network is None else network.coils.get(element.index, [])
    for winding in sorted({section.winding for section in sections} - {0}):
        mine = [section.winding == winding for section in sections]
        ratio = sum(section.turns for section in sections if section.winding == winding) / whole
        influence = Influence(element.members[0], f"turns {winding + 1}", ratio)
        if copper:
            _change_paths(influence, paths, volts, [copper * own for own in mine])
        rows = tuple(coil.row for coil in coils if coil.winding == winding)
        if rows:
            influence.turns = rows, tuple(coil.row for coil in coils)
            influence.diagonal = [(coil.row, -copper * coil.ohms) for coil in coils if coil.winding == winding]
        if influence.equations or influence.turns:
            yield influence


def wiper_share(graph: Graph, part: Part) -> tuple[float, float] | None:
    """Where a rheostat's wiper is, and the relative change of its ohms for a relative change of that.

    None where the wiper has no part in it, or stands at an end.
    """
    at = wiper_position(part)
    at = 0.5 if at is None else at
    nets = {terminal.name: terminal.net for terminal in part.terminals}
    if "w" not in nets or not 0.0 < at < 1.0:
        return None
    used = [name for name in ("1", "2") if name in nets]
    if len(used) == 2:
        tied = [name for name in used if _one_net(graph, nets[name], nets["w"])]
        loose = [name for name in used if not _is_used_elsewhere(graph, part, nets[name])]
        used = [name for name in used if name not in (tied or loose)]
    if len(used) != 1:
        return None
    return at, (1.0 if used[0] == "1" else -at / (1.0 - at))


def _one_net(graph: Graph, first: str, second: str) -> bool:
    node = graph.node_of.get(first)
    return first == second or (node is not None and node == graph.node_of.get(second))


def _is_used_elsewhere(graph: Graph, part: Part, net: str) -> bool:
    parts = (other for other in graph.circuit.parts if other.ref != part.ref)
    return any(terminal.net == net for other in parts for terminal in other.terminals) or net in graph.node_of


def _change_paths(influence: Influence, paths: list[Path], volts: Array, changes: list[float]) -> None:
    """The ohms of resistive paths change, each by its own relative amount."""
    for path, change in zip(paths, changes, strict=True):
        if path.ohms and path.a != path.b:
            influence.flow(path.a, path.b, -change * float(volts[path.a] - volts[path.b]) / path.ohms)


def _change_links(influence: Influence, element: Element, network: Linear | None, changes: list[float]) -> None:
    """The same in the linear circuit; capacitances grow with their value, conductances shrink."""
    if network is None:
        return
    for link, change in zip(network.links.get(element.index, ()), changes, strict=False):
        influence.admittances.append((link.a, link.b, -change * link.siemens, change * link.farad))


def _law(equations: Equations, element: Element) -> Group:
    """The law of one device alone."""
    alone = Equations(replace(equations.graph, elements=(element,)), equations.celsius, len(equations.graph.nets))
    add_devices(alone)
    return alone.groups[0]


def _of_device(
    equations: Equations, element: Element, group: Group, place: int, u: Array, network: Linear | None
) -> Iterator[Influence]:
    """The parameters of a device, its law evaluated on either side of each."""
    values, _ = device_parameters(element.part)
    names = [name for name, _ in kind_of(element.kind).params if name not in _INNER and name != "count"]
    if element.kind in _BY_VALUE and element.value:
        yield _of_parameter(equations, element, group, place, u, "value", element.value, network)
    for name in names:
        value = values.get(name, 0.0)
        if name in ("VP", "VTH") and element.kind in P_TYPES:
            value = -value
        if value:
            yield _of_parameter(equations, element, group, place, u, name, value, network)


def _of_parameter(
    equations: Equations,
    element: Element,
    group: Group,
    place: int,
    u: Array,
    name: str,
    value: float,
    network: Linear | None,
) -> Influence:
    sides = []
    for sign in (1.0, -1.0):
        moved = value * (1.0 + sign * RELATIVE_STEP)
        if name == "value":
            changed = replace(element, value=moved)
        else:
            changed = replace(element, part=replace(element.part, params={**element.part.params, name: moved}))
        law = _law(equations, changed)
        i, slopes = law.branches(u[None, :], GMIN)
        sides.append((law.terminal_currents(i)[0], law.jacobian(slopes)[0]))
    currents = (sides[0][0] - sides[1][0]) / (2.0 * RELATIVE_STEP)
    found = Influence(element.members[0], name, value, device=element.index, currents=currents)
    for unknown, amperes in zip(group.at[place], currents, strict=True):
        found.equations[int(unknown)] = found.equations.get(int(unknown), 0.0) + float(amperes)
    if network is not None and element.index in network.blocks:
        found.block = (sides[0][1] - sides[1][1]) / (2.0 * RELATIVE_STEP)
    return found


def _of_inner(
    equations: Equations,
    element: Element,
    solution: Solution,
    at: Array,
    names: tuple[str, ...],
    network: Linear | None,
) -> Iterator[Influence]:
    """The resistances inside a device, in series with its terminals."""
    values, _ = device_parameters(element.part)
    for name, terminal in _INNER.items():
        inner = equations.rows.get(("inner", (element.index, terminal)))
        if inner is None:
            continue
        ohms, node = values[name], element.node(terminal)
        found = Influence(element.members[0], name, ohms)
        found.flow(node, inner, -float(solution.unknowns[node] - solution.unknowns[inner]) / ohms)
        if network is not None and element.index in network.blocks:
            there = int(network.blocks[element.index].at[names.index(terminal)])
            found.admittances.append((node, there, -1.0 / ohms, 0.0))
        yield found
