"""The operating point of a circuit, from its graph to a result that always comes back."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from topo.analysis.devices.group import GMIN
from topo.analysis.equations import Equations, add_devices
from topo.analysis.link_currents import link_currents
from topo.analysis.members import look_inside
from topo.analysis.newton import Solution, Solver
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.parameters import ACTIVE, DIODES
from topo.analysis.reach import Conduction, Floating, carries_nothing, conduction, floating, influenced
from topo.analysis.resistances import COILS, LEAST_WINDING_OHM, Paths, resistive_paths
from topo.analysis.sources import Trouble, add_sources, source_name
from topo.errors import CircuitError
from topo.graph.graph import Element, Graph
from topo.graph.normalising import normalise
from topo.netlist.circuit import Circuit
from topo.quantities import show

STAND_IN_OHM = 1e4
"""Stands in the equations for a resistance that is not known; nothing that it could influence is reported."""

ABSURD_AMPERE = 1e4
"""No device of an amplifier carries this; one that does lies across a supply."""

WORST_RESIDUAL = 1e-6
"""Kirchhoff's current law has to hold to so many amperes, and to this share of the largest current: else it is told."""

SHORTED_AMPERE = 100.0
"""No winding without a stated resistance carries this; one that does lies across a supply."""

MOST_NETS = 3_000
"""The matrices are dense: so many nets take 70 MB for each of a few of them, and half a minute."""

PIN_SIEMENS = 1.0
"""Ties one net of a floating set to ground while solving; no current can flow in it."""


@dataclass
class _Unknown:
    """What is not known: elements without a value, and the nodes that hang on them or on floating controls."""

    elements: list[int] = field(default_factory=list)
    nodes: set[int] = field(default_factory=set)
    words: list[str] = field(default_factory=list)


def solve(graph_or_circuit: Graph | Circuit, *, celsius: float | None = None) -> OperatingPoint:
    """The direct-current operating point; always comes back, with words for what could not be found.

    Capacitors are open, windings and chokes have their winding resistance. A port without a path for direct
    current is held at its reference by what is connected outside.

    Args:
        graph_or_circuit: a circuit, or its normalised graph.
        celsius: temperature of the junctions; the circuit's own if None.
    Returns:
        An `OperatingPoint`: "solved" (nets that float where no device minds are NaN even so); "partly solved" where
        nets float or hang on a value that is not given (these are NaN, and `missing` says what to add); "not solved"
        where no way converged.
    Source: modified nodal equations, Ho, Ruehli, Brennan (1975); Newton's method with junction limiting, conductance
        stepping and source stepping (common practice).
    """
    graph = graph_or_circuit if isinstance(graph_or_circuit, Graph) else normalise(graph_or_circuit)
    ready = set_up(graph, graph.circuit.temperature if celsius is None else celsius)
    equations, paths, floats, trouble = ready.equations, ready.paths, ready.floats, ready.trouble
    unknown = _what_is_unknown(graph, paths, ready.found, floats, ready.dead, trouble)
    with np.errstate(all="ignore"):
        solution = Solver(equations).solve()
    assumed = {**graph.assumed, **_assumed_ratios(graph), **paths.assumed, **equations.assumed}
    if not solution.converged:
        return _not_solved(graph, assumed, tuple(unknown.words), solution)
    return _result(equations, paths, solution, floats, unknown, trouble.words, assumed)


@dataclass
class Ready:
    """A circuit's equations ready to be solved, and what was found on the way: `dead` are elements without a value
    through which nothing can flow."""

    equations: Equations
    paths: Paths
    found: Conduction
    floats: list[Floating]
    trouble: Trouble
    dead: set[int]


