"""What matters: normalised sensitivities of quiescent currents and of gain to every part's value, by adjoints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from topo.analysis.devices.group import GMIN, Array
from topo.analysis.influences import Influence, influences
from topo.analysis.newton import Solution, Solver
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.small_signal import Pair, SmallSignal
from topo.analysis.solving import Ready, set_up
from topo.errors import CircuitError

CONTROL_STEP = 1e-5
"""Volts on either side of a control voltage at which a device's slopes are compared."""

LEAST_AMPERE = 1e-12
"""A smaller current has no relative change worth a name."""

_MAIN = ("c", "d", "a")


@dataclass(frozen=True)
class Sensitivity:
    """Percent of change of a quantity per percent of change of one value of a part (or of a supply, by its net).

    `name` is "value" for the main value, else the parameter's name as the netlist language has it, "at" for a wiper's
    place, "turns 2" for those of a transformer's second winding relative to its first, and so on, "volts" and
    "resistance" for a supply. `value` is what it is at. For a gain, `percent` is the change of its
    magnitude with the operating point that moves along; `held` is what it would be with the operating point held.
    """

    ref: str
    name: str
    value: float
    percent: float
    held: float | None = None


@dataclass(eq=False)
class _Bias:
    """The solved equations at direct current: their Jacobian (N, N), and the groups' slopes, one array a group."""

    ready: Ready
    solution: Solution
    jacobian: Array
    slopes: list[Array]

    def adjoint(self, right: Array) -> Array:
        """The solution of J^T y = right, ground's row 0; `right` is (N,) or (N, m)."""
        found = np.zeros_like(right)
        found[1:] = np.linalg.solve(self.jacobian[1:, 1:].T, right[1:])
        return found


def bias_sensitivities(point: OperatingPoint) -> dict[str, tuple[Sensitivity, ...]]:
    """Sensitivities of each device's quiescent current, the largest first, by the device's designator.

    The current is that of the collector, drain or anode, at the circuit's own temperature. Devices that carry none are
    left out.
    Source: the adjoint method: with F(x, p) = 0, dy/dp = dy/dp at x - z^T dF/dp where J^T z = dy/dx; one solution for
        each current whatever the number of parts (S. Director, R. Rohrer, IEEE Trans. CT-16 (1969) 318, from memory).
    Raises:
        CircuitError: the operating point is not solved.
    """
    bias = _bias_of(point)
    rows = influences(bias.ready, bias.solution)
    found: dict[str, tuple[Sensitivity, ...]] = {}
    for group, branches, slopes in zip(bias.ready.equations.groups, bias.solution.branches, bias.slopes, strict=True):
        column = next((group.names.index(name) for name in _MAIN if name in group.names), None)
        if column is None:
            continue
        amperes = group.terminal_currents(branches)[:, column]
        for place, index in enumerate(group.elements):
            if abs(amperes[place]) < LEAST_AMPERE:
                continue
            right = np.zeros(len(bias.jacobian))
            np.add.at(right, group.at[place], slopes[place, column])
            adjoint = bias.adjoint(right)
            changes = [
                (row, (_direct(row, index, column) - _product(adjoint, row)) / float(amperes[place])) for row in rows
            ]
            ref = point.graph.elements[index].members[0]
            found[ref] = _largest_first([Sensitivity(r.ref, r.name, r.value, change) for r, change in changes])
    return found


def gain_sensitivities(signal: SmallSignal, out: Pair, frequency: float | None = None) -> tuple[Sensitivity, ...]:
    """Sensitivities of the magnitude of the gain from the generator to `out`, the largest first.

    `percent` counts both ways in which a value acts: in the signal's own network, and through the operating point, on
    which every device's slopes depend. `held` counts the first alone.
    Args:
        frequency: hertz; the middle of the band if None.
    Source: with A x = b and G = c^T x, dG = -w^T dA x where A^T w = c; the part of dA that is the devices' slopes is
        followed through the operating point by a second adjoint, J^T z = dG/dv.
    Raises:
        CircuitError: the operating point is not solved, or there is no gain.
    """
    f = signal.middle if frequency is None else frequency
    bias = _bias_of(signal.network.point)
    x = signal.response(f)
    a, b = signal.nodes(out)
    gain = complex(x[a] - x[b])
    if not (math.isfinite(abs(gain)) and abs(gain) > 0):
        raise CircuitError(f"There is no gain from the source to {out} at {f:g} Hz.")
    right = np.zeros(len(x), dtype=np.complex128)
    right[a] += 1.0
    right[b] -= 1.0
    right[0] = 0.0
    w = np.zeros_like(right)
    w[1:] = np.linalg.solve(signal.matrix(f)[1:, 1:].T, right[1:])
    moving = bias.adjoint(_gain_by_bias(signal, bias, w, x, gain))
    rows = []
    for row in influences(bias.ready, bias.solution, signal.network):
        held = (-_linear_change(signal, row, w, x, f) / gain).real
        rows.append(Sensitivity(row.ref, row.name, row.value, held - _product(moving, row), held))
    return _largest_first(rows)


