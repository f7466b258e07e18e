"""Whether a group is a wire, nothing, or a part for the signal: judged across it, at mid band, in the whole circuit.

The impedance that the rest of the linearised circuit shows across a group is compared with the group's own. All
groups are judged on the circuit as it is before any verdict is applied; only those that hang in the air are judged
again with the wires in place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from topo.quantities import show
from topo.views.groups import Group
from topo.views.network import FIXED_OHM, SHORT_OHM, Network, bridged
from topo.views.view import Verdict

if TYPE_CHECKING:
    from topo.analysis.linear import Linear

WIDE = (0.5, 2.0)
"""rho at or under the first is a short, at or over the second an open. 264 of 279 capacitors of known purpose came
out right with this pair; coupling and bypass capacitors reach 0.37, filter parts begin at 4.7."""
NARROW = (0.2, 5.0)
"""The same for a band whose edges are less than NARROW_RATIO apart: there edge and middle are one."""
NARROW_RATIO = 4.0
TUNED = (0.5, 5.0)
"""The same for the band of a receiver's intermediate frequency: its tuned circuits are not judged so, and what else is
there to bypass has the wide band's limit."""
COIL_REST = 1e-7
"""Siemens of the rest under which a coil is a wire, whatever its reactance."""
LEAST_REST = 1e-9
"""Siemens of the rest under which a capacitor hangs in the air: the linearised circuit has 1e-11 of leak at each node,
the highest grid leaks and bootstrapped inputs show a hundred times this."""
CORNER_REMARK, EDGE_REMARK = 0.3, 3.0


def thresholds(band: tuple[float, float], tuned: bool = False) -> tuple[float, float]:
    """The largest rho of a short and the least of an open in a band; `tuned` for an intermediate one."""
    if band[1] / band[0] >= NARROW_RATIO:
        return WIDE
    return TUNED if tuned else NARROW


def judge(
    groups: Sequence[Group],
    network: Network,
    band: tuple[float, float],
    wires: Sequence[tuple[int, int]] = (),
    tuned: bool = False,
) -> list[Verdict]:
    """A verdict for each group.

    Args:
        network: the linearised circuit, every group in its place.
        band: the signal band in hertz.
        wires: pairs of nodes that are known to be one by other means; they count in the second pass only.
        tuned: whether it is the band of a receiver's intermediate frequency.
    Returns:
        Verdicts in the order of the groups. "undecided" is a capacitor through which no current could flow.
    """
    low, high = band
    middle = math.sqrt(low * high)
    tables = [network.impedances(f) for f in (low, middle, high)]
    verdicts = [
        _verdict(network.linear, group, tables, (low, middle, high), thresholds(band, tuned)) for group in groups
    ]
    open_ends = [position for position, verdict in enumerate(verdicts) if verdict.fate == "undecided"]
    shorts = [group.nodes for group, verdict in zip(groups, verdicts, strict=True) if verdict.fate == "short"]
    others = [(min(pair), max(pair)) for pair in wires if pair[0] != pair[1]]
    pairs = list(dict.fromkeys([*shorts, *others]))
    if open_ends and pairs:
        siemens = [1.0 / SHORT_OHM] * len(pairs)
        again = [bridged(table, pairs, siemens) for table in tables]
        for position in open_ends:
            verdicts[position] = _verdict(
                network.linear, groups[position], again, (low, middle, high), thresholds(band, tuned)
            )
    return verdicts


def _verdict(
    linear: Linear,
    group: Group,
    tables: Sequence[np.ndarray],
    frequencies: tuple[float, float, float],
    limits: tuple[float, float],
) -> Verdict:
    """The verdict on one group from the impedances at the band's low edge, middle and high edge."""
    a, b = group.nodes
    own = [group.admittance(linear, f) for f in frequencies]
    across = [complex(z[a, a] + z[b, b] - z[a, b] - z[b, a]) for z in tables]
    if abs(across[1]) < FIXED_OHM:
        return Verdict("no effect", remark="both ends are on fixed nets", group=group.elements)
    rest = [1.0 / z - y if z else complex(math.inf) for z, y in zip(across, own, strict=True)]
    rho = [abs(r) / abs(y) if y else math.inf for r, y in zip(rest, own, strict=True)]
    coil = group.kind == "coil"
    if abs(rest[1]) < (COIL_REST if coil else LEAST_REST):
        fate = "short" if coil else "undecided"
        return Verdict(fate, rho[1], rho[0], rho[2], None, "no signal current flows in it", group=group.elements)
    largest_short, least_open = limits
    facing = 1.0 / abs(rest[1])
    if rho[1] <= largest_short:
        fate, remark = "short", _short_remark(group, rho)
    elif rho[1] >= least_open:
        fate, remark = "open", _open_remark(group, rho)
    else:
        fate, remark = "shaping", f"neither small nor large against the {show(facing, 'ohm')} that it faces"
    return Verdict(fate, rho[1], rho[0], rho[2], facing, remark, group=group.elements)


def _short_remark(group: Group, rho: Sequence[float]) -> str:
    if group.kind == "capacitor" and rho[0] > CORNER_REMARK:
        return "its corner lies in the band"
    if group.kind == "coil" and rho[2] > CORNER_REMARK:
        return "begins to act at the top of the band"
    return ""


def _open_remark(group: Group, rho: Sequence[float]) -> str:
    if group.kind == "capacitor" and rho[2] < EDGE_REMARK:
        return "begins to act at the top of the band"
    if group.kind == "coil" and rho[0] < EDGE_REMARK:
        return "loads the bottom of the band"
    return ""


def spread(groups: Sequence[Group], verdicts: Sequence[Verdict]) -> Mapping[int, Verdict]:
    """The verdict of each element: that of its group; a chain that is a wire wins over its single members."""
    found: dict[int, Verdict] = {}
    for group, verdict in zip(groups, verdicts, strict=True):
        inside = {index for conductor in group.conductors for index in conductor.elements}
        singles = {c.elements[0] for c in group.conductors if c.what == "junction"}
        for index in group.elements:
            if index not in inside or index in singles:
                found.setdefault(index, verdict)
    for group, verdict in zip(groups, verdicts, strict=True):
        if verdict.fate == "short":
            for conductor in group.conductors:
                found.update({element: verdict for _, _, element in conductor.wires})
    return found