def set_up(graph: Graph, celsius: float) -> Ready:
    """The nodal equations of a circuit at direct current, with every floating net held."""
    if len(graph.nets) > MOST_NETS:
        raise CircuitError(
            f"{graph.circuit.file}: {len(graph.nets)} nets are more than the {MOST_NETS} that can be solved together.",
            mend="topo explain cuts a large circuit at its rails; with --part REF it takes one piece.",
        )
    paths = resistive_paths(graph, celsius)
    found = conduction(graph, paths)
    floats = floating(graph, found)
    equations = Equations(graph, celsius, len(graph.nets))
    dead = _stamp_paths(equations, paths, graph, found)
    trouble = add_sources(equations, unfed=frozenset(node for item in floats for node in item.nodes))
    add_devices(equations, trouble.left_out)
    for item in floats:
        equations.stamps.append((item.pinned, item.pinned, PIN_SIEMENS))
    _pin_lonely(equations, found, floats, trouble.left_out)
    return Ready(equations, paths, found, floats, trouble, dead)


def _at_least(ohms: float) -> float:
    """A resistance as it stands in the equations: one of nothing would leave rounding alone to hold its nets."""
    return max(ohms, LEAST_WINDING_OHM)


def _assumed_ratios(graph: Graph) -> dict[str, str]:
    """Transformers and tapped coils whose ratio was not given."""
    return {
        part.ref: "a ratio of 1 for each section assumed"
        for part in graph.circuit.parts
        if any(winding.assumed for winding in part.windings)
    }


def _stamp_paths(equations: Equations, paths: Paths, graph: Graph, found: Conduction) -> set[int]:
    """Adds all resistive paths; gives the elements without a value through which no current can flow anyway."""
    dead: set[int] = set()
    for path in paths.rows:
        ohms = path.ohms
        if ohms is None and carries_nothing(graph, found, path.element):
            dead.add(path.element)
            ohms = 1.0
        if path.a != path.b:
            equations.conductance(path.a, path.b, 1.0 / _at_least(STAND_IN_OHM if ohms is None else ohms))
    return dead


def _pin_lonely(equations: Equations, found: Conduction, floats: list[Floating], left_out: frozenset[int]) -> None:
    """Ties to ground every node that no part or no path for direct current touches, so that it is determined."""
    touched = {0} | {node for _, a, b in found.edges for node in (a, b)} | {item.pinned for item in floats}
    for index in sorted(left_out):
        out = equations.graph.elements[index].node("out")
        equations.stamps.append((out, out, GMIN))
    for node in range(1, len(equations.graph.nets)):
        if node not in touched:
            equations.stamps.append((node, node, PIN_SIEMENS))


def _what_is_unknown(
    graph: Graph,
    paths: Paths,
    found: Conduction,
    floats: list[Floating],
    dead: set[int],
    trouble: Trouble,
) -> _Unknown:
    """The elements without a value, each with the nets that hang on it, and what floating controls act on."""
    unknown = _Unknown()
    fixed = _fixed_nodes(graph)
    lacking = {path.element for path in paths.rows if path.ohms is None} - dead
    lacking |= {e.index for e in graph.elements if e.kind == "zener" and e.value is None} | set(trouble.unknown)
    for index in sorted(lacking):
        element = graph.elements[index]
        nodes = influenced(graph, found, element.nodes, fixed)
        unknown.elements.append(index)
        unknown.nodes |= nodes
        unknown.words.append(_wants_value(graph, index, nodes))
    for index in trouble.alternating:
        nodes = _rectified(graph, found, index, fixed)
        if nodes:
            unknown.nodes |= nodes
            unknown.words.append(
                f"{graph.elements[index].name} alternates, and what is rectified from it is not a voltage at rest: "
                f"give it as measured, as in  supply NET VOLTS , to get the voltages of {_names(graph, nodes)}"
            )
    unknown.elements += trouble.lost
    if trouble.contradicted:
        free = [node for node in fixed if node not in trouble.contradicted]
        hanging = trouble.contradicted | influenced(graph, found, trouble.contradicted, free)
        unknown.nodes |= hanging
        sources = [e for e in graph.elements if e.kind in ("battery", "source") and {0, *hanging}.issuperset(e.nodes)]
        unknown.elements += [element.index for element in sources]
    for item in floats:
        acted = [on for _, control, on in found.controls if control in item.nodes and on not in item.nodes]
        nodes = influenced(graph, found, item.nodes, fixed) - set(item.nodes) if acted else set()
        unknown.nodes |= nodes
        if item.minded:
            unknown.words.append(_floats(graph, item, nodes))
    return unknown


