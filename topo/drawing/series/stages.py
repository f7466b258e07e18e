"""The circuit of one step: what is shown, where a wire or an ideal source stands for what is not yet there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field, replace

from topo.netlist.circuit import Circuit, Part, Port, Supply, Terminal
from topo.netlist.kinds import ELECTRODES, GROUPS

_SHARE = 0.2
"""Of a net's current at rest: what brings more is missed while it is not there."""
_NOTHING = 1e-9
"""Amperes."""
_HELD = frozenset({"capacitor", "crystal", "antenna", "varactor"})


class Joined:
    """Names that are one, by a wire."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def name(self, item: str) -> str:
        """The name that all those joined with this one share."""
        while item in self._parent:
            item = self._parent[item]
        return item

    def join(self, keep: str, other: str) -> None:
        """Make two names one; the first one's stays."""
        keep, other = self.name(keep), self.name(other)
        if keep != other:
            self._parent[other] = keep


@dataclass(frozen=True)
class Stage:
    """A step's circuit.

    `wired` are parts that a wire stands for; `open_nets` the nets (by their new names) that go on to what is not yet
    there, with the volts that they are held at; `sources` says, by designator of the part in whose place an ideal
    source stands, its volts from the first terminal to the second; `names` are the new names of nets.
    """

    circuit: Circuit
    shown: frozenset[str]
    wired: frozenset[str]
    open_nets: Mapping[str, float]
    sources: Mapping[str, float]
    names: Joined = field(default_factory=Joined)


def stage_of(
    circuit: Circuit,
    shown: Set[str],
    may_wire: Set[str],
    bias: Set[str],
    volts: Mapping[str, float],
    rails: Iterable[str] = (),
    flows: Mapping[tuple[str, str], float] | None = None,
) -> Stage:
    """The circuit of the parts shown.

    Args:
        circuit: the whole.
        shown: designators that are there.
        may_wire: designators that a wire stands for while they are not.
        bias: designators of bias circuits; where one joins two nets, an ideal source takes its place.
        volts: of each net at rest.
        rails: nets that are drawn as rails though no supply is declared on them; each becomes a supply of the step.
        flows: amperes at rest from a net into a part, by designator and net.
    """
    shown = set(shown)
    given_supplies = {supply.net for supply in circuit.supplies}
    fixed = {circuit.ground, *given_supplies, *rails}
    while True:
        # By wires that may come: what is at the far end of one counts as in use, or as fixed, too.
        alike = _joined(circuit, {part.ref for part in circuit.parts if part.ref in may_wire - shown}, fixed)
        sources, more = _sources(circuit, shown, bias, fixed, volts, alike)
        wired = _wired(circuit, shown | set(sources), may_wire, fixed) | more
        names = _joined(circuit, wired, fixed)
        parts = _parts(circuit, shown, sources, names)
        loose = _loose(parts, fixed, circuit, shown, wired)
        if not loose:
            break
        shown -= loose
    absent = [part for part in circuit.parts if part.ref not in shown | wired | set(sources)]
    absent = [part for part in absent if not _within_source(part, circuit, sources, bias, shown)]
    ports = {port.net for port in (*circuit.inputs, *circuit.outputs)}
    nets = [net for net in _floating(parts, absent, names, fixed, flows or {}) if net not in ports]
    held = {net: volts.get(net, math.nan) for net in nets}
    inside = {terminal.net for part in parts for terminal in part.terminals}
    given = [replace(port, net=names.name(port.net)) for port in circuit.inputs]
    inputs = [port for port in given if port.net in inside and port.net not in held]
    outputs = [replace(port, net=names.name(port.net)) for port in circuit.outputs]
    supplies = {names.name(item.net): replace(item, net=names.name(item.net)) for item in circuit.supplies}
    for net in rails:
        if net not in given_supplies and net != circuit.ground and math.isfinite(volts.get(net, math.nan)):
            supplies.setdefault(names.name(net), Supply(names.name(net), volts[net]))
    step = replace(
        circuit,
        parts=tuple(parts),
        nets=tuple(net for net in circuit.nets if net in inside),
        inputs=(*inputs, *(Port(net, circuit.ground) for net in held)),
        outputs=tuple(port for port in outputs if port.net in inside),
        supplies=tuple(item for item in supplies.values() if item.net in inside),
    )
    return Stage(step, frozenset(shown), frozenset(wired), held, sources, names)


def _nets(part: Part) -> list[str]:
    return [terminal.net for terminal in part.terminals]


