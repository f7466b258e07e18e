"""Variations of a circuit that must not change its reading, each with the map back to the original's names."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from topo.netlist.circuit import Circuit, Part, Port, Supply, Terminal, Winding

DEVICES = ("npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode")
CONTROL = {"npn": "b", "pnp": "b", "njfet": "g", "pjfet": "g", "nmos": "g", "pmos": "g", "triode": "g"}
OTHER_POLARITY = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}
ONE_POLARITY_ONLY = ("triode", "tetrode", "pentode", "opamp", "regulator", "ic", "other")
POLARISED = ("diode", "rectifier", "led", "zener", "varactor", "battery", "source", "current", "electrolytic")


@dataclass(frozen=True)
class Variant:
    """A changed circuit; `original` maps new designators to old ones, `added` are parts that were not there."""

    circuit: Circuit
    original: dict[str, str] = field(default_factory=dict)
    added: frozenset[str] = frozenset()


def rebuilt(circuit: Circuit, parts: Iterable[Part], **changes) -> Circuit:
    """A circuit of other parts, with its nets listed again in order of first mention."""
    parts = tuple(parts)
    supplies: tuple[Supply, ...] = changes.get("supplies", circuit.supplies)
    ports: tuple[Port, ...] = (*changes.get("inputs", circuit.inputs), *changes.get("outputs", circuit.outputs))
    named = [supply.net for supply in supplies] + [port.net for port in ports]
    named += [terminal.net for part in parts for terminal in part.terminals]
    nets = tuple(dict.fromkeys([*named, circuit.ground]))
    aliases = {net.casefold(): net for net in nets}
    return replace(circuit, parts=parts, nets=nets, aliases=aliases, **changes)


def renamed(circuit: Circuit, seed: int) -> Variant:
    """Every net but ground and every designator under another name."""
    rng = random.Random(seed)
    numbers = rng.sample(range(100, 1000), len(circuit.parts))
    letters = [part.ref.rstrip("0123456789") or "X" for part in circuit.parts]
    refs = {part.ref: f"{a}{n}" for part, a, n in zip(circuit.parts, letters, numbers, strict=True)}
    marks = rng.sample(range(100, 2000), len(circuit.nets))
    nets = {net: f"n{mark}" for net, mark in zip(circuit.nets, marks, strict=True)}
    nets[circuit.ground] = circuit.ground

    def port(item: Port) -> Port:
        return replace(item, net=nets[item.net], reference=nets.get(item.reference, item.reference))

    parts = [
        replace(part, ref=refs[part.ref], terminals=tuple(replace(t, net=nets[t.net]) for t in part.terminals))
        for part in circuit.parts
    ]
    changed = rebuilt(
        circuit,
        parts,
        supplies=tuple(replace(item, net=nets[item.net]) for item in circuit.supplies),
        inputs=tuple(port(item) for item in circuit.inputs),
        outputs=tuple(port(item) for item in circuit.outputs),
    )
    return Variant(changed, {new: old for old, new in refs.items()})


def reordered(circuit: Circuit, seed: int) -> Variant:
    """The same parts in another order of lines."""
    parts = list(circuit.parts)
    random.Random(seed).shuffle(parts)
    return Variant(rebuilt(circuit, parts))


def can_turn_over(circuit: Circuit) -> bool:
    """Whether every part exists in the other polarity."""
    return all(part.kind not in ONE_POLARITY_ONLY for part in circuit.parts)


def turned_over(circuit: Circuit) -> Variant:
    """Every polarity the other way: devices, supplies, diodes, electrolytics, batteries."""
    supplies = tuple(replace(supply, volts=-supply.volts) for supply in circuit.supplies)
    return Variant(rebuilt(circuit, [_turned_over(part) for part in circuit.parts], supplies=supplies))


def _turned_over(part: Part) -> Part:
    """A part of the other polarity."""
    if part.kind in OTHER_POLARITY:
        params = {name: -value if name in ("VTH", "VP") else value for name, value in part.params.items()}
        return replace(part, kind=OTHER_POLARITY[part.kind], params=params)
    if part.kind in POLARISED or part.settings.get("polarised"):
        first, second = part.terminals
        return replace(part, terminals=(replace(first, net=second.net), replace(second, net=first.net)))
    return part


def split_in_series(circuit: Circuit, ref: str) -> Variant:
    """A resistor as two of half the value, one after the other."""
    part = circuit.part(ref)
    half = None if part.value is None else part.value / 2
    first, second = part.terminals
    joint, other = "joint between halves", f"{ref}b"
    one = replace(part, value=half, terminals=(first, replace(second, net=joint)))
    two = replace(part, ref=other, value=half, terminals=(replace(first, net=joint), second))
    return Variant(rebuilt(circuit, _with(circuit, ref, [one, two])), {other: ref})


def split_in_parallel(circuit: Circuit, ref: str) -> Variant:
    """A resistor as two of twice the value, side by side."""
    part = circuit.part(ref)
    double = None if part.value is None else part.value * 2
    other = f"{ref}b"
    pair = [replace(part, value=double), replace(part, ref=other, value=double)]
    return Variant(rebuilt(circuit, _with(circuit, ref, pair)), {other: ref})


def with_stopper(circuit: Circuit, ref: str, *, bead: bool = False, ohms: float = 10.0) -> Variant:
    """A resistor or a bead put into a device's control lead."""
    part = circuit.part(ref)
    control = CONTROL[part.kind]
    net = part.net(control)
    inner, name = "behind the stopper", "FB99" if bead else "R999"
    terminals = tuple(replace(t, net=inner) if t.name == control else t for t in part.terminals)
    stopper = Part(
        ref=name,
        kind="bead" if bead else "resistor",
        terminals=(Terminal("1", net), Terminal("2", inner)),
        value=None if bead else ohms,
    )
    return Variant(
        rebuilt(circuit, _with(circuit, ref, [stopper, replace(part, terminals=terminals)])), added=frozenset({name})
    )


def with_rail_capacitor(circuit: Circuit, supply: int) -> Variant:
    """A capacitor of 100 nF from a supply rail to ground."""
    net = circuit.supplies[supply].net
    extra = Part("C999", "capacitor", (Terminal("1", net), Terminal("2", circuit.ground)), value=100e-9)
    return Variant(rebuilt(circuit, [*circuit.parts, extra]), added=frozenset({"C999"}))


def with_windings_turned(circuit: Circuit, ref: str) -> Variant:
    """A transformer with every winding of its core turned end for end."""
    part = circuit.part(ref)
    nets = {terminal.name: terminal.net for terminal in part.terminals}
    for winding in part.windings:
        for here, there in zip(winding.terminals, reversed(winding.terminals), strict=True):
            nets[here] = part.net(there)
    windings = tuple(
        Winding(item.name, item.terminals, tuple(reversed(item.turns)), item.assumed) for item in part.windings
    )
    terminals = tuple(replace(terminal, net=nets[terminal.name]) for terminal in part.terminals)
    return Variant(rebuilt(circuit, _with(circuit, ref, [replace(part, terminals=terminals, windings=windings)])))


def _with(circuit: Circuit, ref: str, others: list[Part]) -> list[Part]:
    """The parts of a circuit with one part's place taken by others."""
    return [item for part in circuit.parts for item in (others if part.ref == ref else [part])]
