"""Links: parts that are wires as they stand: fuse, closed switch or contact, meter, resistor under 10 milliohm, source
of 0 V."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from topo.graph.graph import Merge
from topo.netlist.circuit import Circuit, Part

LINK_OHM = 0.01
"""A resistor below this is a link; 10 milliohm is what a hand-width of connecting wire has (common practice)."""

RADIO_HZ = 100e3
"""A band that ends above this is radio frequency, where a bead acts (common practice)."""


class NetSets:
    """Sets of joined nets; each is known by its first net in the order of the circuit."""

    def __init__(self, order: dict[str, int]):
        self._order = order
        self._parent: dict[str, str] = {}

    def first(self, net: str) -> str:
        """The first net of the set that this net is in."""
        root = net
        while (above := self._parent.get(root, root)) != root:
            root = above
        while net != root:
            self._parent[net], net = root, self._parent.get(net, root)
        return root

    def join(self, a: str, b: str) -> None:
        """Makes one set of two; the net named first in the circuit stands for it, ground before all."""
        a, b = self.first(a), self.first(b)
        if a != b:
            keep, drop = sorted((a, b), key=lambda net: self._order.get(net, len(self._order)))
            self._parent[drop] = keep


@dataclass
class Links:
    """The nets joined by links, the parts that are links, the record of each, and what was assumed."""

    sets: NetSets
    parts: list[str] = field(default_factory=list)
    merges: list[Merge] = field(default_factory=list)
    assumed: dict[str, str] = field(default_factory=dict)


def join_links(circuit: Circuit, order: dict[str, int]) -> Links:
    """Joins the nets on both sides of every link of the circuit.

    Args:
        circuit: as typed.
        order: position of each net; the smallest stands for a set of joined nets.
    """
    found = Links(NetSets(order))
    shunts = Shunts(circuit)
    for part in circuit.parts:
        joins = list(joined_nets(circuit, part, found.assumed, shunts))
        for a, b, reason in joins:
            found.sets.join(a, b)
            found.merges.append(Merge("link", (part.ref,), "", reason))
        if joins and part.kind != "relay":
            found.parts.append(part.ref)
        elif part.kind == "selector":
            found.parts.append(part.ref)
            found.merges.append(Merge("link", (part.ref,), "", "the way that is set has no connection"))
    return found


class Shunts:
    """The resistors of a circuit by the two nets that they lie between, looked up for its meters."""

    def __init__(self, circuit: Circuit) -> None:
        self._circuit = circuit

    def across(self, nets: list[str]) -> str:
        """The designator of the first resistor between the same two nets as a meter; "" if there is none, or a link."""
        other = self._between.get(frozenset(nets))
        return other.ref if other is not None and (other.value is None or other.value >= LINK_OHM) else ""

    @cached_property
    def _between(self) -> dict[frozenset[str], Part]:
        found: dict[frozenset[str], Part] = {}
        for part in self._circuit.parts:
            if part.kind == "resistor":
                nets = frozenset(terminal.net for terminal in part.terminals)
                if len(nets) > 1:
                    found.setdefault(nets, part)
        return found


def joined_nets(
    circuit: Circuit, part: Part, assumed: dict[str, str], shunts: Shunts
) -> Iterator[tuple[str, str, str]]:
    """The pairs of nets that a part joins as it stands, each with the reason; adds to `assumed` what had to be."""
    nets = [terminal.net for terminal in part.terminals]
    if part.kind == "meter" and (shunt := shunts.across(nets)):
        assumed[part.ref] = f"reads the voltage across {shunt} and is taken to draw no current"
    elif part.kind in ("fuse", "meter") and len(nets) >= 2:
        yield nets[0], nets[1], f"a {part.kind} is a wire"
    elif part.kind == "resistor" and len(nets) == 2 and part.value is not None and part.value < LINK_OHM:
        yield nets[0], nets[1], "a resistor under 10 milliohm is a wire"
    elif part.kind == "bead" and len(nets) == 2 and part.value is None and is_audio(circuit, part):
        yield nets[0], nets[1], "a bead is a wire at audio frequency"
    elif part.kind == "source" and is_bare_wire(circuit, part):
        yield nets[0], nets[1], "a source of 0 V is a wire"
    elif part.kind == "switch":
        yield from _switch_joins(part, nets, assumed)
    elif part.kind == "selector":
        yield from _selector_joins(part, nets, assumed)
    elif part.kind == "relay":
        yield from _relay_joins(part, nets, assumed)


def is_bare_wire(circuit: Circuit, part: Part) -> bool:
    """Whether a source is one of 0 V that stands in a lead, as one does to measure its current, and at no port."""
    nets = {terminal.net for terminal in part.terminals}
    steady = part.value == 0 and not part.params.get("R") and not part.ratings.get("Hz")
    return steady and not any(nets == {port.net, port.reference} for port in circuit.inputs + circuit.outputs)


def _switch_joins(part: Part, nets: list[str], assumed: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    state = part.settings.get("state")
    if state not in ("open", "closed"):
        assumed[part.ref] = "taken as closed"
        state = "closed"
    if state == "closed" and len(nets) >= 2:
        yield nets[0], nets[1], "a closed switch is a wire"


def _selector_joins(part: Part, nets: list[str], assumed: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    way = part.settings.get("way")
    if not isinstance(way, int | float):
        assumed[part.ref] = "taken to stand at its first way"
        way = 1
    if 1 <= int(way) < len(nets):
        yield nets[0], nets[int(way)], f"the selector stands at way {int(way)}"


def _relay_joins(part: Part, nets: list[str], assumed: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    state = part.settings.get("state")
    if state not in ("rest", "worked"):
        assumed[part.ref] = "taken to be at rest"
        state = "rest"
    for first in range(2, len(nets) - 2, 3):
        common, rest, worked = nets[first : first + 3]
        closed = worked if state == "worked" else rest
        yield common, closed, f"this contact is closed with the relay {'at rest' if state == 'rest' else 'worked'}"


def is_audio(circuit: Circuit, part: Part) -> bool:
    """Whether the band that holds for a part is stated, and ends below radio frequency."""
    band = circuit.bands.get(part.section) or circuit.bands.get(None)
    return band is not None and band[1] < RADIO_HZ
