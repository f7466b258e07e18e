"""Merges that lose nothing, on a circuit that is reduced already: paralleled devices, wipers at an end, and what lies
in series or parallel since something between has gone.

Like devices joined terminal to terminal, directly or each through an equal resistor, carry equal currents at equal
voltages, so that one part with their `count` and the resistors in parallel has the same solution. A wiper at an end is
a wire to that end.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.quantities import rkm
from topo.reading.reading import Reading
from topo.reduction.rebuilding import DIGITS, Nets, Rebuilt, merges_exactly, rebuilt, with_parts
from topo.views.kinds import DEVICES

DEVICES_RULE, SHARING_RULE, WIPER_RULE = "devices in parallel", "sharing resistors", "wiper at an end"
FIXED_RULE = "drawn as a fixed resistor"
_AS_ONE = "Alike, and joined terminal to terminal: one device of {count} times the size has the same solution."
_SHARED = "One in each lead of devices that are drawn as one: in parallel."


@dataclass(frozen=True)
class How:
    """How a part was merged, or became something simpler: its rule, the reason, and its class in the catalogue."""

    rule: str
    reason: str
    number: int = 0


@dataclass(frozen=True)
class Joined(Rebuilt):
    """A rebuilt circuit after the merges: `how` tells of parts merged here, `links` of wipers that made a wire, `fixed`
    of potentiometers that stand as a resistor; `devices` maps merged devices to the one that stands for them."""

    how: Mapping[str, How] = field(default_factory=dict)
    links: Mapping[str, How] = field(default_factory=dict)
    fixed: Mapping[str, How] = field(default_factory=dict)
    devices: Mapping[str, str] = field(default_factory=dict)


def joined(made: Rebuilt, apart: Collection[str], ports: Collection[str], wipers: Collection[str]) -> Joined:
    """What is exactly the same with fewer parts.

    Args:
        made: a reduced circuit.
        apart: designators that are not merged.
        ports: nets where the signal enters and leaves, as the original calls them.
        wipers: designators of potentiometers that need not stay adjustable.
    """
    circuit, moved, merged = made.circuit, dict(made.moved), dict(made.merged)
    how: dict[str, How] = {}
    devices: dict[str, str] = {}
    ends = {moved.get(net, net) for net in ports}
    circuit, wires, fixed, links = _without_wipers(circuit, set(wipers) - set(apart), ends)
    moved = {**{net: wires.get(name, name) for net, name in moved.items()}, **wires}
    ends = {wires.get(net, net) for net in ends}
    while True:
        before = circuit.parts
        circuit, fresh, told = _devices_as_one(circuit, apart, ends)
        devices.update({ref: into for ref, into in fresh.items() if told[ref].rule == DEVICES_RULE})
        _note(merged, how, fresh, told)
        circuit, fresh, told = _like_parts(circuit, apart, ends)
        _note(merged, how, fresh, told)
        if circuit.parts == before:
            return Joined(circuit, merged, moved, made.void, how, links, fixed, _to_the_last(devices))


def _note(merged: dict[str, str], how: dict[str, How], fresh: Mapping[str, str], told: Mapping[str, How]) -> None:
    """Adds merges to those that are known; what was merged into a part that goes in turn follows it."""
    for ref, into in merged.items():
        merged[ref] = fresh.get(into, into)
    merged.update(fresh)
    how.update(told)


def _to_the_last(into: Mapping[str, str]) -> dict[str, str]:
    found = {}
    for ref, other in into.items():
        while other in into:
            other = into[other]
        found[ref] = other
    return found


def _like_parts(
    circuit: Circuit, apart: Collection[str], ports: Collection[str]
) -> tuple[Circuit, dict[str, str], dict[str, How]]:
    """Resistors, capacitors and coils in series or parallel as one."""
    from topo.graph import normalise

    graph = normalise(circuit)
    sets = [item for item in graph.elements if merges_exactly(graph, item) and not set(apart) & set(item.members)]
    sets = [item for item in sets if not {net for net, held in graph.inner.items() if held == item.index} & set(ports)]
    if not sets:
        return circuit, {}, {}
    keep = {part.ref for part in circuit.parts}
    others = keep - {ref for item in sets for ref in item.members}
    made = rebuilt(graph, (), (), keep=keep, ports=ports, apart=others)
    told = {}
    for ref in made.merged:
        merge = next(m for m in reversed(graph.merges) if ref in m.parts and m.rule in ("series", "parallel"))
        number = 18 if circuit.by_ref[ref].kind == "capacitor" and merge.rule == "parallel" else 0
        told[ref] = How(f"in {merge.rule}", f"{merge.reason[:1].upper()}{merge.reason[1:]}.", number)
    return made.circuit, dict(made.merged), told


def _devices_as_one(
    circuit: Circuit, apart: Collection[str], ports: Collection[str]
) -> tuple[Circuit, dict[str, str], dict[str, How]]:
    """Paralleled devices as one, with the resistors in their leads."""
    leads = _Leads(circuit, apart, ports)
    groups: dict[object, list[Part]] = {}
    for part in circuit.parts:
        if part.kind in DEVICES and part.ref not in apart:
            groups.setdefault(leads.signature(part), []).append(part)
    merged: dict[str, str] = {}
    how: dict[str, How] = {}
    changed: dict[str, Part] = {}
    for group in groups.values():
        first, others = group[0], group[1:]
        if not others:
            continue
        count = len(group) * first.params.get("count", 1.0)
        changed[first.ref] = replace(first, params={**first.params, "count": count}, source="")
        for part in others:
            merged[part.ref], how[part.ref] = first.ref, How(DEVICES_RULE, _AS_ONE.format(count=f"{count:g}"), 10)
        for terminal in first.terminals:
            resistor = leads.resistor(first, terminal)
            if resistor is None or resistor.value is None:
                continue
            value = float(f"{resistor.value / len(group):.{DIGITS}g}")
            changed[resistor.ref] = replace(resistor, value=value, value_text=rkm(value, "ohm"), ratings={}, source="")
            for part in others:
                lead = leads.resistor(part, next(item for item in part.terminals if item.name == terminal.name))
                assert lead is not None
                merged[lead.ref], how[lead.ref] = resistor.ref, How(SHARING_RULE, _SHARED, 10)
    if not merged:
        return circuit, {}, {}
    parts = [changed.get(part.ref, part) for part in circuit.parts if part.ref not in merged]
    return with_parts(circuit, parts, Nets(circuit), {}), merged, how


class _Leads:
    """The leads of devices: each terminal's net, or the resistor in it and the net beyond."""

    def __init__(self, circuit: Circuit, apart: Collection[str], ports: Iterable[str]) -> None:
        self._apart = apart
        self._fixed = {circuit.ground, *ports, *(supply.net for supply in circuit.supplies)}
        self._fixed |= {net for port in (*circuit.inputs, *circuit.outputs) for net in (port.net, port.reference)}
        self._on: dict[str, list[Part]] = {}
        for part in circuit.parts:
            for terminal in part.terminals:
                self._on.setdefault(terminal.net, []).append(part)

    def resistor(self, device: Part, terminal: Terminal) -> Part | None:
        """The resistor that alone shares the net of a terminal with it."""
        here = self._on[terminal.net]
        other = next((part for part in here if part.ref != device.ref), None)
        if terminal.net in self._fixed or len(here) != 2 or other is None:
            return None
        known = other.kind == "resistor" and other.value and len(other.terminals) == 2
        return other if known and other.ref not in self._apart else None

    def signature(self, device: Part) -> object:
        """What is equal in devices that are paralleled."""
        leads: list[tuple[str, str, float | None]] = []
        for terminal in device.terminals:
            resistor = self.resistor(device, terminal)
            if resistor is None:
                leads.append((terminal.name, terminal.net, None))
            else:
                far = next(item.net for item in resistor.terminals if item.net != terminal.net)
                leads.append((terminal.name, far, resistor.value))
        params = tuple(sorted(device.params.items()))
        settings = tuple(sorted((name, str(value)) for name, value in device.settings.items()))
        return device.kind, device.type_name, settings, params, tuple(leads)


