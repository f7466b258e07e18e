"""Normalising: links removed, like parts merged, potentiometers used as rheostats made resistors, rails found."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from topo.graph.graph import Composition, Element, Graph, Merge, WindingElement
from topo.graph.links import Links, join_links
from topo.graph.merging import CAPACITORS, COILS, Branch, merge_all, refs_of
from topo.netlist.circuit import Circuit, Part
from topo.netlist.designators import natural

SINGLE = frozenset(
    (
        *("bead", "lamp", "speaker", "headphones", "microphone", "antenna", "crystal", "switch", "relay"),
        *("battery", "source", "current", "diode", "rectifier", "zener", "led", "varactor"),
    )
)
"""Two-terminal kinds that are never merged with another part."""


@dataclass
class _Work:
    """What is known on the way: nets in order, nets that must stay, and the parts as they are sorted out."""

    circuit: Circuit
    parts: tuple[Part, ...]
    order: dict[str, int]
    links: Links
    kept: set[str]
    branches: list[Branch]
    whole: list[tuple[int, Part]]
    loose: dict[str, str]
    merges: list[Merge]

    def net(self, name: str) -> str:
        """The net that stands for this one after the links."""
        return self.links.sets.first(name)


def normalise(circuit: Circuit) -> Graph:
    """The normalised graph of a circuit.

    Links (fuse, closed switch, meter, resistor under 10 milliohm, closed contact) are removed; resistors,
    capacitors, coils and thermistors in series about a net that holds nothing else, or in parallel, become one
    element, until nothing changes. Ports, rails and ground stay. The result does not depend on the order of the
    lines: parts count by designator; only the name that joined nets go by is the first in the text. A value that is
    not known makes the merged value not known.

    Returns:
        A `Graph`; node 0 is ground, then come ports and supplies, then the nets as the parts have them.
    """
    parts = tuple(sorted(circuit.parts, key=lambda part: (natural(part.ref), part.ref)))
    order = _net_order(circuit, parts)
    links = join_links(circuit, _mentions(circuit))
    work = _Work(circuit, parts, order, links, set(), [], [], {}, list(links.merges))
    work.kept = _nets_that_stay(work)
    _sort_parts(work)
    others: dict[str, int] = {}
    for _, part in work.whole:
        for terminal in part.terminals:
            net = work.net(terminal.net)
            others[net] = others.get(net, 0) + 1
    work.merges += merge_all(work.branches, others, work.kept)
    return _build(work)


def _net_order(circuit: Circuit, parts: tuple[Part, ...]) -> dict[str, int]:
    """Position of every net: ground, those of the ports and supplies, then as the parts have them."""
    order = {circuit.ground: 0}
    names = [*_outer_nets(circuit), *(terminal.net for part in parts for terminal in part.terminals), *circuit.nets]
    for name in names:
        order.setdefault(name, len(order))
    return order


def _mentions(circuit: Circuit) -> dict[str, int]:
    """Position of every net in the text; ground first. It decides which name stands for joined nets."""
    order = {circuit.ground: 0}
    names = [*circuit.nets, *(terminal.net for part in circuit.parts for terminal in part.terminals)]
    for name in (*names, *_outer_nets(circuit)):
        order.setdefault(name, len(order))
    return order


def _outer_nets(circuit: Circuit) -> list[str]:
    """The nets of the ports and supplies."""
    ports = [net for port in circuit.inputs + circuit.outputs for net in (port.net, port.reference)]
    return ports + [supply.net for supply in circuit.supplies]


def _nets_that_stay(work: _Work) -> set[str]:
    return {work.net(name) for name in (work.circuit.ground, *_outer_nets(work.circuit))}


def _sort_parts(work: _Work) -> None:
    """Sorts the parts that are no links into two-terminal branches and all others."""
    gone = set(work.links.parts)
    counts: dict[str, int] = {}
    for part in work.parts:
        if part.ref not in gone:
            for terminal in part.terminals:
                counts[work.net(terminal.net)] = counts.get(work.net(terminal.net), 0) + 1
    for position, part in enumerate(work.parts):
        if part.ref in gone:
            continue
        if part.kind == "potentiometer" and len(part.terminals) in (2, 3):
            used, value = _rheostat(work, part, counts)
            if used:
                work.branches.append(_branch(work, position, part, used, value, ("resistor",)))
                continue
        like, two = _likeness(part), [terminal.name for terminal in part.terminals[:2]]
        if len(two) == 2 and (like is not None or part.kind in SINGLE) and not part.windings:
            work.branches.append(_branch(work, position, part, (two[0], two[1]), part.value, like))
        else:
            work.whole.append((position, part))


def _likeness(part: Part) -> tuple[object, ...] | None:
    """What a part may be merged with: parts of the same likeness; None where with nothing."""
    if part.windings or len(part.terminals) != 2:
        return None
    if part.kind == "resistor":
        return ("resistor",)
    if part.kind in CAPACITORS:
        return ("capacitor",)
    if part.kind in COILS:
        return (part.kind,)
    if part.kind == "thermistor":
        sense = sorted((key, str(value)) for key, value in part.settings.items())
        return ("thermistor", tuple(sense), tuple(sorted(part.params.items())))
    return None


def _branch(
    work: _Work, position: int, part: Part, names: tuple[str, str], value: float | None, like: tuple[object, ...] | None
) -> Branch:
    polarised = part.kind == "electrolytic" or bool(part.settings.get("polarised"))
    return Branch(
        kind="resistor" if part.kind == "potentiometer" else part.kind,
        like=like,
        ends=[work.net(part.net(name)) for name in names],
        made_of=Composition("part", value, part.ref),
        members=[(position, part.ref)],
        polarised=[position] if polarised or like is None else [],
    )


def wiper_position(part: Part) -> float | None:
    """The wiper's place from the first end, 0 to 1; None where it is not given."""
    at = part.settings.get("at", part.params.get("at"))
    return min(1.0, max(0.0, float(at))) if isinstance(at, int | float) else None


