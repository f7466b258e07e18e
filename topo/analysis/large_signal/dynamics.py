"""The equations of a circuit in time: what is linear, what stores, what is driven, and the devices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from topo.analysis.devices.group import GMIN, Array, Group
from topo.analysis.equations import Equations
from topo.analysis.linearising import Network, assemble
from topo.analysis.newton import Solver
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.resistances import COILS, resistive_paths
from topo.graph.graph import Graph

PIN_SIEMENS = 1.0
"""Ties one node of a set that nothing but a core joins to the rest; no current can flow in it."""

LEAST_STORE = 1e-9
"""A core's inductances that are smaller than this share of its largest are those of perfect coupling: nothing."""


@dataclass(frozen=True)
class Termination:
    """What is connected at a port from outside: a resistance with the standing volts of the port behind it."""

    plus: int
    minus: int
    ohms: float


@dataclass(eq=False)
class Dynamics:
    """C dx/dt + G x + i(x) = s + e(t) d, with C = P diag(c) P^T.

    `fixed` is G (N, N), ground's row unused; `constant` is s (N,); `input` is d (N,), siemens of the generator;
    `stores` is P (N, r): each column a capacitor's volts, or the mode of a core's currents; `sizes` is c (r,),
    farad, or minus henry, as the rows of coils are written v - r i - L di/dt = 0. `start` are the unknowns at rest.
    `names` (r,) are the elements that store; `kept` the amperes by which a part keeps its standing drop, by element.
    """

    network: Network
    fixed: Array
    constant: Array
    input: Array
    stores: Array
    sizes: Array
    names: tuple[int, ...]
    start: Array
    kept: Mapping[int, float]

    @property
    def equations(self) -> Equations:
        """The nodal equations, with the groups of devices."""
        return self.network.equations

    @property
    def groups(self) -> list[Group]:
        """The groups of devices."""
        return self.network.equations.groups

    @property
    def graph(self) -> Graph:
        """The normalised circuit."""
        return self.network.graph


def dynamics(
    graph: Graph, point: OperatingPoint, generator: Termination | None, load: Termination | None
) -> Dynamics | None:
    """The circuit's equations in time, at rest when the generator gives nothing; None where it does not come to rest.

    A generator or load has the standing volts of its port behind it, as if through a capacitor without end: it draws
    nothing at rest. A loudspeaker with another resistance at direct current keeps its standing drop.
    """
    network = assemble(graph, point)
    equations = network.equations
    for first in _loose_nodes(graph):
        equations.stamps.append((first, first, PIN_SIEMENS))
    drive = np.zeros(equations.count)
    for item in (generator, load):
        if item is None:
            continue
        siemens = 1.0 / item.ohms
        equations.conductance(item.plus, item.minus, siemens)
        standing = _volts(point, item.plus) - _volts(point, item.minus)
        equations.values += [(item.plus, siemens * standing), (item.minus, -siemens * standing)]
        if item is generator:
            drive[item.plus] += siemens
            drive[item.minus] -= siemens
    kept = _keep_standing_drops(network, point)
    with np.errstate(all="ignore"):
        solver = Solver(equations)
        found = solver.run(*_near(equations, point))
        if not found.converged:
            found = solver.solve()
    if not found.converged:
        return None
    fixed, constant = equations.arrays()
    stores, sizes, names = _stores(network)
    return Dynamics(network, fixed, constant, drive, stores, sizes, names, found.unknowns, kept)


def _volts(point: OperatingPoint, node: int) -> float:
    """Volts at rest, 0 where they are not known."""
    volts = point.volts[node]
    return volts if np.isfinite(volts) else 0.0


def _near(equations: Equations, point: OperatingPoint) -> tuple[Array, list[Array]]:
    """Unknowns and control voltages near those at rest, from which Newton's method needs a few steps."""
    unknowns = np.zeros(equations.count)
    unknowns[: len(point.volts)] = np.nan_to_num(np.array(point.volts))
    for (kind, key), row in equations.rows.items():
        if kind == "inner" and isinstance(key, tuple):
            unknowns[row] = unknowns[equations.graph.elements[key[0]].node(key[1])]
    return unknowns, [group.controls(unknowns) for group in equations.groups]


def _keep_standing_drops(network: Network, point: OperatingPoint) -> dict[int, float]:
    """Adds the current by which a part with one resistance at rest and another for the signal keeps its drop."""
    graph, kept = network.graph, {}
    at_rest = {(path.element, path.ends): path.ohms for path in resistive_paths(graph, graph.circuit.temperature).rows}
    for index, links in network.links.items():
        for link in links:
            ohms = at_rest.get((index, link.ends))
            if graph.elements[index].kind in COILS or not ohms or not link.siemens:
                continue
            volts = _volts(point, link.a) - _volts(point, link.b)
            more = volts * (link.siemens - 1.0 / ohms)
            if abs(more) > 1e-12 * abs(volts * link.siemens):
                network.equations.values += [(link.a, more), (link.b, -more)]
                kept[index] = more
    return kept


def _loose_nodes(graph: Graph) -> list[int]:
    """The first node of each set that no part joins to ground, windings of one core taken apart."""
    parent = list(range(len(graph.nets)))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for element in graph.elements:
        windings = graph.windings_of.get(element.index)
        sets = [winding.nodes for winding in windings] if windings else [element.nodes]
        for nodes in sets:
            for node in nodes[1:]:
                first, second = sorted((root(nodes[0]), root(node)))
                parent[second] = first
    for supply in graph.circuit.supplies:
        parent[root(graph.node_of[supply.net])] = 0
    ground = root(0)
    return [node for node in range(1, len(parent)) if root(node) == node and node != ground]


