"""What the rest of a circuit does not feel: behind open contacts, a second channel, a supply section behind rails.

Source: the pattern catalogue's section 14.2, classes 6, 23 and 25.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from topo.graph.graph import Element, Graph
from topo.netlist.circuit import Part
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reduction.classes import Judged
from topo.views.kinds import DEVICES, VALVES

_CONTACTS = frozenset({"switch", "selector", "relay"})
_HEATERS = frozenset({"h1", "h2"})
_RECTIFIERS = frozenset({"diode", "rectifier"})


class Severed:
    """Judges groups of parts of one reading."""

    def __init__(self, reading: Reading) -> None:
        self.reading = reading
        self.graph: Graph = reading.views.graph
        self.circuit = reading.circuit
        self.held = {0, *self.graph.rails}
        ports = (*reading.inputs, *reading.outputs)
        self.ports = {self.graph.node_of.get(net, 0) for port in ports for net in (port.net, port.reference)} - {0}

    def judged(self) -> list[Judged]:
        """All groups that meet the criterion of one of these classes."""
        return [*self._behind_contacts(), *self._channels(), *self._supplies()]

    # Class 23.

    def _behind_contacts(self) -> list[Judged]:
        """Parts that carry no current since a contact stands open."""
        elements = self.graph.elements
        opened = {item.index for item in elements if item.kind == "switch"}
        contacts = [part for part in self.circuit.parts if part.kind in _CONTACTS]
        touched = {
            self.graph.node_of[t.net] for part in contacts for t in part.terminals if t.net in self.graph.node_of
        }
        dead = set(opened)
        loose = touched - self.held - self.ports
        while True:
            fresh = self._at_loose_ends(dead, loose) | self._islands(dead, loose)
            if not fresh - dead:
                break
            dead |= fresh
            loose |= {node for index in fresh for node in elements[index].nodes} - self.held - self.ports
        if not dead - opened and not opened:
            return []
        named = [part.ref for part in contacts if self._is_open(part, opened)]
        if not named:
            return []
        stands = f"{' and '.join(named)} {'stands' if len(named) == 1 else 'stand'} open"
        refs = [ref for index in sorted(dead) for ref in elements[index].members]
        words = f"{stands}, so that no current flows here" if dead - opened else f"{stands}: no current flows in it"
        return [Judged(23, dict.fromkeys(refs, "nothing"), words, {"amperes": 0.0}, True)] if refs else []

    def _is_open(self, part: Part, opened: set[int]) -> bool:
        if part.kind == "switch":
            return self.graph.element_of.get(part.ref) in opened
        return True

    def _at_loose_ends(self, dead: set[int], loose: set[int]) -> set[int]:
        """Two-ended parts with an end on a loose node that nothing else alive is on."""
        found = set()
        for node in loose:
            alive = {index for index, _ in self.graph.at_node[node] if index not in dead}
            if len(alive) == 1 and len(self.graph.elements[next(iter(alive))].nodes) == 2:
                found |= alive
        return found

    def _islands(self, dead: set[int], loose: set[int]) -> set[int]:
        """Parts joined with a loose node that reach no more than one fixed net, and no port."""
        found: set[int] = set()
        for start in sorted(loose):
            members, fixed, ported = self._reached(start, dead)
            if members and not ported and len(fixed) <= 1 and not any(self._is_active(index) for index in members):
                found |= members
        return found

    def _reached(self, start: int, without: set[int]) -> tuple[set[int], set[int], bool]:
        """Elements that hang together with a node over nets that are not held, the held nets met, whether a port is."""
        members: set[int] = set()
        fixed: set[int] = set()
        seen, waiting = {start}, [start]
        while waiting:
            node = waiting.pop()
            for index, terminal in self.graph.at_node[node]:
                item = self.graph.elements[index]
                if index in without or (item.kind in VALVES and terminal in _HEATERS):
                    continue
                members.add(index)
                for further, name in zip(item.nodes, item.terminals, strict=True):
                    if item.kind in VALVES and name in _HEATERS:
                        continue
                    if further in self.held:
                        fixed.add(further)
                    elif further not in seen:
                        seen.add(further)
                        waiting.append(further)
        return members, fixed, bool(seen & self.ports)

    def _is_active(self, index: int) -> bool:
        return self.graph.elements[index].kind in DEVICES | {"opamp", "ic", "other", "battery", "source", "current"}

    # Class 6.

    def _supplies(self) -> list[Judged]:
        """What makes rails that the circuit has as given: transformer, rectifiers, what lies between them."""
        made: list[Judged] = []
        done: set[int] = set()
        for element in self.graph.elements:
            if element.kind not in _RECTIFIERS or element.index in done:
                continue
            start = next((node for node in element.nodes if node not in self.held), None)
            if start is None:
                continue
            members, fixed, ported = self._reached(start, set())
            done |= members
            rails = [node for node in sorted(fixed) if node]
            kinds = {self.graph.elements[index].kind for index in members}
            if ported or not rails or any(self._is_active(index) for index in members) or "transformer" not in kinds:
                continue
            if not any(self._is_a_rectifier(self.graph.elements[index]) for index in members):
                continue
            refs = [ref for index in sorted(members) for ref in self.graph.elements[index].members]
            refs += self._linked(members)
            said = ", ".join(f"{self.graph.nets[node]} at {show(self.graph.rails[node], 'V', 3)}" for node in rails)
            words = (
                f"it is joined to nothing but {said}, {'which is' if len(rails) == 1 else 'which are'} drawn as given"
            )
            test = {"volts": max(abs(self.graph.rails[node]) for node in rails)}
            made.append(Judged(6, dict.fromkeys(refs, "nothing"), words, test, True))
        return made

    def _is_a_rectifier(self, element: Element) -> bool:
        """A diode with one end on a rail and the other on a winding."""
        if element.kind not in _RECTIFIERS:
            return False
        wound = {node for winding in self.graph.windings for node in winding.nodes}
        return bool(set(element.nodes) & set(self.graph.rails)) and bool(set(element.nodes) & wound)

    def _linked(self, members: Iterable[int]) -> list[str]:
        """Fuses, closed switches and connectors among the nets of a group, which no element shows."""
        nodes = {node for index in members for node in self.graph.elements[index].nodes} - self.held
        found = []
        for part in self.circuit.parts:
            ends = {self.graph.node_of.get(terminal.net) for terminal in part.terminals}
            if part.ref not in self.graph.element_of and ends and ends <= nodes and part.kind != "relay":
                found.append(part.ref)
        return found

    # Class 25.

    def _channels(self) -> list[Judged]:
        """Parts of the circuit that hang together over rails alone and are alike part for part; all but the first."""
        groups = self._groups()
        made = []
        kept: list[list[int]] = []
        for group in groups:
            for other in kept:
                pairs = self._alike(other, group)
                if pairs is not None:
                    refs = [ref for index in sorted(group) for ref in self.graph.elements[index].members]
                    shown = ", ".join(f"{self._name(b)} as {self._name(a)}" for a, b in pairs[:3])
                    words = f"alike part for part, values included: {shown}{' and so on' if len(pairs) > 3 else ''}"
                    made.append(Judged(25, dict.fromkeys(refs, "nothing"), words, {"parts": float(len(refs))}, True))
                    break
            else:
                kept.append(group)
        return made

    def _groups(self) -> list[list[int]]:
        """Elements that hang together over nets that are not held, each group with a device; the signal's first."""
        groups: list[list[int]] = []
        seen: set[int] = set()
        entry = self.graph.node_of.get(self.reading.inputs[0].net) if self.reading.inputs else None
        for node in range(1, len(self.graph.nets)):
            if node in self.held:
                continue
            members, _, _ = self._reached(node, set())
            if not members or members & seen:
                continue
            seen |= members
            if any(self._is_active(index) for index in members):
                groups.append(sorted(members))
        first = [group for group in groups if any(entry in self.graph.elements[index].nodes for index in group)]
        return [*first, *(group for group in groups if group not in first)]

    def _name(self, index: int) -> str:
        return self.graph.elements[index].name

    def _alike(self, a: list[int], b: list[int]) -> list[tuple[int, int]] | None:
        """Corresponding elements of two groups that are alike, values included; None where they are not."""
        if len(a) != len(b) or set(a) & set(b):
            return None
        elements = [self.graph.elements[index] for index in (*a, *b)]
        if any(_unknown(item) for item in elements):
            return None
        colours = _refined(elements, self.held)
        if sorted(colours[index] for index in a) != sorted(colours[index] for index in b):
            return None
        return self._paired(a, b, colours)

    def _paired(self, a: list[int], b: list[int], colours: Mapping[int, int]) -> list[tuple[int, int]] | None:
        """A pairing under which every net of the one group becomes one net of the other: tried, not assumed."""
        nets: dict[int, int] = {}
        pairs: list[tuple[int, int]] = []
        left = sorted(b)
        for index in sorted(a):
            one = self.graph.elements[index]
            for other in left:
                if colours[other] != colours[index]:
                    continue
                ends = dict(zip(one.nodes, self.graph.elements[other].nodes, strict=True))
                if all(x == y if {x, y} & self.held else nets.get(x, y) == y for x, y in ends.items()):
                    taken = {y for x, y in nets.items() if x not in ends}
                    if not taken & set(ends.values()) - self.held:
                        nets.update(ends)
                        pairs.append((index, other))
                        left.remove(other)
                        break
            else:
                return None
        return pairs


