"""Small edits of a circuit: the slips that typing and drawing make, each undone once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from topo.errors import Place
from topo.matching.kinds import ELECTRODES
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.netlist.kinds import terminal_word
from topo.reading.flow import is_device
from topo.views.view import Views

_ORDINALS = ("first", "second", "third", "fourth", "last")
_OTHER_POLARITY = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}
# How alike two net names have to be to be taken for one (1 is equal), by `difflib`.
_ALIKE = 0.7
_LOOK_ALIKE = str.maketrans("lio", "110")


@dataclass(frozen=True)
class Edit:
    """An edited circuit, the words for what is wrong and for the mend, and where in the file it stands.

    `touches` are the designators whose wiring changes; `place` is that of the text to mend; `joins` says that two
    nets were made one.
    """

    circuit: Circuit
    words: str
    suggestion: str
    touches: frozenset[str]
    ref: str
    place: Place
    source: str = ""
    joins: bool = False


def edits(views: Views, suspects: Collection[str], vacant: Collection[str]) -> Iterator[Edit]:
    """Edits that may mend the circuit, the likeliest first.

    Args:
        suspects: designators of devices that do not act or have no kept stage.
        vacant: devices of no telling stage: tapped windings are edited where they meet two alike of these.
    """
    circuit = views.graph.circuit
    yield from joined_nets(circuit)
    for ref in (part.ref for part in circuit.parts if part.ref in suspects):
        yield from exchanged_terminals(circuit, circuit.part(ref))
        yield from other_polarity(circuit, circuit.part(ref))
    yield from exchanged_taps(circuit, vacant)


def connections(circuit: Circuit) -> dict[str, list[tuple[Part, Terminal]]]:
    """Parts and terminals on each net."""
    table: dict[str, list[tuple[Part, Terminal]]] = {net: [] for net in circuit.nets}
    for part in circuit.parts:
        for terminal in part.terminals:
            table.setdefault(terminal.net, []).append((part, terminal))
    return table


def terminal_words(part: Part, terminal: Terminal) -> str:
    """A terminal as one says it: "Q3's collector", "terminal w1.2 of T2"."""
    if part.kind in ELECTRODES:
        return f"{part.ref}'s {terminal_word(part.kind, terminal.name)}"
    if len(part.terminals) == 2:
        return f"one end of {part.ref}"
    for number, winding in enumerate(part.windings):
        if terminal.name in winding.terminals:
            place = winding.terminals.index(terminal.name)
            word = "start" if not place else "finish" if place == len(winding.terminals) - 1 else "tap"
            return f"the {word} of {part.ref}'s {_ORDINALS[min(number, 4)]} winding"
    return f"terminal {terminal.name} of {part.ref}"


def joined_nets(circuit: Circuit, ends: Iterable[str] = ()) -> Iterator[Edit]:
    """Nets of one connection joined with one another, or with a net whose name is much like theirs.

    `ends` are nets at which something breaks off: each net of one connection is joined with those as well.
    """
    table = connections(circuit)
    fixed = _fixed(circuit)
    dangling = [net for net in circuit.nets if len(table[net]) == 1 and net not in fixed]
    done: set[frozenset[str]] = set()
    for net in dangling:
        others = [other for other in dangling if other != net]
        others += [other for other in (*alike(net, circuit.nets), *ends) if other not in (net, *others)]
        for other in others:
            pair = frozenset((net, other))
            if pair not in done:
                done.add(pair)
                yield joined_pair(circuit, net, other)


def _fixed(circuit: Circuit) -> set[str]:
    """Ground, the rails, and the nets of the ports."""
    ports = {net for port in (*circuit.inputs, *circuit.outputs) for net in (port.net, port.reference)}
    return {circuit.ground, *(supply.net for supply in circuit.supplies)} | ports


def joined_pair(circuit: Circuit, net: str, other: str) -> Edit:
    """A net of one connection joined with another net."""
    is_alike = other in alike(net, circuit.nets)
    return _joined(circuit, *_wrong_and_right(circuit, connections(circuit), net, other), is_alike)


def _wrong_and_right(
    circuit: Circuit, table: dict[str, list[tuple[Part, Terminal]]], net: str, other: str
) -> tuple[str, str]:
    """Of two nets, the one likelier mistyped first: that with one connection; of two such, a device's terminal, but
    never a port, ground or a rail."""
    if len(table[other]) != 1 or other in _fixed(circuit):
        return net, other
    first, second = table[net][0][0], table[other][0][0]
    return (net, other) if first.kind in ELECTRODES or second.kind not in ELECTRODES else (other, net)


def alike(net: str, nets: Iterable[str]) -> list[str]:
    """Nets whose name has the same letters in another order, or nearly the same."""
    import difflib

    letters = sorted(_plain(net))
    turned = [other for other in nets if other != net and sorted(_plain(other)) == letters]
    near = difflib.get_close_matches(net, [other for other in nets if other != net], n=3, cutoff=_ALIKE)
    longer = [other for other in nets if _has_one_letter_more(net, other) or _has_one_letter_more(other, net)]
    return list(dict.fromkeys([*turned, *near, *longer]))


def _has_one_letter_more(net: str, other: str) -> bool:
    """Whether a net's name is another's with one letter more; a figure more is another net's."""
    return len(net) == len(other) + 1 and any(
        net[at].isalpha() and net[:at] + net[at + 1 :] == other for at in range(len(net))
    )