def _rectified(graph: Graph, found: Conduction, source: int, fixed: list[int]) -> set[int]:
    """The nodes that an alternating source reaches through diodes; none where it reaches no diode."""
    nodes = influenced(graph, found, graph.elements[source].nodes, fixed)
    diodes = [e for e in graph.elements if e.kind in DIODES and not nodes.isdisjoint(e.nodes)]
    return nodes if diodes else set()


def _fixed_nodes(graph: Graph) -> list[int]:
    """Nodes held by an ideal source of known voltage, through sources alone."""
    soft = {graph.node_of[s.net] for s in graph.circuit.supplies if s.resistance > 0}
    return [node for node, volts in graph.rails.items() if not math.isnan(volts) and node not in soft]


def _names(graph: Graph, nodes: Iterable[int]) -> str:
    """Up to six nets by name."""
    names = [graph.nets[node] for node in sorted(nodes)]
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return ", ".join(names[:6]) + more


def _wants_value(graph: Graph, index: int, nodes: set[int]) -> str:
    element = graph.elements[index]
    lacking = [ref for ref in element.members if graph.circuit.by_ref[ref].value is None] or list(element.members)
    verb = "has" if len(lacking) == 1 else "have"
    what = f"the voltages of {_names(graph, nodes)}" if nodes else "its current"
    return f"{', '.join(lacking)} {verb} no value: give one to get {what}"


def _floats(graph: Graph, item: Floating, nodes: set[int]) -> str:
    one, on = len(item.nodes) == 1, set(item.nodes)
    words = f"{'net' if one else 'nets'} {_names(graph, item.nodes)} {'has' if one else 'have'} no path for direct "
    words += "current to ground"
    feeds = [element.name for element in graph.elements if element.kind == "current" and set(element.nodes) & on]
    if feeds:
        words += f" but through the current source{'s' if len(feeds) > 1 else ''} {', '.join(feeds)}"
    if nodes:
        words += f", so the voltages of {_names(graph, nodes)} cannot be known"
    return words + ": is a connection or a resistor missing?"


def _not_solved(graph: Graph, assumed: dict[str, str], words: tuple[str, ...], solution: Solution) -> OperatingPoint:
    nothing = tuple(tuple(math.nan for _ in element.nodes) for element in graph.elements)
    said = (*words, "the equations of the circuit did not converge: no voltage can be given")
    volts = (0.0, *(math.nan for _ in graph.nets[1:]))
    return OperatingPoint(graph, "not solved", volts, nothing, missing=said, assumed=assumed, residual=math.nan)


def _result(
    equations: Equations,
    paths: Paths,
    solution: Solution,
    floats: list[Floating],
    unknown: _Unknown,
    trouble: list[str],
    assumed: dict[str, str],
) -> OperatingPoint:
    graph = equations.graph
    blank = set(unknown.nodes) | {node for item in floats if not item.held for node in item.nodes}
    blank |= {node for node in range(1, len(graph.nets)) if not graph.at_node[node] and node not in graph.rails}
    volts = tuple(math.nan if node in blank else float(solution.unknowns[node]) for node in range(len(graph.nets)))
    currents, states = _currents(equations, paths, solution, unknown)
    without_limit, currents = _unlimited(graph, paths, currents)
    inside = look_inside(graph, volts, currents)
    delivered = _supply_currents(graph, currents)
    inside.currents.update(link_currents(graph, currents, inside.currents))
    missing = tuple(trouble + unknown.words + (without_limit or _left_over(solution, currents)))
    return OperatingPoint(
        graph=graph,
        status="partly solved" if missing else "solved",
        volts=volts,
        currents=currents,
        states=states,
        missing=missing,
        assumed=assumed,
        residual=solution.residual,
        supply_currents=delivered,
        member_currents=inside.currents,
        inner_volts=inside.volts,
    )


