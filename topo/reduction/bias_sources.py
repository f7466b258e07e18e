"""Ideal bias sources of the `principle` detail: what stands for a divider, so that the stage keeps its current.

A divider from rails to a control terminal is, for what hangs on it, one source behind one resistance (Thevenin's
theorem), so that nothing is lost by drawing it so. Where the emitter's resistor is bypassed, the source is lowered by
what stands across that resistor, and emitter and far end of the resistor become one net: the bias voltage of the
device and its current at rest stay, and the signal sees what it saw before. What is lost is how the current is kept
steady against temperature and spread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from topo.graph.graph import Element, Graph
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reduction.decisions import Proposal
from topo.reduction.measures import Measures
from topo.views.kinds import DEVICES, electrodes

RULE = "ideal bias source"
# As many digits as a source is written with, so that the written circuit is the one that was solved.
_DIGITS = 10


@dataclass(frozen=True)
class BiasSource:
    """A source `volts` on a net `rail` of its own, behind `ohms` to `net`.

    `stands` is the resistor that is drawn for the network, `others` are those that are merged into it.
    """

    stands: str
    others: tuple[str, ...]
    net: str
    rail: str
    volts: float
    ohms: float


def with_bias_sources(
    reading: Reading,
    measures: Measures,
    proposed: Sequence[Proposal],
    held: frozenset[str],
    wires: frozenset[str] = frozenset(),
) -> list[Proposal]:
    """The proposals, with those that leave out a divider replaced by one that puts a source in its place.

    Args:
        reading: of the circuit.
        measures: of the same reading.
        proposed: what may go for the principle.
        held: designators that stay as they are.
        wires: designators that are wires already, such as a stopper behind the divider.
    """
    found = _Finder(reading, measures, proposed, held, wires).found()
    taken = {ref for proposal, _ in found for ref in (*proposal.becomes, *_drawn(proposal))}
    left = []
    for proposal in proposed:
        becomes = {ref: fate for ref, fate in proposal.becomes.items() if ref not in taken}
        if becomes:
            left.append(proposal if len(becomes) == len(proposal.becomes) else _with(proposal, becomes))
    return [*left, *(proposal for proposal, _ in found)]


def _drawn(proposal: Proposal) -> tuple[str, ...]:
    source = proposal.source
    return (source.stands, *source.others) if source is not None else ()


def _with(proposal: Proposal, becomes: dict[str, str]) -> Proposal:
    return replace(proposal, becomes=becomes)


class _Finder:
    def __init__(
        self,
        reading: Reading,
        measures: Measures,
        proposed: Sequence[Proposal],
        held: frozenset[str],
        wires: frozenset[str],
    ) -> None:
        self.circuit = reading.circuit
        self.graph: Graph = reading.views.graph
        self.volts = reading.views.point.volts
        self.view = reading.views.signal if reading.views.signals else None
        self.measures = measures
        self.going = {ref for proposal in proposed for ref in proposal.becomes} - held
        self.held = held
        self.wires = {self.graph.element_of[ref] for ref in wires if ref in self.graph.element_of}
        self.still = {0, *self.graph.rails, *(rail.node for rail in reading.views.derived)}
        self.names = {net.casefold() for net in (*reading.circuit.nets, *reading.circuit.aliases)}

    def found(self) -> list[tuple[Proposal, int]]:
        """A proposal for each divider, with the node that it holds, in the order of the file."""
        made = []
        for node in range(len(self.graph.nets)):
            divider = self._divider(node) if node not in self.still else []
            devices = self._steered(node)
            if len(divider) >= 2 and devices:
                made.append((self._proposal(node, divider, devices), node))
        return made

    def _divider(self, node: int) -> list[Element]:
        """Resistors that would go, from a node to nets that stand still."""
        found = []
        for index, _ in self.graph.at_node[node]:
            element = self.graph.elements[index]
            if element.kind != "resistor" or not element.value or not set(element.members) <= self.going:
                continue
            if any(self.circuit.by_ref[ref].kind != "resistor" for ref in element.members):
                continue
            far = element.nodes[1] if element.nodes[0] == node else element.nodes[0]
            if far in self.still and math.isfinite(self.volts[far]):
                found.append(element)
        return sorted(found, key=lambda item: item.index)

    def _steered(self, node: int) -> list[int]:
        """Devices whose control terminal is on a node, or behind what is a wire."""
        return [
            index
            for index, terminal in self._around(node)
            if self.graph.elements[index].kind in DEVICES and electrodes(self.graph.elements[index])[0] == terminal
        ]

    def _around(self, node: int) -> list[tuple[int, str]]:
        """Elements and terminals on a node and on what wires join to it, the wires aside."""
        nodes = [node]
        for here in nodes:
            for index, _ in self.graph.at_node[here] if here else ():
                if index in self.wires:
                    nodes += [end for end in self.graph.elements[index].nodes if end not in nodes]
        return [pair for here in nodes if here for pair in self.graph.at_node[here] if pair[0] not in self.wires]

    def _proposal(self, node: int, divider: list[Element], devices: list[int]) -> Proposal:
        siemens = [1 / element.value for element in divider if element.value]
        ends = [next(end for end in element.nodes if end != node) for element in divider]
        volts = sum(g * self.volts[end] for g, end in zip(siemens, ends, strict=True)) / sum(siemens)
        device = self.graph.elements[devices[0]]
        foot = self._foot(node, divider, device) if len(devices) == 1 else None
        becomes, reasons, classes, tests = {}, {}, {}, {}
        if foot is not None:
            resistor, capacitors, lift = foot
            volts -= lift
            said = f"{show(abs(lift), 'V', 2)} across it at rest"
            for ref in resistor.members:
                becomes[ref] = "wire"
                reasons[ref] = (RULE, f"{said[:1].upper()}{said[1:]}, taken off the bias source instead.")
                tests[ref] = {"drop volts": abs(lift), "own ohm": resistor.value or 0.0}
            for item in capacitors:
                for ref in item.members:
                    becomes[ref] = "nothing"
                    reasons[ref] = (
                        "bypass capacitor",
                        f"{self.measures.numbers(item, 'nothing')}. The emitter is on the common line without it.",
                    )
                    classes[ref], tests[ref] = 2, self.measures.test(item)
        refs = [ref for element in divider for ref in element.members]
        source = BiasSource(
            refs[0],
            tuple(refs[1:]),
            self.graph.nets[node],
            self._rail(device.name),
            _round(volts),
            _round(1 / sum(siemens)),
        )
        return Proposal("principle", becomes, reasons, classes, tests, source=source)

    def _foot(self, node: int, divider: list[Element], device: Element) -> tuple[Element, list[Element], float] | None:
        """The bypassed resistor in a device's emitter lead, its capacitors, and the volts across it; or None."""
        mine = {element.index for element in divider} | {device.index}
        others = [self.graph.elements[index] for index, _ in self._around(node) if index not in mine]
        emitter = device.node(electrodes(device)[1])
        if any(item.kind != "capacitor" for item in others) or emitter in self.still or self.view is None:
            return None
        around = [self.graph.elements[index] for index, _ in self.graph.at_node[emitter] if index != device.index]
        resistors = [item for item in around if item.kind == "resistor" and item.value]
        capacitors = [item for item in around if item.kind == "capacitor"]
        if len(resistors) != 1 or not capacitors or len(resistors) + len(capacitors) != len(around):
            return None
        far = next((end for end in resistors[0].nodes if end != emitter), 0)
        gone = {ref for item in capacitors for ref in item.members}
        if far not in {0, *self.graph.rails} or not gone <= self.going or self.held & set(resistors[0].members):
            return None
        if any(self.circuit.by_ref[ref].kind != "resistor" for ref in resistors[0].members):
            return None
        if self.view.class_of[emitter] != self.view.zero:
            return None
        lift = self.volts[emitter] - self.volts[far]
        return (resistors[0], capacitors, lift) if math.isfinite(lift) else None

    def _rail(self, device: str) -> str:
        """A name for the source's net that no other net has."""
        name = "bias_" + "".join(letter if letter.isalnum() else "_" for letter in device)
        while name.casefold() in self.names:
            name += "_"
        self.names.add(name.casefold())
        return name


def _round(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