def _stores(network: Network) -> tuple[Array, Array, tuple[int, ...]]:
    """P, c and the elements of all capacitors and cores."""
    count = network.equations.count
    columns: list[Array] = []
    sizes: list[float] = []
    names: list[int] = []
    for index, links in network.links.items():
        for link in links:
            if link.farad > 0 and link.a != link.b:
                column = np.zeros(count)
                column[link.a], column[link.b] = 1.0, -1.0
                column[0] = 0.0
                columns.append(column)
                sizes.append(link.farad)
                names.append(index)
    rising = np.zeros((count, count))
    for row, column_at, amount in network.rising:
        rising[row, column_at] += amount
    for index, coils in network.coils.items():
        rows = [coil.row for coil in coils]
        henry, modes = np.linalg.eigh(-rising[np.ix_(rows, rows)])
        for place, value in enumerate(henry):
            if value > LEAST_STORE * henry[-1]:
                column = np.zeros(count)
                sign = 1.0 if modes[np.argmax(np.abs(modes[:, place])), place] > 0 else -1.0
                column[rows] = sign * modes[:, place]
                columns.append(column)
                sizes.append(-float(value))
                names.append(index)
    stores = np.array(columns).T if columns else np.zeros((count, 0))
    return stores, np.array(sizes), tuple(names)


class Ports:
    """The devices of all groups as one set of control voltages and branch currents.

    `control` is K (m, N) with u = K x, `entry` is E (N, k): currents that branch currents draw out of each row.
    """

    def __init__(self, equations: Equations):
        self.groups = equations.groups
        count = equations.count
        controls: list[Array] = []
        entries: list[Array] = []
        self.spans: list[tuple[slice, slice]] = []
        u_at = i_at = 0
        for group in self.groups:
            n, (m, _), k = len(group.elements), group.control.shape, group.entry.shape[1]
            kk, ee = np.zeros((n * m, count)), np.zeros((count, n * k))
            for place in range(n):
                at, sign = group.at[place], group.polarity[place]
                for row in range(m):
                    np.add.at(kk[place * m + row], at, sign * group.control[row])
                for column in range(k):
                    np.add.at(ee[:, place * k + column], at, sign * group.entry[:, column])
            controls.append(kk)
            entries.append(ee)
            self.spans.append((slice(u_at, u_at + n * m), slice(i_at, i_at + n * k)))
            u_at, i_at = u_at + n * m, i_at + n * k
        self.m, self.k = u_at, i_at
        self.control = np.concatenate(controls) if controls else np.zeros((0, count))
        self.entry = np.concatenate(entries, axis=1) if entries else np.zeros((count, 0))
        self.control[:, 0] = 0.0
        self.entry[0] = 0.0
        self.blocks: list[tuple[np.ndarray, np.ndarray]] = []
        for group, (us, js) in zip(self.groups, self.spans, strict=True):
            n, m, k = len(group.elements), group.control.shape[0], group.entry.shape[1]
            rows = js.start + np.arange(n)[:, None, None] * k + np.arange(k)[None, :, None]
            columns = us.start + np.arange(n)[:, None, None] * m + np.arange(m)[None, None, :]
            self.blocks.append((np.broadcast_to(rows, (n, k, m)), np.broadcast_to(columns, (n, k, m))))

    def begin(self) -> None:
        """Forgets what earlier steps were limited by."""
        for group in self.groups:
            group.begin()

    def branches(self, u: Array) -> tuple[Array, Array]:
        """Branch currents (k,) and their derivatives (k, m) at control voltages (m,)."""
        i, slopes = np.zeros(self.k), np.zeros((self.k, self.m))
        for group, (us, js), (rows, columns) in zip(self.groups, self.spans, self.blocks, strict=True):
            here, di = group.branches(u[us].reshape(len(group.elements), -1), GMIN)
            i[js] = here.ravel()
            slopes[rows, columns] = di
        return i, slopes

    def limit(self, new: Array, old: Array) -> Array:
        """The part of a step that may be trusted."""
        limited = np.empty_like(new)
        for group, (us, _) in zip(self.groups, self.spans, strict=True):
            n = len(group.elements)
            limited[us] = group.limit(new[us].reshape(n, -1), old[us].reshape(n, -1)).ravel()
        return limited

    def placed(self, u: Array, siemens: float) -> Array:
        """Slopes (k, m) by which the devices stand in the linear part: a network between each device's terminals.

        Controlled sources (op-amps, regulators) stand with their own slopes at u.
        """
        slopes = np.zeros((self.k, self.m))
        for group, (us, _), (rows, columns) in zip(self.groups, self.spans, self.blocks, strict=True):
            n = len(group.elements)
            if "" in group.names:
                slopes[rows, columns] = group.branches(u[us].reshape(n, -1), GMIN)[1]
                continue
            t = group.control.shape[1]
            mesh = siemens * (np.eye(t) * t - 1.0)
            slopes[rows, columns] = np.linalg.pinv(group.entry) @ mesh @ np.linalg.pinv(group.control)
        return slopes