def _wired(circuit: Circuit, there: Set[str], may_wire: Set[str], fixed: Set[str]) -> set[str]:
    """Of the parts that may be wires those between two nets that are both in use and not both fixed."""
    found: set[str] = set()
    candidates = [part for part in circuit.parts if part.ref in may_wire and part.ref not in there]
    used = {net for part in circuit.parts if part.ref in there for net in _nets(part)} | fixed
    used |= {port.net for port in (*circuit.inputs, *circuit.outputs)}
    grown = True
    while grown:
        grown = False
        for part in candidates:
            nets = set(_nets(part))
            if part.ref in found or len(nets) < 2 or nets <= fixed:
                continue
            chained = {net for other in candidates if other is not part for net in _nets(other)}
            if nets <= used | (chained if nets & used else set()):
                found.add(part.ref)
                grown = True
    return _without_loose_ends(circuit, found, used)


def _without_loose_ends(circuit: Circuit, found: set[str], used: Set[str]) -> set[str]:
    while True:
        counts: dict[str, int] = {}
        for part in circuit.parts:
            if part.ref in found:
                for net in set(_nets(part)):
                    counts[net] = counts.get(net, 0) + 1
        loose = {
            part.ref
            for part in circuit.parts
            if part.ref in found and any(net not in used and counts[net] < 2 for net in _nets(part))
        }
        if not loose:
            return found
        found -= loose


def _joined(circuit: Circuit, wired: Set[str], fixed: Set[str]) -> Joined:
    names = Joined()
    for part in circuit.parts:
        if part.ref in wired:
            one, two = (names.name(net) for net in _nets(part)[:2])
            names.join(*((two, one) if two in fixed and one not in fixed else (one, two)))
    return names


def _parts(circuit: Circuit, shown: Set[str], sources: Mapping[str, float], names: Joined) -> list[Part]:
    found = []
    for part in circuit.parts:
        if part.ref in sources:
            first, second = (names.name(net) for net in _nets(part)[:2])
            if sources[part.ref] < 0:
                first, second = second, first
            poles = (Terminal("+", first), Terminal("-", second))
            found.append(Part(part.ref, "battery", poles, abs(sources[part.ref]), section=part.section))
        elif part.ref in shown:
            ends = tuple(replace(terminal, net=names.name(terminal.net)) for terminal in part.terminals)
            found.append(replace(part, terminals=ends))
    return found


def _sources(
    circuit: Circuit,
    shown: Set[str],
    bias: Set[str],
    fixed: Set[str],
    volts: Mapping[str, float],
    alike: Joined,
) -> tuple[dict[str, float], set[str]]:
    """Where a bias circuit that is not yet there joins just two nets: the part for which an ideal source stands, and
    those in its chain for which wires do."""
    absent = [part for part in circuit.parts if part.ref in bias and part.ref not in shown]
    held = {alike.name(net) for net in fixed}
    used = {alike.name(net) for part in circuit.parts if part.ref in shown for net in _nets(part)}
    borders = {net for net in circuit.nets if alike.name(net) in used | held}
    sources: dict[str, float] = {}
    wired: set[str] = set()
    for group in _clumps(absent, borders):
        edges = {net for part in group for net in _nets(part)} & borders
        if len(edges) != 2 or {alike.name(net) for net in edges} & held:
            continue
        one, two = sorted(edges, key=circuit.nets.index)
        chain = _chain(group, one, two)
        value = volts.get(one, math.nan) - volts.get(two, math.nan)
        if chain and math.isfinite(value):
            part, *rest = chain
            sources[part.ref] = value if part.terminals[0].net == one else -value
            wired.update(other.ref for other in rest)
    return sources, wired


def _within_source(part: Part, circuit: Circuit, sources: Mapping[str, float], bias: Set[str], shown: Set[str]) -> bool:
    """Whether a part belongs to the bias circuit for which an ideal source stands already."""
    if part.ref not in bias or part.ref in shown:
        return False
    ends = {net for other in circuit.parts if other.ref in sources for net in _nets(other)}
    used = {net for other in circuit.parts if other.ref in shown for net in _nets(other)}
    return set(_nets(part)) & used <= ends


def _clumps(parts: list[Part], borders: Set[str]) -> Iterator[list[Part]]:
    """Parts that hang together by nets other than the borders."""
    left = list(parts)
    while left:
        group = [left.pop(0)]
        for part in group:
            inner = set(_nets(part)) - borders
            near = [other for other in left if inner & set(_nets(other))]
            group += near
            left = [other for other in left if other not in near]
        # A part across the same two nets belongs to it as well.
        ends = {net for part in group for net in _nets(part)} & borders
        beside = [other for other in left if set(_nets(other)) <= ends and len(set(_nets(other))) == 2]
        left = [other for other in left if other not in beside]
        yield [*group, *beside]


