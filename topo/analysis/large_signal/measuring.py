"""The figures of a cycle, from all unknowns of the equations over it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from topo.analysis.devices.group import GMIN, Array
from topo.analysis.large_signal.dynamics import Dynamics, Termination
from topo.analysis.large_signal.instants import repeat_group
from topo.analysis.large_signal.measures import class_letter, conduction_angle, crossover, distortion, harmonics
from topo.analysis.large_signal.waveforms import Conduction, Waveforms
from topo.analysis.parameters import BIPOLAR, JFETS, MOSFETS, VALVES
from topo.analysis.resistances import MEMBER_OF_LOAD
from topo.graph.graph import Element

SINGLE = frozenset((*BIPOLAR, *JFETS, *MOSFETS, *VALVES))
"""Devices of which a class of operation is said."""


def measure(
    blank: Waveforms,
    system: Dynamics,
    unknowns: Array,
    wave: Array,
    entry: tuple[int, int],
    exit: tuple[int, int],
    generator: Termination,
    load: Termination | None,
) -> Waveforms:
    """A cycle's waveforms and figures.

    Args:
        blank: what is known of the run.
        unknowns: (n, N) after each step; wave: the generator's volts (n,), without what stands behind it.
    """
    graph, n = system.graph, len(wave)
    nodes = len(graph.nets)
    volts = unknowns[:, :nodes]
    currents, at_rest = _device_currents(system, unknowns), _device_currents(system, system.start[None, :])
    losses = _losses(system, unknowns, currents)
    out = volts[:, exit[0]] - volts[:, exit[1]]
    amounts = harmonics(out)
    ohms, power = _load(system, losses, exit, load, out)
    into = volts[:, entry[0]] - volts[:, entry[1]]
    rest_in = system.start[entry[0]] - system.start[entry[1]]
    drawn = (wave - (into - rest_in)) / generator.ohms
    given, supplied, supplies = _supplies(system, unknowns)
    input_power = float(np.mean(drawn * into))
    outside = 0.0
    if load is not None:
        standing = system.start[exit[0]] - system.start[exit[1]]
        outside = float(np.mean(out * (out - standing))) / load.ohms
    return replace(
        blank,
        time=np.arange(1, n + 1) / (n * blank.frequency),
        node_volts=volts,
        currents=currents,
        output=out,
        input=into,
        devices=tuple(_conduct(system, index, currents[index], at_rest[index], losses) for index in sorted(currents)),
        harmonics=tuple(float(value) for value in amounts[1:]),
        gain=float(amounts[1] / blank.amplitude) if blank.amplitude else math.nan,
        thd=distortion(amounts),
        crossover=crossover(out),
        load_ohms=ohms,
        output_power=power,
        supply_power=supplied,
        input_power=input_power,
        efficiency=power / supplied if supplied > 0 else math.nan,
        supply_currents=supplies,
        losses=losses,
        balance=given + input_power - outside - math.fsum(losses.values()),
    )


def _device_currents(system: Dynamics, unknowns: Array) -> dict[int, Array]:
    """Amperes into the terminals of each device (n, t), by element."""
    found: dict[int, Array] = {}
    for group in system.groups:
        count, n = len(group.elements), len(unknowns)
        many = repeat_group(group, n)
        u = group.polarity[None, :, None] * (unknowns[:, group.at] @ group.control.T)
        i, _ = many.branches(u.reshape(n * count, -1), GMIN)
        amperes = many.terminal_currents(i).reshape(n, count, -1)
        for place, index in enumerate(group.elements):
            element = system.graph.elements[index]
            table = np.zeros((len(unknowns), len(element.terminals)))
            for column, name in enumerate(group.names):
                if name in element.terminals:
                    table[:, element.terminals.index(name)] += amperes[:, place, column]
            found[index] = table
    return found


def _losses(system: Dynamics, unknowns: Array, currents: dict[int, Array]) -> dict[int, float]:
    """Mean watts that each part takes, by element: resistances, windings, devices."""
    found: dict[int, float] = {}
    elements = system.graph.elements
    for index, links in system.network.links.items():
        for link in links:
            across = unknowns[:, link.a] - unknowns[:, link.b]
            kept = system.kept.get(index, 0.0) if link.siemens else 0.0
            found[index] = found.get(index, 0.0) + float(np.mean(across * (link.siemens * across - kept)))
    for index, coils in system.network.coils.items():
        lost = sum(coil.ohms * float(np.mean(unknowns[:, coil.row] ** 2)) for coil in coils)
        found[index] = found.get(index, 0.0) + lost
    for index, amperes in currents.items():
        found[index] = float(np.mean((unknowns[:, list(elements[index].nodes)] * amperes).sum(axis=1)))
    return found


def _load(
    system: Dynamics, losses: dict[int, float], exit: tuple[int, int], load: Termination | None, out: Array
) -> tuple[float, float]:
    """Ohms of the load, and mean watts of what varies in it: the load asked for, else a loudspeaker or its like at
    the output, to ground or to a supply, else resistors there. Both NaN where there is none."""
    siemens = 1.0 / load.ohms if load is not None else 0.0
    if not siemens:
        graph = system.graph
        there = [e for e in graph.elements if len(e.nodes) == 2 and set(e.nodes) == set(exit)]
        if exit[1] == 0:
            still = {0, *(graph.node_of[supply.net] for supply in graph.circuit.supplies)}
            loads = [e for e in graph.elements if e.kind in MEMBER_OF_LOAD and exit[0] in e.nodes]
            there += [e for e in loads if e not in there and set(e.nodes) - {exit[0]} <= still]
        chosen = [e for e in there if e.kind in MEMBER_OF_LOAD] or [e for e in there if _is_resistance(e)]
        siemens = sum(link.siemens for e in chosen for link in system.network.links.get(e.index, ()))
    if not siemens:
        return math.nan, math.nan
    return 1.0 / siemens, float(np.var(out) * siemens)


def _is_resistance(element: Element) -> bool:
    return element.kind in ("resistor", "lamp", "relay", "potentiometer")


def _supplies(system: Dynamics, unknowns: Array) -> tuple[float, float, dict[str, float]]:
    """Mean watts that all sources give, those of supplies that give and do not take, and mean amperes of each."""
    graph, given, supplied = system.graph, 0.0, 0.0
    amperes: dict[str, float] = {}
    for (kind, key), row in system.equations.rows.items():
        if kind == "supply":
            plus, minus, name = graph.node_of[str(key)], 0, str(key)
        elif kind == "element" and isinstance(key, int):
            element = graph.elements[key]
            plus, minus, name = element.nodes[0], element.nodes[1], element.members[0]
        elif kind == "regulator" and isinstance(key, int):
            element = graph.elements[key]
            plus, minus, name = element.node("out"), element.node("common"), element.members[0]
        else:
            continue
        watts = float(np.mean(-unknowns[:, row] * (unknowns[:, plus] - unknowns[:, minus])))
        given += watts
        supplied += max(watts, 0.0)
        amperes[name] = float(np.mean(-unknowns[:, row]))
    return given, supplied, amperes


def _conduct(system: Dynamics, index: int, table: Array, rest: Array, losses: dict[int, float]) -> Conduction:
    """What one device does."""
    element = system.graph.elements[index]
    name = next((t for t in ("c", "d", "a", "out") if t in element.terminals), element.terminals[0])
    column = element.terminals.index(name)
    current, idle = table[:, column], abs(float(rest[0, column]))
    angle, crest = conduction_angle(current), float(np.abs(current).max())
    letter = class_letter(angle, idle, crest) if element.kind in SINGLE else ""
    mean = abs(float(np.mean(current)))
    return Conduction(element.members[0], element.kind, angle, letter, idle, crest, mean, losses[index])
