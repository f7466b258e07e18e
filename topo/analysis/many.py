"""Many samples of one circuit solved at once: stacked matrices, junctions limited in each sample by itself."""

from __future__ import annotations

import copy
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from topo.analysis.devices.bipolar import Bipolar
from topo.analysis.devices.diode import Diode
from topo.analysis.devices.field_effect import FieldEffect
from topo.analysis.devices.group import GMIN, Array, Group
from topo.analysis.devices.integrated import Regulator
from topo.analysis.devices.valve import Pentode, Triode
from topo.analysis.newton import NOISY_STEP, VOLT, Solution, Solver
from topo.analysis.parameters import JFETS
from topo.analysis.resistances import LEAST_OHM, LEAST_WINDING_OHM, Path
from topo.analysis.solving import STAND_IN_OHM, Ready
from topo.analysis.tolerances import SUPPLY_KEY, Draws
from topo.graph.graph import Composition, Element

STEPS = 60
NOISE = 1e-6
"""From NOISY_STEP on rounding may move unknowns by this share, or so many volts (measured on valve sets of 250 V)."""

STACK = 4_000_000
"""Figures in a stack of matrices: samples are taken in portions that keep under it."""


@dataclass(eq=False)
class Samples:
    """`unknowns` (S, N), ground first; `amperes` for each group (S, n, t) into the terminals; `converged` (S,)."""

    unknowns: Array
    amperes: list[Array]
    converged: NDArray[np.bool_]


