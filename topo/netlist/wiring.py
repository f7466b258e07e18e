"""A circuit as a web of nets: what is on each net, and what conducts direct current between nets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from topo.netlist.circuit import Circuit, Part, Terminal
from topo.netlist.kinds import ELECTRODES, GROUPS

# Resistance below which a resistor is a link between two nets.
LINK_OHMS = 0.01
_ALWAYS_CONDUCT = (
    frozenset(("resistor", "thermistor", "potentiometer", "fuse", "lamp", "meter", "battery", "source"))
    | GROUPS["coil"]
    | GROUPS["junction"]
    | GROUPS["transducer"]
)
# What a part may pass on from outside the drawing: anything can be connected there.
OPEN_ENDED = GROUPS["connector"] | GROUPS["opaque"]


def conducting_sets(part: Part) -> Iterator[tuple[str, ...]]:
    """The sets of nets that a part joins for direct current; devices join none here."""
    if part.kind in _ALWAYS_CONDUCT:
        yield tuple(terminal.net for terminal in part.terminals)
    elif part.kind == "transformer":
        for winding in part.windings:
            yield tuple(part.net(name) for name in winding.terminals)
    elif part.kind in GROUPS["valve"]:
        yield tuple(terminal.net for terminal in part.terminals if terminal.name in ("h1", "h2"))
    elif part.kind == "switch" and part.settings.get("state") != "open":
        yield tuple(terminal.net for terminal in part.terminals)
    elif part.kind == "selector":
        way = part.settings.get("way")
        ways = [terminal.net for terminal in part.terminals[1:]]
        yield (part.terminals[0].net, *(ways if way is None else ways[int(str(way)) - 1 : int(str(way))]))
    elif part.kind == "relay":
        yield tuple(terminal.net for terminal in part.terminals[:2])
        for start in range(2, len(part.terminals) - 2, 3):
            common, rest, worked = (terminal.net for terminal in part.terminals[start : start + 3])
            yield (common, worked if part.settings.get("state") == "worked" else rest)


def main_path(part: Part) -> tuple[str, ...]:
    """The nets of a device's collecting and emitting electrodes; empty for what is no device."""
    electrodes = ELECTRODES.get(part.kind)
    if electrodes is None:
        return ()
    return (part.net(electrodes[2]), part.net(electrodes[1]))


def is_link(part: Part) -> bool:
    """Whether a part is as good as a wire for direct current, and not only a small resistance."""
    if part.kind in ("inductor", "choke", "bead", "transformer", "fuse"):
        return True
    if part.kind == "switch":
        return part.settings.get("state") == "closed"
    return part.kind == "resistor" and part.value is not None and part.value < LINK_OHMS


class Wiring:
    """Looks up what is on a net, and walks from net to net."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.on_net: dict[str, list[tuple[Part, Terminal]]] = {net: [] for net in circuit.nets}
        for part in circuit.parts:
            for terminal in part.terminals:
                self.on_net.setdefault(terminal.net, []).append((part, terminal))
        self.supply_nets = {supply.net: supply.volts for supply in circuit.supplies}
        self.rails = frozenset((*self.supply_nets, circuit.ground))

    def neighbours(self, net: str, conducts: Callable[[Part], Iterable[tuple[str, ...]]]) -> Iterator[str]:
        """The nets that the parts on a net join with it, in the order of the parts."""
        for part, _ in self.on_net.get(net, ()):
            for joined in conducts(part):
                if net in joined:
                    yield from joined

    def walk(
        self, start: str, conducts: Callable[[Part], Iterable[tuple[str, ...]]], through_rails: bool = False
    ) -> Iterator[str]:
        """Every net that can be reached, the start included; a rail that is met is given but not passed."""
        seen = {start}
        ahead = [start]
        for net in ahead:
            yield net
            if net in self.rails and net != start and not through_rails:
                continue
            for other in self.neighbours(net, conducts):
                if other not in seen:
                    seen.add(other)
                    ahead.append(other)