def _left_over(solution: Solution, currents: tuple[tuple[float, ...], ...]) -> list[str]:
    """Words where the sums of currents at the nets are not nothing, as checked with the solution in hand."""
    largest = max((abs(i) for row in currents for i in row if not math.isnan(i)), default=0.0)
    if solution.residual <= WORST_RESIDUAL * max(1.0, largest):
        return []
    return [f"Kirchhoff's current law holds only to {show(solution.residual, 'A', 2)}: take the figures with care"]


def _unlimited(
    graph: Graph, paths: Paths, currents: tuple[tuple[float, ...], ...]
) -> tuple[list[str], tuple[tuple[float, ...], ...]]:
    """Words for parts whose current nothing in the circuit limits, and the currents with theirs not known."""
    assumed = {path.element for path in paths.rows if _is_bare_coil(graph.elements[path.element])}
    words, rows = [], list(currents)
    for element in graph.elements:
        row = currents[element.index]
        most = max((abs(i) for i in row if not math.isnan(i)), default=0.0)
        device = element.kind in DIODES or element.kind in ACTIVE
        if not (device and most > ABSURD_AMPERE) and not (element.index in assumed and most > SHORTED_AMPERE):
            continue
        rows[element.index] = tuple(math.nan if i else 0.0 for i in row)
        words.append(f"nothing limits the current in {element.name}: is a resistor missing, or a supply misplaced?")
    return words, tuple(rows)


def _is_bare_coil(element: Element) -> bool:
    """A coil or transformer that does not say its resistance."""
    return element.kind in COILS and "rdc" not in element.params


def _currents(
    equations: Equations, paths: Paths, solution: Solution, unknown: _Unknown
) -> tuple[tuple[tuple[float, ...], ...], dict[int, str]]:
    """Amperes into every terminal of every element, and the state of each device."""
    graph, x = equations.graph, solution.unknowns
    table = [[0.0] * len(element.nodes) for element in graph.elements]
    for path in paths.rows:
        if path.ohms is not None and path.a != path.b:
            current = float(x[path.a] - x[path.b]) / _at_least(path.ohms)
            table[path.element][path.ends[0]] += current
            table[path.element][path.ends[1]] -= current
    for (kind, key), row in equations.rows.items():
        if kind == "element" and isinstance(key, int):
            table[key][0], table[key][1] = float(x[row]), -float(x[row])
    for element in graph.elements:
        if element.kind == "current" and element.value is not None:
            table[element.index] = [element.value, -element.value]
    states: dict[int, str] = {}
    for group, u, i in zip(equations.groups, solution.controls, solution.branches, strict=True):
        amperes = group.terminal_currents(i)
        for place, index in enumerate(group.elements):
            element = graph.elements[index]
            for name, current in zip(group.names, amperes[place], strict=True):
                if name in element.terminals:
                    table[index][element.terminals.index(name)] = float(current)
            state = group.state(place, u[place], i[place])
            if state and not unknown.nodes.intersection(element.nodes):
                states[index] = state
    lost = set(unknown.elements)
    for element in graph.elements:
        if element.index in lost or unknown.nodes.intersection(element.nodes):
            table[element.index] = _unknown_currents(graph, element.index, unknown, table[element.index])
    return tuple(tuple(row) for row in table), states


def _unknown_currents(graph: Graph, index: int, unknown: _Unknown, row: list[float]) -> list[float]:
    """NaN where something flows that is not known; capacitors and open parts carry nothing whatever happens."""
    carries = any(row) or index in unknown.elements
    return [math.nan] * len(row) if carries else row


def _supply_currents(graph: Graph, currents: tuple[tuple[float, ...], ...]) -> dict[str, float]:
    """Amperes that each supply, battery and source delivers from its positive end into the circuit."""
    delivered: dict[str, float] = {}
    for supply in graph.circuit.supplies:
        node = graph.node_of[supply.net]
        total = 0.0 if node else math.nan
        for element in graph.elements:
            total += sum(i for at, i in zip(element.nodes, currents[element.index], strict=True) if at == node)
        delivered.setdefault(supply.net, total)
    for element in graph.elements:
        if element.kind in ("battery", "source"):
            delivered[source_name(element)] = -currents[element.index][0]
    return delivered
