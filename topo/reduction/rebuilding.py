"""Builds the reduced circuit: parts left out, replaced by a wire, or merged into one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from topo.graph.graph import Element, Graph
from topo.graph.merging import CAPACITORS
from topo.netlist.circuit import Circuit, Part, Port, Supply, Terminal
from topo.quantities import rkm
from topo.reduction.bias_sources import BiasSource

MERGED_KINDS = frozenset({"resistor", "capacitor", "inductor", "choke", "bead"})
# Of a sum or a parallel value; far more than any part's tolerance, far fewer than a sum of floats is wrong by.
DIGITS = 10
_UNITS = {"capacitor": "F", "inductor": "H", "choke": "H", "bead": "ohm"}


@dataclass(frozen=True)
class Rebuilt:
    """A circuit without some of its parts.

    `circuit` is the smaller circuit; `merged` maps a part that went into another to the one that stands;
    `moved` maps each net that lost its name to the net that it is now a piece of; `void` maps parts that lost
    their purpose with the others (both ends on one net, or an end in the air) to the words that say so.
    """

    circuit: Circuit
    merged: Mapping[str, str]
    moved: Mapping[str, str]
    void: Mapping[str, str]


class Nets:
    """Net names joined by wires; a set's name is its ground, else its rail, its port, or its first-mentioned net."""

    def __init__(self, circuit: Circuit) -> None:
        self._parent = {net: net for net in (circuit.ground, *circuit.nets)}
        rails = {supply.net for supply in circuit.supplies}
        ports = {net for port in (*circuit.inputs, *circuit.outputs) for net in (port.net, port.reference)}
        order = {net: place for place, net in enumerate(circuit.nets)}
        self._rails = rails
        self._ground = circuit.ground
        self._rank = {
            net: (net != circuit.ground, net not in rails, net not in ports, "." in net, order.get(net, -1))
            for net in self._parent
        }

    def name(self, net: str) -> str:
        """The name of the set that a net belongs to."""
        if net not in self._parent:  # a port on which no part is left
            return net
        root = net
        while self._parent[root] != root:
            root = self._parent[root]
        while self._parent[net] != root:
            self._parent[net], net = root, self._parent[net]
        return root

    def may_join(self, a: str, b: str) -> bool:
        """Whether a wire between two nets leaves every rail apart from ground and from the other rails."""
        a, b = self.name(a), self.name(b)
        held = self._rails | {self._ground}
        return a == b or not (a in held and b in held)

    def join(self, a: str, b: str) -> None:
        """Make two nets one."""
        a, b = sorted((self.name(a), self.name(b)), key=self._rank.__getitem__)
        self._parent[b] = a

    def moved(self) -> dict[str, str]:
        """Every net that stands under another's name, with that name."""
        return {net: self.name(net) for net in self._parent if self.name(net) != net}


def rebuilt(
    graph: Graph,
    wires: Iterable[str],
    gone: Iterable[str],
    keep: Iterable[str] = (),
    ports: Iterable[str] = (),
    *,
    apart: Iterable[str] = (),
    sources: Iterable[BiasSource] = (),
) -> Rebuilt:
    """The circuit with some parts replaced by a wire and some left out; like parts in series or parallel are merged.

    Args:
        graph: the normalised circuit, which knows what is in series and in parallel.
        wires: designators of parts that become a wire, all terminals of each one net; all members of a merged element
            together.
        gone: designators of parts that are left out.
        keep: designators that stay even when nothing is left for them to do.
        ports: nets where the signal enters and leaves, beside those that the circuit states.
        apart: designators that are not merged with others.
        sources: bias networks that become a source behind a resistor.
    """
    circuit = graph.circuit
    nets = Nets(circuit)
    absent = set(gone)
    for ref in wires:
        ends = circuit.part(ref).terminals
        if len(ends) >= 2 and all(nets.may_join(ends[0].net, end.net) for end in ends[1:]):
            for end in ends[1:]:
                nets.join(ends[0].net, end.net)
            absent.add(ref)
    merged: dict[str, str] = {}
    sources = tuple(sources)
    drawn = {ref for source in sources for ref in (source.stands, *source.others)}
    parts = _standing_parts(graph, nets, absent, merged, drawn.union(apart))
    parts = _with_sources(parts, nets, merged, sources)
    parts, void = _without_void(parts, circuit, nets, set(keep), ports, [item.rail for item in sources])
    for ref, into in tuple(merged.items()):
        if into in void:
            void[ref] = void[into]
            del merged[ref]
    moved = nets.moved()
    reduced = with_parts(circuit, parts, nets, moved)
    added = tuple(Supply(source.rail, source.volts) for source in sources)
    if added:
        rails = tuple(source.rail for source in sources)
        reduced = replace(reduced, supplies=(*reduced.supplies, *added), nets=(*reduced.nets, *rails))
    return Rebuilt(reduced, merged, moved, void)


def merges_exactly(graph: Graph, element: Element) -> bool:
    """Whether an element's members can stand as one part of the same kind (an adjustable part never can)."""
    kinds = {graph.circuit.part(ref).kind for ref in element.members}
    return len(element.members) > 1 and element.value is not None and kinds <= MERGED_KINDS


def _with_sources(parts: list[Part], nets: Nets, merged: dict[str, str], sources: tuple[BiasSource, ...]) -> list[Part]:
    """Parts with each bias network's resistors as the one that stands for them, on its source's own net."""
    standing = {source.stands: source for source in sources}
    for each in sources:
        merged.update(dict.fromkeys(each.others, each.stands))
    made = []
    for part in parts:
        source = standing.get(part.ref)
        if part.ref in merged:
            continue
        if source is not None:
            first, second = part.terminals
            part = replace(
                part,
                terminals=(Terminal(first.name, source.rail), Terminal(second.name, nets.name(source.net))),
                value=source.ohms,
                value_text=rkm(source.ohms, "ohm"),
                ratings={},
                source="",
            )
        made.append(part)
    return made


