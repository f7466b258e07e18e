"""Where the devices' control voltages come from in the unknowns, and where their currents and slopes go: by index, for
all groups at once, since circuits are small and each call on a small array costs more than its arithmetic."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from topo.analysis.devices.group import Array, Group

Indices = NDArray[np.intp]


class Gathering:
    """The index tables of a list of groups in one set of equations of `size` unknowns.

    Control voltages of all groups stand one after another in one vector (m,), branch currents in another (k,), slopes
    of currents to controls in a third; `views` of them have the groups' own shapes.
    """

    def __init__(self, groups: Sequence[Group], size: int):
        self.size = size
        made = [_tables(group) for group in groups]
        starts = [(0, 0, 0)]
        for group in groups:
            count, (controls, branches) = len(group.elements), _widths(group)
            m, k, s = starts[-1]
            starts.append((m + count * controls, k + count * branches, s + count * branches * controls))
        self.controls, self.branches, self.slopes = starts[-1]
        self._spans = [slice(a[0], b[0]) for a, b in pairwise(starts)]
        self._shapes = [(len(group.elements), _widths(group)[0]) for group in groups]

        def joined(table: int, *offsets: int | None) -> list[Indices]:
            rows = [
                [made[g][table][c] + (0 if o is None else starts[g][o]) for c, o in enumerate(offsets)]
                for g in range(len(groups))
            ]
            return [np.concatenate([row[c] for row in rows]) if rows else _NONE for c in range(len(offsets))]

        def coefficients(table: int) -> Array:
            return np.concatenate([tables[table][-1] for tables in made]) if made else np.zeros(0)

        self._control_to, self._control_from = joined(0, 0, None)
        self._control_by = coefficients(0)
        self._current_to, self._current_from = joined(1, None, 1)
        self._current_by = coefficients(1)
        rows, columns, self._slope_from = joined(2, None, None, 2)
        self._slope_to = rows * size + columns
        self._slope_by = coefficients(2)
        self._turn_to, self._turn_from, self._turn_at = joined(3, 1, 2, 0)

    def controls_at(self, unknowns: Array) -> Array:
        """Control voltages (m,) at a vector of unknowns."""
        return _summed(self._control_to, self._control_by * unknowns[self._control_from], self.controls)

    def views(self, controls: Array) -> list[Array]:
        """Each group's part of a vector of control voltages, in its own shape; writing to it writes to the vector."""
        return [controls[span].reshape(shape) for span, shape in zip(self._spans, self._shapes, strict=True)]

    def into_nodes(self, branches: Array) -> Array:
        """Amperes out of each node (size,) into the devices, from branch currents (k,)."""
        return _summed(self._current_to, self._current_by * branches[self._current_from], self.size)

    def slopes_between(self, slopes: Array) -> Array:
        """Derivatives of the currents out of the nodes to the unknowns (size * size,), from slopes of branches."""
        return _summed(self._slope_to, self._slope_by * slopes[self._slope_from], self.size * self.size)

    def along(self, slopes: Array, controls: Array) -> Array:
        """Slopes times control voltages: the branch currents (k,) of the tangents through nothing."""
        return _summed(self._turn_to, slopes[self._turn_from] * controls[self._turn_at], self.branches)


_NONE = np.zeros(0, dtype=np.intp)


def _summed(to: Indices, amounts: Array, length: int) -> Array:
    """The sums (length,) of the amounts that go to each place."""
    return np.bincount(to, amounts, length).astype(np.float64, copy=False)


def _widths(group: Group) -> tuple[int, int]:
    """How many control voltages and branch currents a device of the group has."""
    return group.control.shape[0], group.entry.shape[1]


class _Pattern:
    """Where one device's control voltages, currents and slopes go, by its terminals: the same for a whole law."""

    def __init__(self, control: Array, entry: Array):
        self.control_row, self.control_terminal = np.nonzero(control)
        self.control_by = control[self.control_row, self.control_terminal]
        self.current_terminal, self.current_branch = np.nonzero(entry)
        self.current_by = entry[self.current_terminal, self.current_branch]
        terms = entry[:, :, None, None] * control
        self.slope_terminal, k, m, self.slope_other = np.nonzero(terms)
        self.slope_by = terms[self.slope_terminal, k, m, self.slope_other]
        self.slope_row = k * len(control) + m
        self.turn_branch, self.turn_control = (axis.ravel() for axis in np.indices((entry.shape[1], len(control))))
        self.turn_row = np.arange(len(self.turn_branch))


_PATTERNS: dict[type[Group], _Pattern] = {}


def _tables(group: Group) -> tuple[tuple[NDArray, ...], ...]:
    """For one group: which unknowns make which control, which branches enter where, which slopes stand where."""
    law = _PATTERNS.get(type(group))
    if law is None:
        law = _PATTERNS[type(group)] = _Pattern(group.control, group.entry)
    controls, branches = _widths(group)
    device, sign = np.arange(len(group.elements))[:, None], group.polarity[:, None]
    control = (
        (device * controls + law.control_row).ravel(),
        group.at[:, law.control_terminal].ravel(),
        (sign * law.control_by).ravel(),
    )
    current = (
        group.at[:, law.current_terminal].ravel(),
        (device * branches + law.current_branch).ravel(),
        (sign * law.current_by).ravel(),
    )
    # A derivative has the polarity twice, which is 1.
    slope = (
        group.at[:, law.slope_terminal].ravel(),
        group.at[:, law.slope_other].ravel(),
        (device * (branches * controls) + law.slope_row).ravel(),
        (law.slope_by + 0.0 * device).ravel(),
    )
    turn = (
        (device * branches + law.turn_branch).ravel(),
        (device * (branches * controls) + law.turn_row).ravel(),
        (device * controls + law.turn_control).ravel(),
    )
    return control, current, slope, turn