def _plain(net: str) -> str:
    """A net's name with the signs that are read for one another made one: l and i for 1, o for 0."""
    return net.casefold().translate(_LOOK_ALIKE)


def _joined(circuit: Circuit, wrong: str, right: str, is_alike: bool) -> Edit:
    """The edit that puts what is on one net on another; where their names are not alike, a part may be missing."""
    part, terminal = connections(circuit)[wrong][0]
    on_other = connections(circuit)[right]
    others = sorted(
        (item for item in on_other if item[0].ref != part.ref), key=lambda item: item[0].kind not in ELECTRODES
    )
    there = [terminal_words(*item) for item in others[:1]]
    words = f"{terminal_words(part, terminal)} is on net {wrong}, which nothing else is on"
    words += f"; {there[0]} is on {right}" if there else ""
    changed = _rewired(part, {terminal.name: right})
    return Edit(
        _with(circuit, changed),
        words,
        f"did you mean {right}?"
        if is_alike
        else f"are {wrong} and {right} one net, or is a part missing between them?",
        frozenset([part.ref, *(item[0].ref for item in on_other)]),
        part.ref,
        terminal.place if terminal.place.line else part.place,
        part.source,
        joins=True,
    )


def exchanged_terminals(circuit: Circuit, part: Part) -> Iterator[Edit]:
    """A device with two of its electrodes exchanged."""
    names = [name for name in ELECTRODES.get(part.kind, ()) if any(t.name == name for t in part.terminals)]
    for first, second in (pair for pair in _pairs(names) if part.net(pair[0]) != part.net(pair[1])):
        changed = _rewired(part, {first: part.net(second), second: part.net(first)})
        a, b = terminal_word(part.kind, first), terminal_word(part.kind, second)
        place = next((t.place for t in part.terminals if t.name == first and t.place.line), part.place)
        yield Edit(
            _with(circuit, changed),
            f"{part.ref}'s {a} is on {part.net(first)} and its {b} on {part.net(second)}; the other way about it fits",
            f"are {a} and {b} exchanged?",
            frozenset([part.ref]),
            part.ref,
            place,
            part.source,
        )


def _pairs(names: list[str]) -> Iterator[tuple[str, str]]:
    """Every two of a list."""
    for place, first in enumerate(names):
        for second in names[place + 1 :]:
            yield first, second


def other_polarity(circuit: Circuit, part: Part) -> Iterator[Edit]:
    """A device of the other polarity."""
    kind = _OTHER_POLARITY.get(part.kind)
    if kind is None or part.kind not in part.source.casefold():
        return
    params = {name: -value if name in ("VTH", "VP") else value for name, value in part.params.items()}
    column = part.source.casefold().index(part.kind) + 1
    yield Edit(
        _with(circuit, replace(part, kind=kind, params=params)),
        f"{part.ref} is typed as {part.kind}; as {kind} it fits",
        f"did you mean {kind}?",
        frozenset([part.ref]),
        part.ref,
        replace(part.place, column=column, length=len(part.kind)),
        part.source,
    )