def _rheostat(work: _Work, part: Part, counts: dict[str, int]) -> tuple[tuple[str, str] | None, float | None]:
    """The two terminals and the ohms of a potentiometer that is used as a rheostat; (None, None) if it is not."""
    at = wiper_position(part)
    if at is None:
        work.links.assumed[part.ref] = "wiper taken at half way"
        at = 0.5
    whole = part.value
    first = None if whole is None else at * whole
    second = None if whole is None else (1.0 - at) * whole
    if len(part.terminals) == 2:
        names = part.terminals[0].name, part.terminals[1].name
        return names, whole if "w" not in names else second if "2" in names else first
    start, wiper, finish = (terminal.name for terminal in part.terminals)
    nets = [work.net(terminal.net) for terminal in part.terminals]
    hangs = [counts[net] == 1 and net not in work.kept for net in nets]
    if nets[1] == nets[2]:
        return (start, wiper), first
    if nets[1] == nets[0]:
        return (wiper, finish), second
    if sum(hangs) != 1:
        return None, None
    loose = hangs.index(True)
    work.loose[nets[loose]] = part.ref
    if loose == 1:
        return (start, finish), whole
    return ((wiper, finish), second) if loose == 0 else ((start, wiper), first)


def _build(work: _Work) -> Graph:
    """Numbers the nodes and makes the elements."""
    gone = {net for branch in work.branches for net in _inner_nets(branch.made_of)} | set(work.loose)
    nets = [net for net in work.order if work.net(net) == net and net not in gone]
    number = {net: index for index, net in enumerate(nets)}
    node_of = {net: number[work.net(net)] for net in work.order if work.net(net) in number}
    found: list[tuple[int, Branch | Part]] = [(branch.members[0][0], branch) for branch in work.branches]
    found += list(work.whole)
    elements: list[Element] = []
    windings: list[WindingElement] = []
    by_ref = {part.ref: part for part in work.circuit.parts}
    for _, item in sorted(found, key=lambda pair: pair[0]):
        if isinstance(item, Branch):
            elements.append(_branch_element(len(elements), item, by_ref, number, work))
        else:
            elements.append(_whole_element(len(elements), item, node_of))
            windings += _windings(elements[-1], len(windings), node_of)
    draft = Graph(
        circuit=work.circuit,
        nets=tuple(nets),
        node_of=node_of,
        elements=tuple(elements),
        windings=tuple(windings),
        inner=_inner_map(work, elements),
        links=tuple(work.links.parts),
        merges=tuple(work.merges),
        assumed=dict(work.links.assumed),
    )
    return replace(draft, rails=find_rails(draft))


def _inner_nets(made_of: Composition) -> list[str]:
    nets = [net for names in made_of.inner for net in names]
    return nets + [net for item in made_of.sets for net in _inner_nets(item)]


def _inner_map(work: _Work, elements: list[Element]) -> dict[str, int]:
    """Every original net that is now inside an element, with that element's index."""
    holder = {net: element.index for element in elements for net in _inner_nets(element.made_of)}
    owner = {ref: element.index for element in elements for ref in element.members}
    holder.update({net: owner[ref] for net, ref in work.loose.items() if ref in owner})
    return {net: holder[work.net(net)] for net in work.order if work.net(net) in holder}