def _chain(group: list[Part], start: str, end: str) -> list[Part]:
    """The shortest chain of two-terminal parts from a net to another."""
    paths: list[tuple[str, list[Part]]] = [(start, [])]
    seen = {start}
    for net, path in paths:
        for part in group:
            nets = _nets(part)
            if len(nets) != 2 or net not in nets or part in path:
                continue
            other = nets[1] if nets[0] == net else nets[0]
            if other == end:
                return [*path, part]
            if other not in seen:
                seen.add(other)
                paths.append((other, [*path, part]))
    return []


def _loose(parts: list[Part], fixed: Set[str], circuit: Circuit, shown: Set[str], wired: Set[str]) -> set[str]:
    """Two-terminal parts with an end that nothing else is on, and that nothing will come to as a port."""
    counts: dict[str, int] = {}
    for part in parts:
        for net in set(_nets(part)):
            counts[net] = counts.get(net, 0) + 1
    ports = {port.net for port in (*circuit.inputs, *circuit.outputs)}
    found = set()
    for part in parts:
        ends = set(_nets(part))
        if len(part.terminals) == 2 and part.kind not in GROUPS["load"] and part.kind != "battery":
            alone = [net for net in ends if counts[net] == 1 and net not in fixed and net not in ports]
            if alone:
                found.add(part.ref)
    return found & set(shown)


def _floating(
    parts: list[Part],
    absent: list[Part],
    names: Joined,
    fixed: Set[str],
    flows: Mapping[tuple[str, str], float],
) -> list[str]:
    """The nets to hold: those through which the current at rest comes from what is not there, and one in each group of
    nets without a path for direct current; of nets that are one at rest, one only."""
    inside = [net for net in dict.fromkeys(_all_nets(parts)) if net not in {names.name(item) for item in fixed}]
    leads: dict[str, float] = dict.fromkeys(inside, 0.0)
    through: dict[str, float] = dict.fromkeys(inside, 0.0)
    for part in absent:
        for old in dict.fromkeys(_nets(part)):
            if names.name(old) in leads:
                conducts = _controls(part, old) or any(old in group for group in links(part))
                leads[names.name(old)] += _NOTHING + (abs(flows.get((part.ref, old), 0.0)) if conducts else 0.0)
    controls = {part.net(ELECTRODES[part.kind][0]) for part in parts if part.kind in ELECTRODES}
    for part in absent:
        for old in _nets(part):
            net = names.name(old)
            # A load that is not there is not missed; what feeds a control electrode, or carries a device's current, is.
            missed = net in controls or part.kind in ELECTRODES
            if net in through and missed and (_controls(part, old) or any(old in group for group in links(part))):
                through[net] += abs(flows.get((part.ref, old), 0.0))
    own: dict[str, float] = {}
    for part in parts:
        for terminal in part.terminals:
            own[terminal.net] = own.get(terminal.net, 0.0) + abs(flows.get((part.ref, terminal.net), 0.0))
    fed = [net for net in inside if through[net] > _SHARE * max(own.get(net, 0.0), _NOTHING)]
    return _one_each(parts, fed, inside, leads, {names.name(net) for net in fixed})


def _all_nets(parts: list[Part]) -> Iterator[str]:
    for part in parts:
        yield from _nets(part)


def _controls(part: Part, net: str) -> bool:
    return part.kind in ELECTRODES and part.net(ELECTRODES[part.kind][0]) == net


def _one_each(
    parts: list[Part], fed: list[str], inside: list[str], leads: Mapping[str, float], fixed: Set[str]
) -> list[str]:
    short, union = Joined(), Joined()
    for part in parts:
        for group in links(part):
            for net in group[1:]:
                union.join(group[0], net)
                if part.kind == "battery" or part.windings:
                    short.join(group[0], net)
    chosen: dict[str, str] = {}
    for net in fed:
        root = short.name(net)
        if root not in chosen or leads[net] > leads[chosen[root]]:
            chosen[root] = net
    still = {short.name(net) for net in fixed}
    found = [net for net in fed if net in chosen.values() and short.name(net) not in still]
    grounded = {union.name(net) for net in (*fixed, *found)}
    best: dict[str, str] = {}
    for net in inside:
        root = union.name(net)
        if root not in grounded and leads[net] and (root not in best or leads[net] > leads[best[root]]):
            best[root] = net
    return [net for net in inside if net in found or net in best.values()]


def links(part: Part) -> Iterable[list[str]]:
    """The groups of nets that a part joins for direct current."""
    nets = _nets(part)
    if part.kind in _HELD or part.settings.get("state") == "open":
        return []
    if part.kind in ("transformer", "coil") or part.windings:
        return [[part.net(name) for name in winding.terminals] for winding in part.windings]
    if part.kind in ELECTRODES:
        _, emt, col = ELECTRODES[part.kind]
        return [[part.net(emt), part.net(col)]]
    return [nets]