def _unknown(item: Element) -> bool:
    return item.value is None and item.kind in ("resistor", "capacitor", "inductor", "choke", "potentiometer")


def _refined(elements: list[Element], held: set[int]) -> dict[int, int]:
    """Colours of elements by what they are and what is about them, refined until nothing more is told apart."""
    first = {
        item.index: (
            item.kind,
            item.terminals,
            f"{item.value:.9g}" if item.value is not None else "",
            item.part.type_name or "",
            tuple(sorted(item.params.items())),
            str(sorted(item.part.settings.items(), key=lambda pair: pair[0])),
            tuple((winding.name, winding.turns) for winding in item.part.windings),
        )
        for item in elements
    }
    colours = _numbered(first)
    nodes: dict[int, list[tuple[int, str]]] = {}
    for item in elements:
        for node, name in zip(item.nodes, item.terminals, strict=True):
            nodes.setdefault(node, []).append((item.index, name))
    while True:
        around = {
            node: (
                node if node in held else -1,
                tuple(sorted((colours[i], name) for i, name in row)) if node not in held else (),
            )
            for node, row in nodes.items()
        }
        fresh = _numbered(
            {item.index: (colours[item.index], tuple(around[node] for node in item.nodes)) for item in elements}
        )
        if len(set(fresh.values())) == len(set(colours.values())):
            return fresh
        colours = fresh


def _numbered(keys: Mapping[int, object]) -> dict[int, int]:
    order = {key: number for number, key in enumerate(sorted(set(keys.values()), key=repr))}
    return {index: order[key] for index, key in keys.items()}
