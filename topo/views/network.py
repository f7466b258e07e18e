"""The linearised circuit as a table of impedances at a frequency, each inverse made once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from topo.analysis.linear import Linear

FIXED_OHM = 1e-7
"""Impedance under which a node, or both ends of a group, are ideally fixed."""
SHORT_OHM = 1e-4
"""What a part that was decided to be a wire is put at when the undecided are judged again."""


@dataclass(frozen=True)
class Termination:
    """A resistance that is assumed at a port: between which nodes, ohm, and why in words."""

    nodes: tuple[int, int]
    ohm: float
    words: str


@dataclass(frozen=True)
class Network:
    """A linear network with what is assumed at its ports.

    `impedances(f)` is (n, n) complex, ohm: volts at node i for one ampere into node j, zero in the rows of ground
    and ideal rails.
    """

    linear: Linear
    terminations: tuple[Termination, ...] = ()
    _tables: dict[float, np.ndarray] = field(default_factory=dict, compare=False, repr=False)

    def impedances(self, frequency: float) -> np.ndarray:
        """The whole table at a frequency in hertz."""
        table = self._tables.get(frequency)
        if table is None:
            table = np.asarray(self.linear.impedances(frequency))
            if self.terminations:
                pairs = [termination.nodes for termination in self.terminations]
                table = bridged(table, pairs, [1.0 / termination.ohm for termination in self.terminations])
            self._tables[frequency] = table
        return table

    def is_sound(self, frequency: float) -> bool:
        """Whether the network has a solution at a frequency; contradictory ideal parts leave it none."""
        return bool(np.isfinite(self.impedances(frequency)).all())

    def fixed_nodes(self, frequency: float) -> frozenset[int]:
        """Nodes that no current moves: ground and ideal rails."""
        own = np.abs(np.diagonal(self.impedances(frequency)))
        return frozenset(int(node) for node in np.flatnonzero(own < FIXED_OHM))

    def across(self, a: int, b: int, frequency: float) -> complex:
        """Driving-point impedance between two nodes, ohm."""
        z = self.impedances(frequency)
        return complex(z[a, a] + z[b, b] - z[a, b] - z[b, a])

    def transfer(self, driven: int, seen: int, frequency: float) -> complex | None:
        """Volts at one node for a volt at another that is driven there; None if the driven one is fixed."""
        z = self.impedances(frequency)
        own = z[driven, driven]
        return None if abs(own) < 1e-9 else complex(z[seen, driven] / own)


def bridged(table: np.ndarray, pairs: Sequence[tuple[int, int]], siemens: Sequence[complex]) -> np.ndarray:
    """The table of impedances with further admittances between pairs of nodes.

    Source: the matrix inversion lemma, applied to nodal admittances (from memory).
    """
    count = table.shape[0]
    columns = np.zeros((count, len(pairs)), dtype=complex)
    for column, (a, b) in enumerate(pairs):
        columns[a, column] += 1.0
        columns[b, column] -= 1.0
    seen = table @ columns
    core = np.diag([1.0 / value for value in siemens]) + columns.T @ seen
    return table - seen @ np.linalg.solve(core, columns.T @ table)
