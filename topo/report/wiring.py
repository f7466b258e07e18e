"""Lists to hold against the paper: the parts by designator or value, what is on a net, what joins two nets."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import groupby

from topo.errors import UsageError
from topo.netlist.circuit import Circuit, Part
from topo.netlist.designators import natural
from topo.netlist.kinds import kind_of, kind_word, terminal_word
from topo.netlist.spelling import did_you_mean
from topo.netlist.wiring import Wiring
from topo.quantities import show
from topo.report.layout import Page

ORDERS = ("designator", "value")
# A chain of more parts than this says nothing of what lies between two nets.
LONGEST_CHAIN = 6
MOST_CHAINS = 20


@dataclass(frozen=True)
class OnNet:
    """What is on a net: its name, other names, volts of a supply, (designator, terminal in words, what the part is)."""

    net: str
    also: tuple[str, ...]
    volts: float | None
    terminals: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Between:
    """What joins two nets: parts that lie on both, else the shortest chains of parts, each with the nets on the way."""

    first: str
    second: str
    direct: tuple[tuple[str, str], ...]
    chains: tuple[tuple[str, ...], ...] = ()


def net_named(circuit: Circuit, name: str) -> str:
    """The net that a name or a `REF.terminal` means; UsageError with what is like it if there is none."""
    folded = name.casefold()
    shown = circuit.aliases.get(folded)
    if shown is None:
        shown = next((net for net in circuit.nets if net.casefold() == folded), None)
    if shown is not None:
        return shown
    ref, _, terminal = name.rpartition(".")
    for part in circuit.parts:
        if ref and part.ref.casefold() == ref.casefold():
            for item in part.terminals:
                if item.name.casefold() == terminal.casefold():
                    return item.net
            raise UsageError(f"{part.ref} has no terminal {terminal}.", tuple(item.name for item in part.terminals))
    near = did_you_mean(name, circuit.nets)
    raise UsageError(f"There is no net {name}. {near}".strip())


def on_net(circuit: Circuit, name: str) -> OnNet:
    """What is on a net; raises UsageError if there is no such net."""
    net = net_named(circuit, name)
    found = Wiring(circuit).on_net.get(net, [])
    rows = tuple((part.ref, terminal_word(part.kind, terminal.name), what_it_is(part)) for part, terminal in found)
    also = tuple(other for other, shown in circuit.aliases.items() if shown == net and other != net.casefold())
    volts = next((supply.volts for supply in circuit.supplies if supply.net == net), None)
    return OnNet(net, also, volts, rows)


def between(circuit: Circuit, one: str, other: str) -> Between:
    """What joins two nets; a chain passes no rail, no ground, and no net twice. Raises UsageError for unknown nets."""
    first, second = net_named(circuit, one), net_named(circuit, other)
    wiring = Wiring(circuit)
    direct = tuple(
        (part.ref, what_it_is(part) + _by_the_core(part, first, second))
        for part in circuit.parts
        if first != second and {first, second} <= {terminal.net for terminal in part.terminals}
    )
    chains = () if direct or first == second else tuple(_chains(wiring, first, second))
    return Between(first, second, direct, chains)


def _by_the_core(part: Part, first: str, second: str) -> str:
    """A remark where two nets are on windings that only the core couples."""
    windings = [{part.net(name) for name in winding.terminals} for winding in part.windings]
    return ", from one winding to another" if windings and not any({first, second} <= nets for nets in windings) else ""


def _chains(wiring: Wiring, first: str, second: str) -> list[tuple[str, ...]]:
    """The shortest chains between two nets: part, net, part, net ... part."""
    far = _distances(wiring, second)
    found: list[tuple[str, ...]] = []
    if first not in far or far[first] > LONGEST_CHAIN:
        return found
    ahead: deque[tuple[str, tuple[str, ...]]] = deque([(first, ())])
    while ahead and len(found) < MOST_CHAINS:
        net, chain = ahead.popleft()
        for part, _ in wiring.on_net[net]:
            for other in dict.fromkeys(terminal.net for terminal in part.terminals):
                if other == second:
                    if far[net] == 1:
                        found.append((*chain, part.ref))
                elif other not in wiring.rails and far.get(other, LONGEST_CHAIN + 1) == far[net] - 1:
                    ahead.append((other, (*chain, part.ref, other)))
    return list(dict.fromkeys(found))[:MOST_CHAINS]


def _distances(wiring: Wiring, goal: str) -> dict[str, int]:
    """How many parts lie between each net and a goal; rails are not passed."""
    far, ahead = {goal: 0}, deque([goal])
    while ahead:
        net = ahead.popleft()
        if net in wiring.rails and net != goal:
            continue
        for part, _ in wiring.on_net.get(net, ()):
            for terminal in part.terminals:
                if terminal.net not in far:
                    far[terminal.net] = far[net] + 1
                    ahead.append(terminal.net)
    return far


def what_it_is(part: Part) -> str:
    """A part in words: its kind, and its value or type."""
    unit = kind_of(part.kind).unit
    value = show(part.value, unit) if part.value is not None and unit else part.value_text
    return " ".join(word for word in (kind_word(part.kind), value, part.type_name or "") if word)


def parts_text(circuit: Circuit, order: str, page: Page) -> str:
    """The parts with a box to tick each: by designator, or by kind and value."""
    if order == "value":
        return "\n".join(_by_value(circuit, page)) + "\n"
    rows = []
    for part in sorted(circuit.parts, key=lambda item: natural(item.ref)):
        nets = " ".join(
            f"{terminal.name}={terminal.net}" if kind_of(part.kind).names_required else terminal.net
            for terminal in part.terminals
        )
        rows.append(("[ ]", part.ref, what_it_is(part), f"line {part.place.line}" if part.place.line else "", nets))
    return "\n".join(page.table(rows)) + "\n"


def _by_value(circuit: Circuit, page: Page) -> list[str]:
    """One row for each value: how many, which."""

    def key(part: Part) -> tuple[str, float, str]:
        return kind_word(part.kind), -1.0 if part.value is None else part.value, part.type_name or part.value_text

    rows = []
    for _, group in groupby(sorted(circuit.parts, key=lambda part: (key(part), natural(part.ref))), key):
        parts = list(group)
        boxes = " ".join(f"[ ] {part.ref}" for part in parts)
        rows.append((what_it_is(parts[0]), str(len(parts)), boxes))
    return page.table(rows)


def net_text(found: OnNet, page: Page) -> str:
    """What is on a net, in words."""
    held = "" if found.volts is None else f", a supply of {show(found.volts, 'V')}"
    also = f", also called {', '.join(found.also)}" if found.also else ""
    count = len(found.terminals)
    head = f"{found.net}{held}{also}: {count} connection{'' if count == 1 else 's'}."
    return "\n".join([*page.paragraph(head), *page.table(list(found.terminals), "  ")]) + "\n"


def between_text(found: Between, page: Page) -> str:
    """What joins two nets, in words."""
    names = f"{found.first} and {found.second}"
    if found.first == found.second:
        return f"{found.first}: both names are this one net.\n"
    if found.direct:
        return "\n".join([f"Between {names}:", *page.table(list(found.direct), "  ")]) + "\n"
    if not found.chains:
        besides = f"but by way of ground or a supply, or of more than {LONGEST_CHAIN} parts"
        return "\n".join(page.paragraph(f"Nothing joins {names}, {besides}.")) + "\n"
    lines = [f"No part lies between {names}; the shortest ways are:"]
    lines += [line for chain in found.chains for line in page.paragraph(" - ".join(chain), "  ", "    ")]
    return "\n".join(lines) + "\n"