def _bias_of(point: OperatingPoint) -> _Bias:
    if not point.solved:
        raise CircuitError("Without an operating point there are no sensitivities.", mend=" ".join(point.missing))
    graph = point.graph
    ready = set_up(graph, graph.circuit.temperature)
    with np.errstate(all="ignore"):
        solution = Solver(ready.equations).solve()
        matrix, _ = ready.equations.arrays()
        kept = []
        for group in ready.equations.groups:
            _, di = group.branches(group.controls(solution.unknowns), GMIN)
            slopes = group.jacobian(di)
            kept.append(slopes)
            np.add.at(matrix, (group.at[:, :, None], group.at[:, None, :]), slopes)
    return _Bias(ready, solution, matrix, kept)


def _direct(row: Influence, device: int, column: int) -> float:
    """The change of a device's own current at fixed unknowns."""
    return 0.0 if row.currents is None or row.device != device else float(row.currents[column])


def _product(adjoint: Array, row: Influence) -> float:
    """The adjoint solution times the change of the equations."""
    return sum(float(adjoint[at]) * amount for at, amount in row.equations.items() if at)


def _linear_change(
    signal: SmallSignal,
    row: Influence,
    w: NDArray[np.complex128],
    x: NDArray[np.complex128],
    frequency: float,
) -> complex:
    """w^T dA x at a fixed operating point."""
    omega = 2.0 * math.pi * frequency
    total = 0j
    for a, b, siemens, farad in row.admittances:
        total += complex(siemens, omega * farad) * complex(w[a] - w[b]) * complex(x[a] - x[b])
    for at, amount in row.diagonal:
        total += amount * complex(w[at] * x[at])
    for share, rows in row.coils:
        inside = np.ix_(rows, rows)
        total += 1j * omega * share * complex(w[list(rows)] @ signal.network.rising[inside] @ x[list(rows)])
    if row.turns is not None:
        own, core = (list(rows) for rows in row.turns)
        rising = signal.network.rising
        total += 1j * omega * complex(w[own] @ rising[np.ix_(own, core)] @ x[core])
        total += 1j * omega * complex(w[core] @ rising[np.ix_(core, own)] @ x[own])
    if row.block is not None and row.device is not None:
        at_block = signal.network.blocks[row.device].at
        total += complex(w[at_block] @ row.block @ x[at_block])
    return total


def _gain_by_bias(
    signal: SmallSignal, bias: _Bias, w: NDArray[np.complex128], x: NDArray[np.complex128], gain: complex
) -> Array:
    """The relative change of the gain's magnitude per volt (ampere) of every unknown of the operating point, (N,)."""
    found = np.zeros(len(bias.jacobian))
    for group in bias.ready.equations.groups:
        u = group.controls(bias.solution.unknowns)
        for control in range(u.shape[1]):
            sides = []
            for sign in (1.0, -1.0):
                moved = u.copy()
                moved[:, control] += sign * CONTROL_STEP
                with np.errstate(all="ignore"):
                    sides.append(group.jacobian(group.branches(moved, GMIN)[1]))
            bent = (sides[0] - sides[1]) / (2.0 * CONTROL_STEP)
            for place, index in enumerate(group.elements):
                block = signal.network.blocks.get(index)
                if block is None:
                    continue
                change = -complex(w[block.at] @ bent[place] @ x[block.at]) / gain
                np.add.at(found, group.at[place], change.real * group.polarity[place] * group.control[control])
    found[0] = 0.0
    return found


def _largest_first(rows: list[Sensitivity]) -> tuple[Sensitivity, ...]:
    return tuple(sorted(rows, key=lambda row: -abs(row.percent)))