def not_adjusted(reading: Reading, library: Library) -> tuple[str, ...]:
    """Potentiometers that no block needs as such: no role that they have is for potentiometers alone."""
    found = []
    for part in reading.circuit.parts:
        if part.kind != "potentiometer" or not wiper_end(part):
            continue
        roles = [
            library.get(block.pattern).roles.get(name)
            for block in reading.blocks
            for name, refs in block.roles.items()
            if part.ref in refs
        ]
        if not any(role is not None and set(role.kinds) == {"potentiometer"} for role in roles):
            found.append(part.ref)
    return tuple(found)


def wiper_end(part: Part) -> str:
    """The end that a potentiometer's wiper is stated to be at; "" where it is between, or not stated."""
    at = part.settings.get("at")
    return {0.0: "1", 1.0: "2"}.get(float(at), "") if isinstance(at, int | float) else ""


def _without_wipers(
    circuit: Circuit, wipers: Collection[str], ports: Collection[str]
) -> tuple[Circuit, dict[str, str], dict[str, How], dict[str, How]]:
    """Potentiometers whose wiper is at an end as a fixed resistor or a wire; what stands for which net, and for which
    part."""
    nets = Nets(circuit)
    on: dict[str, int] = {}
    for part in circuit.parts:
        for terminal in part.terminals:
            on[terminal.net] = on.get(terminal.net, 0) + 1
    held = {circuit.ground, *ports, *(supply.net for supply in circuit.supplies)}
    fixed: dict[str, How] = {}
    links: dict[str, How] = {}
    parts = []
    for part in circuit.parts:
        end = wiper_end(part) if part.ref in wipers and part.kind == "potentiometer" and part.value else ""
        net = {terminal.name: terminal.net for terminal in part.terminals}
        if not end or "w" not in net:
            parts.append(part)
            continue
        far = "2" if end == "1" else "1"
        whole = far in net and (on[net[far]] > 1 or net[far] in held)
        if end in net and not nets.may_join(net[end], net["w"]):
            parts.append(part)
            continue
        if end in net:
            nets.join(net[end], net["w"])
        near = net.get(end, net["w"])
        if whole and nets.name(near) != nets.name(net[far]):
            ends = (Terminal("1", net["1"] if "1" in net else net["w"]), Terminal("2", net.get("2", net["w"])))
            parts.append(replace(part, kind="resistor", terminals=ends, settings={}, source=""))
            fixed[part.ref] = How(
                FIXED_RULE, f"Its wiper is at end {end}, so that the whole track lies between its ends."
            )
        else:
            links[part.ref] = How(WIPER_RULE, f"Its wiper is at end {end}, so that it is a wire.", 21)
    if not fixed and not links:
        return circuit, {}, {}, {}
    moved = nets.moved()
    parts = [
        replace(part, terminals=tuple(replace(item, net=nets.name(item.net)) for item in part.terminals))
        for part in parts
    ]
    return with_parts(circuit, parts, nets, moved), moved, fixed, links