def solve_many(ready: Ready, draws: Draws, nominal: Solution) -> Samples:
    """Newton's method on all samples at once, each from the circuit's own operating point, then from nothing.

    Args:
        ready: equations of the circuit as drawn.
        draws: what differs in each sample.
        nominal: their solution, where the samples begin.
    """
    equations = ready.equations
    size, count = equations.count, draws.count
    unknowns = np.tile(nominal.unknowns, (count, 1))
    amperes = [np.full((count, *group.at.shape), np.nan) for group in equations.groups]
    converged = np.zeros(count, dtype=np.bool_)
    portion = max(1, STACK // (size * size))
    for begin in range(0, count, portion):
        chosen = np.arange(begin, min(count, begin + portion))
        for controls in (nominal.controls, [group.start for group in equations.groups]):
            left = chosen[~converged[chosen]]
            if len(left):
                _run(ready, draws, left, controls, unknowns, amperes, converged)
    return Samples(unknowns, amperes, converged)


def driving_resistances(ready: Ready, nominal: Solution) -> Array:
    """Ohms that a meter from each node to ground sees, (nodes,), by the equations made linear at the solution."""
    solver = Solver(ready.equations)
    size = ready.equations.count
    matrix = solver.matrix.copy()
    flat = matrix.ravel()
    for group, u in zip(ready.equations.groups, nominal.controls, strict=True):
        _, di = group.branches(u, GMIN)
        where = (group.at[:, :, None] * size + group.at[:, None, :]).ravel()
        flat += np.bincount(where, group.jacobian(di).ravel(), size * size)
    try:
        inverse = np.linalg.inv(matrix[1:, 1:])
    except np.linalg.LinAlgError:
        return np.full(len(ready.equations.graph.nets), np.nan)
    return np.concatenate(([0.0], np.diag(inverse)))[: len(ready.equations.graph.nets)]


def _run(
    ready: Ready,
    draws: Draws,
    chosen: NDArray[np.intp],
    controls: list[Array],
    unknowns: Array,
    amperes: list[Array],
    converged: NDArray[np.bool_],
) -> None:
    """Runs the chosen samples and writes what converged into the tables."""
    equations = ready.equations
    size, count = equations.count, len(chosen)
    matrices, sources = _constants(ready, draws, chosen)
    groups = [_sampled(group, ready, draws, chosen) for group in equations.groups]
    flat = [(g.at[:, :, None] * size + g.at[:, None, :] % size).ravel() for g in groups]
    where = [group.at.ravel() for group in groups]
    u = [np.tile(start, (count, 1)) for start in controls]
    x = unknowns[chosen].copy()
    for group in groups:
        group.begin()
    settled = np.zeros(count, dtype=np.bool_)
    for step in range(STEPS):
        full, right = matrices.copy(), sources.copy()
        for group, at, spots, v in zip(groups, flat, where, u, strict=True):
            i, di = group.branches(v, GMIN)
            fixed = i - np.einsum("nkm,nm->nk", di, v)
            full.ravel()[:] += np.bincount(at, group.jacobian(di).ravel(), full.size)
            right.ravel()[:] -= np.bincount(spots, group.terminal_currents(fixed).ravel(), right.size)
        fresh = _solve(full, right)
        moved = (np.abs(fresh - x) / (1.0 + np.abs(fresh))).max(axis=1)
        x = fresh
        limited = np.zeros(count, dtype=np.bool_)
        for place, group in enumerate(groups):
            wanted = group.controls(x.ravel())
            u[place] = group.limit(wanted, u[place])
            far = np.abs(u[place] - wanted) > 1e-9 * (1.0 + np.abs(wanted))
            limited |= far.any(axis=1).reshape(count, -1).any(axis=1)
        settled = ~limited & (moved <= (VOLT if step < NOISY_STEP else NOISE)) & np.isfinite(x).all(axis=1)
        if step and settled.all():
            break
        x = np.where(np.isfinite(x), x, 0.0)
    done = chosen[settled]
    unknowns[done] = x[settled]
    converged[done] = True
    for table, group in zip(amperes, groups, strict=True):
        i, _ = group.branches(group.controls(x.ravel()), GMIN)
        table[done] = group.terminal_currents(i).reshape(count, *table.shape[1:])[settled]


def _solve(matrices: Array, right: Array) -> Array:
    """The unknowns of each sample, ground first; NaN where a matrix has no inverse."""
    found = np.zeros_like(right)
    try:
        found[:, 1:] = np.linalg.solve(matrices[:, 1:, 1:], right[:, 1:, None])[:, :, 0]
    except np.linalg.LinAlgError:
        for row, (matrix, vector) in enumerate(zip(matrices, right, strict=True)):
            try:
                found[row, 1:] = np.linalg.solve(matrix[1:, 1:], vector[1:])
            except np.linalg.LinAlgError:
                found[row, 1:] = np.nan
    return found


def _constants(ready: Ready, draws: Draws, chosen: NDArray[np.intp]) -> tuple[Array, Array]:
    """The constant matrices (s, N, N) and the sources (s, N) of the chosen samples."""
    equations = ready.equations
    base, values = equations.arrays()
    matrices = np.tile(base, (len(chosen), 1, 1))
    for path in ready.paths.rows:
        if path.a == path.b or path.ohms is None:
            continue
        element = equations.graph.elements[path.element]
        ohms = path_ohms(ready, path, element, draws)
        if ohms is not None:
            least = max(path.ohms, LEAST_WINDING_OHM)
            change = 1.0 / np.maximum(ohms[chosen], LEAST_WINDING_OHM) - 1.0 / least
            for a, b, sign in ((path.a, path.a, 1), (path.b, path.b, 1), (path.a, path.b, -1), (path.b, path.a, -1)):
                matrices[:, a, b] += sign * change
    sources = np.tile(values, (len(chosen), 1))
    for (kind, key), row in equations.rows.items():
        name = SUPPLY_KEY if kind == "supply" else ""
        if kind in ("element", "regulator") and isinstance(key, int):
            name = equations.graph.elements[key].members[0]
        if name in draws.factors:
            sources[:, row] *= draws.factors[name][chosen]
    return matrices, sources


def path_ohms(ready: Ready, path: Path, element: Element, draws: Draws) -> Array | None:
    """Ohms of a resistive path in every sample, (S,); None where nothing in it differs."""
    if path.ohms is None or path.ohms >= STAND_IN_OHM * 1e12:
        return None
    if not any(ref in draws.factors or ref in draws.moves for ref in element.members):
        return None
    if element.kind == "potentiometer" and len(element.nodes) == 3 and element.value is not None:
        ref = element.members[0]
        track = element.value * _of(draws.factors, ref, draws.count, 1.0)
        at = np.clip(float(element.params.get("at", 0.5)) + _of(draws.moves, ref, draws.count, 0.0), 0.0, 1.0)
        return np.maximum(track * (at if path.ends == (0, 1) else 1.0 - at), LEAST_OHM)
    if len(element.members) > 1 and element.kind == "resistor":
        merged = merged_ohms(element.made_of, draws)
        return merged if np.isfinite(merged).all() else None
    return path.ohms * _of(draws.factors, element.members[0], draws.count, 1.0)


def _of(table, ref: str, count: int, otherwise: float) -> Array:
    found = table.get(ref)
    return np.full(count, otherwise) if found is None else found


def merged_ohms(made_of: Composition, draws: Draws) -> Array:
    """Ohms of resistors in series and parallel in every sample."""
    if made_of.rule == "part":
        value = np.nan if made_of.value is None else made_of.value
        return value * _of(draws.factors, made_of.ref, draws.count, 1.0)
    parts = [merged_ohms(item, draws) for item in made_of.sets]
    if made_of.rule == "series":
        return np.sum(parts, axis=0)
    return 1.0 / np.sum([1.0 / np.maximum(part, LEAST_WINDING_OHM) for part in parts], axis=0)


def _sampled(group: Group, ready: Ready, draws: Draws, chosen: NDArray[np.intp]) -> Group:
    """The group's devices once for each sample, one sample after the other, with that sample's parameters."""
    count, number = len(chosen), len(group.elements)
    made = copy.copy(group)
    for item in fields(group):
        value = getattr(group, item.name)
        if item.name not in ("control", "entry", "at") and isinstance(value, np.ndarray):
            setattr(made, item.name, np.tile(value, (count,) + (1,) * (value.ndim - 1)))
    made.at = np.concatenate([group.at + sample * ready.equations.count for sample in range(count)])
    made.elements = group.elements * count
    elements = [ready.equations.graph.elements[index] for index in group.elements]
    refs = [element.members[0] for element in elements]

    def table(rows, otherwise: float) -> Array:
        columns = [_of(rows, ref, draws.count, otherwise)[chosen] for ref in refs]
        return np.stack(columns, axis=1).reshape(count * number)

    _vary(made, elements * count, table, draws)
    made.__post_init__()  # type: ignore[attr-defined]
    return made


def _vary(group: Group, elements: list[Element], table, draws: Draws) -> None:
    """Puts the samples' parameters in the place of the typical ones."""
    gains = table(draws.gains, 1.0)
    if isinstance(group, Bipolar):
        group.forward = group.forward * gains
        group.saturation = group.saturation * table(draws.saturations, 1.0)
    elif isinstance(group, Diode):
        group.saturation = group.saturation * table(draws.saturations, 1.0)
        group.zener = group.zener * table(draws.factors, 1.0)
    elif isinstance(group, FieldEffect):
        junction_gate = np.array([element.kind in JFETS for element in elements])
        # IDSS and VP rise together: VP by the root of IDSS leaves K = IDSS / VP^2 as it is.
        group.factor = np.where(junction_gate, group.factor, group.factor * gains)
        moved = group.threshold * (1.0 + table(draws.thresholds, 0.0))
        group.threshold = np.where(junction_gate, group.threshold * np.sqrt(gains), moved)
    elif isinstance(group, Triode):
        group.kg1 = group.kg1 / gains
    elif isinstance(group, Pentode):
        group.kg1, group.kg2 = group.kg1 / gains, group.kg2 / gains
    elif isinstance(group, Regulator):
        group.volts = group.volts * table(draws.factors, 1.0)
