"""Coupled coils as transformers: each coil a winding, dotted at its first node; halves in series as a tapped one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from topo.netlist.circuit import Part, Terminal, Winding
from topo.netlist.elements.expanding import GROUND, Element
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.parts import Made
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.shaping import designator
from topo.netlist.words import are_turns

# Halves of a tapped winding that is grounded or fed at its tap are alike within this share.
_ALIKE = 0.05
# No core carries more coils; each is coupled with each in the equations.
MOST_COILS = 200


@dataclass
class Coil:
    """A coil on a core: its designator, dotted and other end, relative turns, henries."""

    ref: str
    start: Terminal
    finish: Terminal
    turns: float
    henries: float | None
    rdc: float | None


@dataclass
class Core:
    """Coils that are coupled, directly or by way of others; the `K` elements that say so; the least coefficient."""

    coils: list[str]
    elements: list[Element]
    coefficient: float | None


def couple(made: Made, rails: frozenset[str], found: Findings) -> tuple[Part, ...]:
    """The parts with their coupled coils made into transformers, each where its first coil stood."""
    cores = _cores(made, found)
    at: dict[str, Part] = {}
    gone: set[str] = set()
    for core in cores:
        if len(core.coils) > MOST_COILS:
            element = core.elements[0]
            message = f"{element.ref} couples {len(core.coils)} inductors, of which {MOST_COILS} are the most."
            found.error("too-many-coils", element.row.line, element.row.head, message)
            continue
        coils = [_coil(made.coils[name][0]) for name in core.coils]
        if all(coil.henries for coil in coils) and not are_turns([coil.turns / coils[0].turns] for coil in coils):
            element = core.elements[0]
            message = f"the inductors that {element.ref} couples are too unlike for one core."
            found.error("ratio-extreme", element.row.line, element.row.head, message)
            continue
        known = all(coil.henries for coil in coils)
        if not known:
            for coil in coils:
                coil.turns = 1.0
        part = _transformer(core, _windings(coils, rails), not known, made)
        at[core.coils[0]] = part
        gone.update(core.coils[1:])
        names = " ".join(coil.ref for coil in coils)
        kind = "tapped inductor" if part.kind == "inductor" else "transformer"
        element = core.elements[0]
        found.note(
            "coupled", element.row.line, element.row.head, f"{names}, coupled, are shown as the {kind} {part.ref}."
        )
    parts = []
    for part in made.parts:
        folded = part.ref.casefold()
        if folded not in gone:
            parts.append(at.get(folded, part))
    return tuple(parts)


def _cores(made: Made, found: Findings) -> list[Core]:
    """The cores that the couplings make, in the order in which their first coils are coupled."""
    cores: list[Core] = []
    for element in made.couplings:
        row, scope = element.row, element.scope
        names, coefficient = [], None
        for word in row.words:
            key = designator(scope.prefix + word.text).casefold()
            if key in made.coils:
                names.append(key)
            elif scope.body.model(word.text) is not None:
                found.note(
                    "not-used", row.line, word, f"the core {word.text} of {element.ref} is taken as an ideal one."
                )
            else:
                try:
                    coefficient = scope.value(word)
                except FormulaError:
                    found.error(
                        "unknown-coil",
                        row.line,
                        word,
                        f"{element.ref} couples {word.text}, which is no inductor of the list.",
                    )
        if "k" in row.settings:
            try:
                coefficient = scope.value(row.settings["k"])
            except FormulaError as error:
                found.warn("bad-value", row.line, row.settings["k"], f"the coefficient of {element.ref}: {error}.")
        if coefficient is not None and not 0 < abs(coefficient) <= 1:
            found.warn(
                "bad-coefficient",
                row.line,
                row.words[-1],
                f"{element.ref} has a coefficient of {coefficient:g}; 1 is the most.",
            )
            coefficient = None
        if len(names) < 2:
            if not found.failed:
                found.warn("one-coil", row.line, row.head, f"{element.ref} couples fewer than two inductors; not used.")
            continue
        _join(cores, list(dict.fromkeys(names)), element, coefficient)
    return cores


def _join(cores: list[Core], names: list[str], element: Element, coefficient: float | None) -> None:
    """Put coils on one core, with those of the cores that any of them is on."""
    met = [core for core in cores if set(core.coils) & set(names)]
    core = met[0] if met else Core([], [], None)
    if not met:
        cores.append(core)
    for other in met[1:]:
        core.coils += other.coils
        core.elements += other.elements
        core.coefficient = _least(core.coefficient, other.coefficient)
        cores.remove(other)
    core.coils += [name for name in names if name not in core.coils]
    core.elements.append(element)
    core.coefficient = _least(core.coefficient, None if coefficient is None else abs(coefficient))


def _least(one: float | None, other: float | None) -> float | None:
    known = [value for value in (one, other) if value is not None]
    return min(known) if known else None


def _coil(part: Part) -> Coil:
    turns = math.sqrt(part.value) if part.value else 1.0
    return Coil(part.ref, part.terminals[0], part.terminals[1], turns, part.value, part.params.get("rdc"))


def _windings(coils: list[Coil], rails: frozenset[str]) -> list[list[Coil]]:
    """The coils in windings: those in series and in the same sense are sections of one."""
    left = list(coils)
    windings: list[list[Coil]] = []
    while left:
        chain = [left.pop(0)]
        while (following := _series(chain[-1], left, coils, rails)) is not None:
            left.remove(following)
            chain.append(following)
        while (before := _before(chain[0], left, coils, rails)) is not None:
            left.remove(before)
            chain.insert(0, before)
        windings.append(chain)
    return windings


def _series(coil: Coil, left: list[Coil], every: list[Coil], rails: frozenset[str]) -> Coil | None:
    """The coil that goes on where this one finishes."""
    return _best(coil, [other for other in left if other.start.net == coil.finish.net], coil.finish.net, every, rails)


def _before(coil: Coil, left: list[Coil], every: list[Coil], rails: frozenset[str]) -> Coil | None:
    """The coil that this one goes on from."""
    return _best(coil, [other for other in left if other.finish.net == coil.start.net], coil.start.net, every, rails)


def _best(coil: Coil, others: list[Coil], net: str, every: list[Coil], rails: frozenset[str]) -> Coil | None:
    """Of coils that meet at a net the one most like this one.

    At ground or a rail unlike coils, or the only two of a core at ground, are windings of their own that are both
    grounded there: two windings, not a tapped one.
    """
    alike = [other for other in others if abs(other.turns - coil.turns) <= _ALIKE * coil.turns]
    if net == GROUND or net in rails:
        others = [] if net == GROUND and len(every) == 2 else alike
    elif alike:
        others = alike
    return others[0] if others else None


def _transformer(core: Core, windings: list[list[Coil]], assumed: bool, made: Made) -> Part:
    """The part of a core."""
    least = min(coil.turns for chain in windings for coil in chain)
    first = made.coils[core.coils[0]][0]
    params: dict[str, float] = {}
    if len(windings) > 1:
        henries = _inductance(windings[0], core.coefficient)
        params |= {"primary": henries} if henries else {}
        params |= {"k": core.coefficient} if core.coefficient is not None and core.coefficient < 1 else {}
    losses = [coil.rdc for chain in windings for coil in chain if coil.rdc]
    if losses:
        params["rdc"] = max(losses)
    terminals: list[Terminal] = []
    built: list[Winding] = []
    for number, chain in enumerate(windings, 1):
        ends = [chain[0].start, *(coil.finish for coil in chain)]
        stem = f"w{number}." if len(windings) > 1 else ""
        names = tuple(f"{stem}{place}" for place in range(1, len(ends) + 1))
        terminals += [Terminal(name, end.net, end.place) for name, end in zip(names, ends, strict=True)]
        turns = tuple(round(coil.turns / least, 4) for coil in chain)
        built.append(Winding(f"w{number}", names, turns, assumed))
    element = core.elements[0]
    place = element.row.line.place(element.row.head.start, len(element.row.head.text))
    source = "\n".join(
        [made.coils[name][1].row.line.source for name in core.coils] + [item.row.line.source for item in core.elements]
    )
    if len(windings) == 1:
        value = _inductance(windings[0], core.coefficient)
        return Part(
            first.ref,
            "inductor",
            tuple(terminals),
            value,
            windings=tuple(built),
            params=params,
            place=first.place,
            source=source,
        )
    return Part(
        designator(element.ref),
        "transformer",
        tuple(terminals),
        windings=tuple(built),
        params=params,
        place=place,
        source=source,
    )


def _inductance(chain: list[Coil], coefficient: float | None) -> float | None:
    """Henries of coils in series on one core: L1 + L2 + 2 k sqrt(L1 L2) and so on for more of them."""
    known = [coil.henries for coil in chain]
    if not all(known):
        return None
    k = 1.0 if coefficient is None else coefficient
    values = [value for value in known if value]
    total = math.fsum(values)
    for place, one in enumerate(values):
        total += math.fsum(2 * k * math.sqrt(one * other) for other in values[place + 1 :])
    return float(f"{total:.9g}")
