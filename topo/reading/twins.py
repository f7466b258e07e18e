"""Parts that stand in the same place on two sides of a circuit, of which one has ten times the value of the other, or
lies the other way round.

Two parts are twins where nothing but their names tells them apart: the same kind, on nets with the same parts at the
same terminals, and so on over the whole circuit, all values left aside. The halves of a multivibrator, of a push-pull
stage, of a symmetrical filter and the channels of a stereo amplifier are found so, whatever patterns there are.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator

from topo.errors import Problem
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.netlist.kinds import GROUPS, kind_of
from topo.quantities import show

# Kinds whose values are compared.
_COMPARED = frozenset(("resistor", "capacitor", "inductor", "choke"))
# Terminals that are alike on a part without a sense.
_SENSELESS = _COMPARED | GROUPS["load"] | {"bead", "fuse", "crystal", "lamp"}
_DECADES = (10.0, 100.0, 1000.0)
# So many twins and more are a row, such as a ladder or a selector's resistors, which may be graded on purpose.
_MOST = 8


def unlike_twins(circuit: Circuit) -> Iterator[Problem]:
    """A question about each part that differs from its twin by exactly ten, a hundred or a thousand times."""
    for family in _families(circuit):
        if len(family) > _MOST:
            continue
        values = Counter(part.value for part in family)
        usual, often = values.most_common(1)[0]
        if len(values) != 2 or len(family) - often > 1:
            continue
        odd = next(part for part in family if part.value != usual or (often == 1 and part is not family[0]))
        others = [part for part in family if part is not odd]
        if any(_are_side_by_side(odd, part) for part in others) or not _is_decade(odd.value, others[0].value):
            continue
        for part, twin in [(odd, others[0])] if often > 1 else [(odd, others[0]), (others[0], odd)]:
            yield _asked(part, twin)


def turned_twins(circuit: Circuit) -> Iterator[Problem]:
    """A question about each electrolytic capacitor that lies the other way round than its twin does."""
    colours, of_net = _colours(circuit, with_senses=False)
    families: dict[int, list[Part]] = {}
    for part, colour in zip(circuit.parts, colours, strict=True):
        if _has_sense(part) and len({terminal.net for terminal in part.terminals}) == 2:
            families.setdefault(colour, []).append(part)
    for pair in families.values():
        ends = [tuple(of_net[terminal.net] for terminal in part.terminals) for part in pair]
        if len(pair) == 2 and ends[0] == ends[1][::-1] and ends[0] != ends[1] and not _are_side_by_side(*pair):
            for part, twin in (pair, pair[::-1]):
                message = (
                    f"{part.ref} lies the other way round than {twin.ref}, which stands in the same place on the other "
                    "side of the circuit."
                )
                mend = "Are its ends exchanged?"
                yield Problem(part.place, message, "", mend, part.source.split("\n")[0], "warning", "turned-twin")


def _has_sense(part: Part) -> bool:
    """Whether a part is an electrolytic capacitor; the two diodes of a detector may lie either way on purpose."""
    return bool(part.settings.get("polarised"))


def _asked(part: Part, twin: Part) -> Problem:
    unit = kind_of(part.kind).unit
    message = (
        f"{part.ref} ({show(part.value, unit)}) and {twin.ref} ({show(twin.value, unit)}) stand in the same place on "
        f"two sides of the circuit, and one is {_times(part, twin)} times the other."
    )
    mend = f"Has a value slipped? {show(twin.value, unit)} would make {part.ref} the same as {twin.ref}."
    return Problem(part.place, message, "", mend, part.source.split("\n")[0], "warning", "unlike-twins")


def _times(part: Part, twin: Part) -> str:
    values = sorted((part.value or 0.0, twin.value or 0.0))
    return f"{values[1] / values[0]:.0f}"


def _is_decade(one: float | None, other: float | None) -> bool:
    if not one or not other:
        return False
    return any(math.isclose(max(one, other), times * min(one, other), rel_tol=1e-6) for times in _DECADES)


def _are_side_by_side(one: Part, other: Part) -> bool:
    """Whether two parts are in parallel: a large and a small capacitor often are."""
    return {terminal.net for terminal in one.terminals} == {terminal.net for terminal in other.terminals}


def _families(circuit: Circuit) -> Iterator[list[Part]]:
    """The parts of one kind and colour, all of known value, two or more each."""
    colours, _ = _colours(circuit)
    found: dict[Hashable, list[Part]] = {}
    for part, colour in zip(circuit.parts, colours, strict=True):
        if part.kind in _COMPARED and part.value and len({terminal.net for terminal in part.terminals}) > 1:
            found.setdefault(colour, []).append(part)
    return (family for family in found.values() if len(family) > 1)


def _colours(circuit: Circuit, with_senses: bool = True) -> tuple[list[int], dict[str, int]]:
    """A number for each part and for each net, the same for what only names tell apart (colour refinement).

    Without senses electrolytic capacitors may lie either way.
    """
    parts, nets = circuit.parts, {net: place for place, net in enumerate(circuit.nets)}
    ends = [[(label, nets[terminal.net]) for label, terminal in _labelled(part, with_senses)] for part in parts]
    of_net: list[Hashable] = [_said_of(circuit, net) for net in circuit.nets]
    of_part: list[Hashable] = [(part.kind, part.type_name or "", len(part.terminals)) for part in parts]
    on_net: list[list[tuple[str, int]]] = [[] for _ in circuit.nets]
    for place, labelled in enumerate(ends):
        for label, net in labelled:
            on_net[net].append((label, place))
    net_colours, part_colours = _numbered(of_net), _numbered(of_part)
    while True:
        count = len(set(net_colours)) + len(set(part_colours))
        net_colours = _numbered(
            (net_colours[net], tuple(sorted((label, part_colours[place]) for label, place in on)))
            for net, on in enumerate(on_net)
        )
        part_colours = _numbered(
            (part_colours[place], tuple(sorted((label, net_colours[net]) for label, net in labelled)))
            for place, labelled in enumerate(ends)
        )
        if len(set(net_colours)) + len(set(part_colours)) == count:
            return part_colours, dict(zip(circuit.nets, net_colours, strict=True))


def _numbered(keys: Iterable[Hashable]) -> list[int]:
    """The keys as numbers, equal where they are equal."""
    numbers: dict[Hashable, int] = {}
    return [numbers.setdefault(key, len(numbers)) for key in keys]


def _said_of(circuit: Circuit, net: str) -> Hashable:
    """What the file says of a net, beyond the parts on it."""
    if net == circuit.ground:
        return ("ground",)
    supply = next((item.volts for item in circuit.supplies if item.net == net), None)
    ported = [sum(port.net == net for port in ports) for ports in (circuit.inputs, circuit.outputs)]
    return ("net", *ported) if supply is None else ("supply", supply)


def _labelled(part: Part, with_senses: bool = True) -> Iterator[tuple[str, Terminal]]:
    """The terminals of a part, each with what tells it from the others; the two ends of a winding are alike."""
    names = {
        name: f"{winding.name} {min(place, len(winding.terminals) - 1 - place)}"
        for winding in part.windings
        for place, name in enumerate(winding.terminals)
    }
    alike = part.kind in _SENSELESS and not part.windings and not part.settings.get("polarised")
    alike = alike or (not with_senses and _has_sense(part))
    for terminal in part.terminals:
        yield "" if alike else names.get(terminal.name, terminal.name), terminal
