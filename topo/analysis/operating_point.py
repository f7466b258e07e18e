"""The operating point: volts of every node, currents into every terminal, and the state of each device."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.graph.graph import Graph


@dataclass(frozen=True)
class OperatingPoint:
    """Result of the DC solution; never raised, always returned.

    `status` is "solved" (a net that nothing but capacitors and isolated windings join to the rest has no voltage to
    know, and is NaN even so), "partly solved" (some nets float or want a value: `missing` says which and what
    to add), or "not solved". `volts[i]` belongs to node i, NaN where not known. `currents[k]` are amperes
    into each terminal of element k, in the order of its terminals, NaN where not known. `states[k]` is, for
    devices, "on", "off", "saturated", "reversed", and for diodes "forward", "off", "breakdown";
    absent where not known. `assumed` names parts (by designator) whose value or parameters were assumed,
    with the words that say what; `residual` is the largest Kirchhoff current error, amperes.
    `supply_currents` are amperes that each supply (by its net), battery and source delivers; `member_currents` amperes
    into the first terminal of merged parts and of links; `inner_volts` the voltages of nets inside elements.
    """

    graph: Graph
    status: str
    volts: tuple[float, ...]
    currents: tuple[tuple[float, ...], ...]
    states: Mapping[int, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    assumed: Mapping[str, str] = field(default_factory=dict)
    residual: float = 0.0
    supply_currents: Mapping[str, float] = field(default_factory=dict)
    member_currents: Mapping[str, float] = field(default_factory=dict)
    inner_volts: Mapping[str, float] = field(default_factory=dict)

    @property
    def solved(self) -> bool:
        """Whether every voltage that there is to know is known."""
        return self.status == "solved"

    def voltage(self, net: str, reference: str | None = None) -> float:
        """Volts of a net by any of its names, to ground or to another net; NaN where not known."""
        circuit = self.graph.circuit
        shown = circuit.aliases.get(net.casefold(), net)
        node = self.graph.node_of.get(shown)
        value = self.volts[node] if node is not None else self.inner_volts.get(shown, math.nan)
        return value if reference is None else value - self.voltage(reference)

    def current(self, ref: str, terminal: str | None = None) -> float:
        """Amperes into a part's terminal: collector or drain or anode of a device, the first terminal else.

        NaN where not known, such as that of a link beside another one; KeyError if there is no such part.
        """
        if terminal is None and ref in self.member_currents:
            return self.member_currents[ref]
        index = self.graph.element_of.get(ref)
        if index is None:
            self.graph.circuit.part(ref)
            return math.nan
        element = self.graph.elements[index]
        if terminal is None:
            terminal = next((t for t in ("c", "d", "a") if t in element.terminals), element.terminals[0])
        return self.currents[element.index][element.terminals.index(terminal)]
