"""The devices of a circuit at many instants at once: every law is evaluated for all of them in one go."""

from __future__ import annotations

import copy
import dataclasses

import numpy as np

from topo.analysis.devices.group import GMIN, Array, Group
from topo.analysis.large_signal.dynamics import Ports


class Instants:
    """The control voltages and branch currents of `Ports`, of n instants: arrays are (n, m) and (n, k)."""

    def __init__(self, ports: Ports, n: int):
        self.ports, self.n = ports, n
        self.groups = [repeat_group(group, n) for group in ports.groups]

    def begin(self) -> None:
        """Forgets what earlier steps were limited by."""
        for group in self.groups:
            group.begin()

    def branches(self, u: Array) -> tuple[Array, Array]:
        """Branch currents (n, k) and their derivatives (n, k, m) at control voltages (n, m)."""
        ports, n = self.ports, self.n
        i, slopes = np.zeros((n, ports.k)), np.zeros((n, ports.k, ports.m))
        for group, (us, js), (rows, columns) in zip(self.groups, ports.spans, ports.blocks, strict=True):
            here, di = group.branches(u[:, us].reshape(len(group.elements), -1), GMIN)
            i[:, js] = here.reshape(n, -1)
            slopes[:, rows, columns] = di.reshape(n, *rows.shape)
        return i, slopes

    def limit(self, new: Array, old: Array) -> Array:
        """The part of a step that may be trusted."""
        limited = np.empty_like(new)
        for group, (us, _) in zip(self.groups, self.ports.spans, strict=True):
            count = len(group.elements)
            here = group.limit(new[:, us].reshape(count, -1), old[:, us].reshape(count, -1))
            limited[:, us] = here.reshape(self.n, -1)
        return limited


def repeat_group(group: Group, times: int) -> Group:
    """A group of the same devices many times over, all of the first instant first."""
    count = len(group.elements)
    changed: dict[str, object] = {}
    for item in dataclasses.fields(group):
        value = getattr(group, item.name)
        if item.name == "elements":
            changed[item.name] = [*value] * times
        elif isinstance(value, np.ndarray) and item.name not in ("control", "entry") and len(value) == count:
            changed[item.name] = np.concatenate([value] * times)
    made = copy.copy(group)
    for name, value in changed.items():
        setattr(made, name, value)
    again = getattr(made, "__post_init__", None)
    if again is not None:
        again()
    return made