def exchanged_taps(circuit: Circuit, vacant: Collection[str]) -> Iterator[Edit]:
    """A tapped winding whose tap is exchanged with an end, where it meets two devices of one kind without a pair."""
    table = connections(circuit)
    for part in circuit.parts:
        for winding in part.windings:
            if len(winding.terminals) != 3:
                continue
            near = {item.ref: item for name in winding.terminals for item, _ in table[part.net(name)]}
            kinds = [item.kind for item in near.values() if item.ref in vacant]
            if len(kinds) == len(set(kinds)):
                continue
            start, tap, finish = winding.terminals
            for end in (start, finish):
                if part.net(end) == part.net(tap):
                    continue
                changed = _rewired(part, {end: part.net(tap), tap: part.net(end)})
                place = next((t.place for t in part.terminals if t.name == tap and t.place.line), part.place)
                yield Edit(
                    _with(circuit, changed),
                    f"the tap of {part.ref} is on {part.net(tap)} and an end on {part.net(end)}; exchanged, it fits",
                    f"are tap and end exchanged: {part.net(end)} and {part.net(tap)}?",
                    frozenset([part.ref]),
                    part.ref,
                    place,
                    part.source,
                )


def turned_round(circuit: Circuit, refs: Collection[str]) -> Iterator[Edit]:
    """Two-terminal parts with a sense, such as diodes, each turned round."""
    for part in circuit.parts:
        if part.ref not in refs or len(part.terminals) != 2:
            continue
        first, second = part.terminals
        yield Edit(
            _with(circuit, _rewired(part, {first.name: second.net, second.name: first.net})),
            f"{part.ref} does not conduct as typed, from {first.net} to {second.net}; turned round it fits",
            f"is {part.ref} the wrong way round?",
            frozenset([part.ref]),
            part.ref,
            first.place if first.place.line else part.place,
            part.source,
        )


def turned_windings(circuit: Circuit, resistors: Sequence[Part]) -> Iterator[Edit]:
    """Windings at an end of which one of some resistors stands, each turned round; not the only one of its core."""
    fixed = _fixed(circuit) - {port.net for port in circuit.outputs}
    for part in circuit.parts:
        for winding in part.windings if len(part.windings) > 1 else ():
            start, finish = winding.terminals[0], winding.terminals[-1]
            ends = {part.net(start), part.net(finish)} - fixed
            near = [item.ref for item in resistors if ends & {terminal.net for terminal in item.terminals}]
            if not near or part.net(start) == part.net(finish):
                continue
            changed = _rewired(part, {start: part.net(finish), finish: part.net(start)})
            place = next((t.place for t in part.terminals if t.name == start and t.place.line), part.place)
            number = _ORDINALS[min(part.windings.index(winding), 4)]
            yield Edit(
                _with(circuit, changed),
                f"what {near[0]} brings back from the {number} winding of {part.ref} adds to the signal; with that "
                "winding turned round it would be taken from it",
                f"are the ends of the {number} winding of {part.ref} exchanged?",
                frozenset([part.ref, *near]),
                part.ref,
                place,
                part.source,
            )


def _rewired(part: Part, nets: dict[str, str]) -> Part:
    """A part with some terminals on other nets."""
    return replace(part, terminals=tuple(replace(t, net=nets.get(t.name, t.net)) for t in part.terminals))


def _with(circuit: Circuit, changed: Part) -> Circuit:
    """A circuit with one part in place of the one of the same designator."""
    parts = tuple(changed if part.ref == changed.ref else part for part in circuit.parts)
    used = {terminal.net for part in parts for terminal in part.terminals}
    used |= {circuit.ground, *(supply.net for supply in circuit.supplies)}
    used |= {net for port in (*circuit.inputs, *circuit.outputs) for net in (port.net, port.reference)}
    aliases = {key: net for key, net in circuit.aliases.items() if net in used}
    return replace(circuit, parts=parts, nets=tuple(net for net in circuit.nets if net in used), aliases=aliases)


def device_designators(views: Views) -> list[str]:
    """Designators of all active devices, in file order."""
    return [ref for element in views.graph.elements if is_device(element) for ref in element.members]
