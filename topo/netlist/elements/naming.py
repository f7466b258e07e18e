"""Names of a whole list put right: nets that would be read as terminals, types that stand for two things."""

from __future__ import annotations

from dataclasses import replace

from topo.netlist.circuit import Circuit, Part, Port


def one_type_a_name(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """The parts with each type spelled as it is first, and without one where its name stands for another kind."""
    first: dict[str, Part] = {}
    for part in sorted(parts, key=lambda part: part.kind == "other"):  # a known device has more right to a name
        if part.type_name is not None:
            first.setdefault(part.type_name.casefold(), part)
    return tuple(_with_type(part, first) for part in parts)


def _with_type(part: Part, first: dict[str, Part]) -> Part:
    if part.type_name is None:
        return part
    namesake = first[part.type_name.casefold()]
    wanted = namesake.type_name if namesake.kind == part.kind else None
    return part if wanted == part.type_name else replace(part, type_name=wanted)


def free_of_references(circuit: Circuit) -> tuple[Circuit, list[tuple[str, str]]]:
    """The circuit without nets that the netlist language would read as a part's terminal, and the names changed.

    A net `Q1.c` beside a part Q1 would be the net of its collector there; where it is just that, it keeps its name.
    """
    parts = {part.ref.casefold(): part for part in circuit.parts}
    taken = {net.casefold() for net in circuit.nets}
    new: dict[str, str] = {}
    for net in circuit.nets:
        pieces = net.casefold().split(".")
        ends = [end for end in range(1, len(pieces)) if ".".join(pieces[:end]) in parts]
        if all(_is_on(parts[".".join(pieces[:end])], ".".join(pieces[end:]), net) for end in ends):
            continue
        name = base = net.replace(".", "_")
        number = 1
        while name.casefold() in taken:
            number += 1
            name = f"{base}_{number}"
        taken.add(name.casefold())
        new[net] = name
    return (_renamed(circuit, new) if new else circuit), list(new.items())


def _is_on(part: Part, terminal: str, net: str) -> bool:
    """Whether a part has a terminal of that name, and on that net."""
    return any(item.name.casefold() == terminal and item.net == net for item in part.terminals)


def _renamed(circuit: Circuit, new: dict[str, str]) -> Circuit:
    def shown(net: str) -> str:
        return new.get(net, net)

    def ports(found: tuple[Port, ...]) -> tuple[Port, ...]:
        return tuple(replace(port, net=shown(port.net), reference=shown(port.reference)) for port in found)

    parts = tuple(
        replace(part, terminals=tuple(replace(item, net=shown(item.net)) for item in part.terminals))
        for part in circuit.parts
    )
    return replace(
        circuit,
        parts=parts,
        nets=tuple(shown(net) for net in circuit.nets),
        supplies=tuple(replace(supply, net=shown(supply.net)) for supply in circuit.supplies),
        inputs=ports(circuit.inputs),
        outputs=ports(circuit.outputs),
        aliases={
            (shown(net).casefold() if name == net.casefold() else name): shown(net)
            for name, net in circuit.aliases.items()
        },
        net_places={shown(net): place for net, place in circuit.net_places.items()},
    )