def _standing_parts(graph: Graph, nets: Nets, absent: set[str], merged: dict[str, str], apart: set[str]) -> list[Part]:
    """Parts that stay, in file order, on the nets as joined; fills `merged`."""
    merging = {
        element.members[0]: element
        for element in graph.elements
        if merges_exactly(graph, element) and not (absent | apart).intersection(element.members)
    }
    for stands, element in merging.items():
        merged.update({ref: stands for ref in element.members if ref != stands})
    parts = []
    for part in graph.circuit.parts:
        if part.ref in absent or part.ref in merged:
            continue
        if part.ref in merging:
            part = _merged_part(graph, merging[part.ref])
        moved = tuple(replace(terminal, net=nets.name(terminal.net)) for terminal in part.terminals)
        parts.append(part if moved == part.terminals else replace(part, terminals=moved))
    return parts


def _merged_part(graph: Graph, element: Element) -> Part:
    """The first member, with the value and the ends of the whole element."""
    first = graph.circuit.part(element.members[0])
    members = [graph.circuit.part(ref) for ref in element.members]
    model = next((part for part in members if part.settings.get("polarised")), first)
    typed = [terminal.net for part in members for terminal in part.terminals]
    ends = [next(net for net in typed if graph.node_of.get(net) == node) for node in element.nodes]
    if graph.node_of.get(model.terminals[0].net) == element.nodes[1]:
        ends.reverse()
    value = float(f"{element.value:.{DIGITS}g}") if element.value is not None else None
    return replace(
        first,
        terminals=tuple(Terminal(terminal.name, net) for terminal, net in zip(model.terminals, ends, strict=True)),
        value=value,
        value_text=rkm(value, _UNITS.get(first.kind, "ohm")) if value is not None else "?",
        settings=model.settings,
        ratings={},
        source="",
    )


def _without_void(
    parts: list[Part], circuit: Circuit, nets: Nets, keep: set[str], ports: Iterable[str], rails: Iterable[str]
) -> tuple[list[Part], dict[str, str]]:
    """Leave out two-terminal parts that have both ends on one net or one end in the air because of what went before,
    and capacitors that have come to lie across ideal rails."""
    before = _counts(circuit.parts)
    ideal = {circuit.ground, *(supply.net for supply in circuit.supplies if not supply.resistance)}
    across = {part.ref for part in circuit.parts if {terminal.net for terminal in part.terminals} <= ideal}
    still = {nets.name(net) for net in ideal}
    started_void = {part.ref for part in circuit.parts if len({t.net for t in part.terminals}) == 1}
    fixed = {nets.name(net) for port in (*circuit.inputs, *circuit.outputs) for net in (port.net, port.reference)}
    fixed |= {nets.name(net) for net in ports}
    fixed |= {nets.name(circuit.ground)} | {nets.name(supply.net) for supply in circuit.supplies}
    fixed |= set(rails)
    void: dict[str, str] = {}
    while True:
        counts = _counts(parts)
        for part in parts:
            if len(part.terminals) != 2 or part.ref in keep or part.ref in started_void:
                continue
            a, b = part.terminals[0].net, part.terminals[1].net
            if a == b:
                void[part.ref] = "both its ends are one net in the reduced circuit"
            elif any(counts[net] == 1 and net not in fixed and before.get(net, 2) > 1 for net in (a, b)):
                void[part.ref] = "one of its ends is in the air in the reduced circuit"
            elif part.kind in CAPACITORS and {a, b} <= still and part.ref not in across:
                void[part.ref] = "it lies across an ideal rail in the reduced circuit"
        left = [part for part in parts if part.ref not in void]
        if len(left) == len(parts):
            return parts, void
        parts = left


def _counts(parts: Iterable[Part]) -> dict[str, int]:
    """Terminals on each net."""
    counts: dict[str, int] = {}
    for part in parts:
        for terminal in part.terminals:
            counts[terminal.net] = counts.get(terminal.net, 0) + 1
    return counts


def with_parts(circuit: Circuit, parts: list[Part], nets: Nets, moved: Mapping[str, str]) -> Circuit:
    """The circuit's statements about the parts that are left."""
    standing = {terminal.net for part in parts for terminal in part.terminals}
    standing |= {circuit.ground} | {supply.net for supply in circuit.supplies}
    ports = (*circuit.inputs, *circuit.outputs)
    typed = {terminal.net for part in circuit.parts for terminal in part.terminals}
    on = {terminal.net for part in parts for terminal in part.terminals}

    def stands(port: Port) -> bool:
        """Whether something is left on a port."""
        return nets.name(port.net) in on or port.net not in typed

    standing |= {nets.name(net) for port in ports if stands(port) for net in (port.net, port.reference)}
    return replace(
        circuit,
        parts=tuple(parts),
        nets=tuple(net for net in circuit.nets if net in standing and net not in moved),
        supplies=tuple(replace(supply, net=nets.name(supply.net)) for supply in circuit.supplies),
        inputs=tuple(_moved_port(port, nets) for port in circuit.inputs if stands(port)),
        outputs=tuple(_moved_port(port, nets) for port in circuit.outputs if stands(port)),
        aliases={spelling: nets.name(net) for spelling, net in circuit.aliases.items() if nets.name(net) in standing},
        net_places={net: place for net, place in circuit.net_places.items() if net in standing},
        warnings=(),
    )


def _moved_port(port: Port, nets: Nets) -> Port:
    return replace(port, net=nets.name(port.net), reference=nets.name(port.reference))
