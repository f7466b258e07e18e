"""Tuned circuits that should agree with one another, of which one is off by a capacitor ten times too large or small.

A receiver has several circuits tuned to the same frequency: those of its radio-frequency stages, those of its
intermediate ones. A tuned circuit that agrees with no other, and would with one capacitor of ten times or a tenth of
its value, is asked about. An oscillator agrees with none, and seldom would by so round a factor. All from the values
as typed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from topo.errors import Problem
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import GROUPS
from topo.quantities import show

# Tuned circuits that are meant to agree do so within this share, trimmers at their middle.
AGREE = 0.01
_TIMES = (10.0, 0.1)


@dataclass(frozen=True)
class Tank:
    """A coil or winding of known inductance (henry) and the capacitors right across it."""

    coil: str
    henry: float
    capacitors: tuple[Part, ...]

    def hertz(self, changed: Part | None = None, times: float = 1.0) -> float:
        """Its resonance, with one capacitor so many times as large."""
        farad = sum((part.value or 0.0) * (times if part is changed else 1.0) for part in self.capacitors)
        return 1.0 / (2.0 * math.pi * math.sqrt(self.henry * farad))


def untuned(circuit: Circuit) -> Iterator[Problem]:
    """A question about each capacitor that puts its tuned circuit off all others, and a decade would put it on one."""
    tanks = tuple(_tanks(circuit))
    usual = [tank.hertz() for tank in tanks]
    for place, tank in enumerate(tanks):
        others = [other for at, other in enumerate(tanks) if at != place]
        if _like(usual[place], others):
            continue
        for part in tank.capacitors:
            for times in _TIMES:
                fellow = _like(tank.hertz(part, times), others)
                if fellow is not None:
                    yield _asked(part, times, tank, fellow)


def _like(hertz: float, tanks: Sequence[Tank]) -> Tank | None:
    """The first of the tuned circuits that is tuned to a frequency."""
    return next((tank for tank in tanks if abs(hertz / tank.hertz() - 1) < AGREE), None)


def _asked(part: Part, times: float, tank: Tank, fellow: Tank) -> Problem:
    better = show((part.value or 0.0) * times, "F", 3)
    message = (
        f"{part.ref} ({show(part.value, 'F')}) tunes {tank.coil} to {show(tank.hertz(), 'Hz', 3)}, to which nothing "
        f"else is tuned; {better} would tune it to {show(fellow.hertz(), 'Hz', 3)}, as {fellow.coil} is."
    )
    mend = "Has its value slipped by ten?"
    return Problem(part.place, message, "", mend, part.source.split("\n")[0], "warning", "tuning-off")


def _tanks(circuit: Circuit) -> Iterator[Tank]:
    """The tuned circuits of a file, in the order of their coils; a net at ground for the signal is not looked at."""
    across: dict[frozenset[str], list[Part]] = {}
    for part in circuit.parts:
        if part.kind == "capacitor" and part.value and not part.settings.get("polarised"):
            across.setdefault(frozenset(terminal.net for terminal in part.terminals), []).append(part)
    for part in circuit.parts:
        for ends, henry in _coils(part):
            found = across.get(ends)
            if found and henry > 0 and len(ends) == 2:
                yield Tank(part.ref, henry, tuple(found))


def _coils(part: Part) -> Iterator[tuple[frozenset[str], float]]:
    """The ends and the inductance of a coil, or of each whole winding of a transformer whose primary's is known."""
    if part.kind in GROUPS["coil"] and part.value and part.kind != "bead":
        ends = part.windings[0].terminals if part.windings else (part.terminals[0].name, part.terminals[-1].name)
        yield frozenset((part.net(ends[0]), part.net(ends[-1]))), part.value
    primary = part.params.get("primary")
    if len(part.windings) < 2 or not primary:
        return
    first = sum(part.windings[0].turns)
    for winding in part.windings:
        nets = frozenset((part.net(winding.terminals[0]), part.net(winding.terminals[-1])))
        yield nets, primary * (sum(winding.turns) / first) ** 2