def _branch_element(
    index: int, branch: Branch, by_ref: dict[str, Part], number: dict[str, int], work: _Work
) -> Element:
    part = by_ref[branch.members[0][1]]
    if part.kind == "potentiometer":
        names = _used_terminals(work, part) if len(branch.members) == 1 else ("1", "2")
    elif len(branch.members) > 1:
        names = ("+", "-") if branch.polarised else ("1", "2")
    else:
        names = (part.terminals[0].name, part.terminals[1].name)
    params = dict(part.params)
    if branch.kind in COILS and len(branch.members) > 1:
        params["rdc"] = winding_ohms(branch.made_of, by_ref)
    return Element(
        index=index,
        name=branch.name,
        kind=branch.kind,
        terminals=names,
        nodes=(number[branch.ends[0]], number[branch.ends[1]]),
        value=branch.made_of.value,
        members=tuple(ref for _, ref in branch.members),
        part=part,
        params=params,
        made_of=branch.made_of,
    )


def _used_terminals(work: _Work, part: Part) -> tuple[str, str]:
    """The two terminal names that a rheostat uses."""
    if len(part.terminals) == 2:
        return part.terminals[0].name, part.terminals[1].name
    start, wiper, finish = (terminal.name for terminal in part.terminals)
    nets = [work.net(terminal.net) for terminal in part.terminals]
    if nets[1] == nets[2]:
        return start, wiper
    if nets[1] == nets[0]:
        return wiper, finish
    loose = next(index for index, net in enumerate(nets) if work.loose.get(net) == part.ref)
    return ((wiper, finish), (start, finish), (start, wiper))[loose]


def winding_ohms(made_of: Composition, by_ref: dict[str, Part]) -> float:
    """The direct-current resistance of merged coils, each 10 milliohm where it does not say."""
    if made_of.rule == "part":
        return float(by_ref[made_of.ref].params.get("rdc", 0.01))
    ohms = [winding_ohms(item, by_ref) for item in made_of.sets]
    if made_of.rule == "series":
        return sum(ohms)
    return 0.0 if min(ohms) == 0 else 1.0 / sum(1.0 / value for value in ohms)


def _whole_element(index: int, part: Part, node_of: dict[str, int]) -> Element:
    terminals = part.terminals[:2] if part.kind == "relay" else part.terminals
    params = dict(part.params)
    if part.kind == "potentiometer":
        at = wiper_position(part)
        params["at"] = 0.5 if at is None else at
    return Element(
        index=index,
        name=part.ref,
        kind=part.kind,
        terminals=tuple(terminal.name for terminal in terminals),
        nodes=tuple(node_of[terminal.net] for terminal in terminals),
        value=part.value,
        members=(part.ref,),
        part=part,
        params=params,
        made_of=Composition("part", part.value, part.ref),
    )


def _windings(element: Element, first: int, node_of: dict[str, int]) -> list[WindingElement]:
    part = element.part
    return [
        WindingElement(
            index=first + offset,
            element=element.index,
            name=winding.name,
            nodes=tuple(node_of[part.net(name)] for name in winding.terminals),
            turns=winding.turns,
        )
        for offset, winding in enumerate(part.windings)
    ]


def find_rails(graph: Graph) -> dict[int, float]:
    """The hard rails: given supplies, then batteries and regulator outputs that stand against ground or a rail.

    Returns:
        Volts by node; NaN where the voltage is not given. Ground is not in it. A source between a port and
        its reference is a drive and makes no rail, nor does one of 0 V or of alternating voltage.
    """
    circuit = graph.circuit
    rails = {0: 0.0}
    for supply in circuit.supplies:
        rails.setdefault(graph.node_of[supply.net], supply.volts)
    ports = {graph.node_of[port.net] for port in circuit.inputs + circuit.outputs if port.net in graph.node_of}
    fixed = [element for element in graph.elements if element.kind in ("battery", "source", "regulator")]
    changed = True
    while changed:
        changed = False
        for element in fixed:
            low, high = _fixed_ends(element)
            volts = math.nan if element.value is None else element.value
            alternates = element.part.ratings.get("Hz", 0.0) > 0
            if element.kind == "source" and (volts == 0 or alternates or {low, high} & ports):
                continue
            if low in rails and high not in rails:
                rails[high] = rails[low] + volts
                changed = True
            elif high in rails and low not in rails and element.kind != "regulator":
                rails[low] = rails[high] - volts
                changed = True
    del rails[0]
    return rails


def _fixed_ends(element: Element) -> tuple[int, int]:
    """Nodes of the lower and the higher end of a part that fixes a voltage."""
    if element.kind == "regulator":
        return element.node("common"), element.node("out")
    return element.nodes[1], element.nodes[0]


__all__ = ["find_rails", "normalise", "refs_of", "wiper_position"]
