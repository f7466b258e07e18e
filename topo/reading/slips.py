"""Slips of the pen that leave a circuit that can be read: values ten times off, parts of a pair that differ, diodes
turned round, a load forgotten.

Asked about by `topo check`, where a whole reading may be taken and a few dozen changed circuits solved. Nothing is said
of a circuit in which nothing is odd: the value that would set it right is only looked for where something is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from topo.analysis.decades import decade_changes
from topo.analysis.operating_point import OperatingPoint
from topo.errors import Place, Problem
from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import GROUPS, kind_of
from topo.quantities import show
from topo.reading.fellows import odd_ones_out
from topo.reading.oddities import AUDIO, LEAST_CURRENT, Oddities, is_restless, sisters
from topo.reading.reading import Block, Reading
from topo.reading.summary import joined
from topo.reading.tanks import untuned
from topo.reading.twins import turned_twins, unlike_twins

# Parts that serve two sides of a stage alike differ by less than this (common practice: they are equal).
UNLIKE = 3.0
# Reverse volts at rest on a diode of no known purpose that ask for another look.
REVERSED_DIODE = 1.0
# Sorts of block in which a diode does not conduct at rest.
_IDLE_DIODES = frozenset(("protection", "supply", "control", "feedback", "whole"))
MOST_TRIED, MOST_NAMED = 60, 4
_SHAPING, _WEAK_AT_THE_EDGE = 9.0, 2.0


def slips(reading: Reading, patterns: Library) -> tuple[Problem, ...]:
    """What looks like a slip of the pen, in the order of the lines."""
    found = [
        *unlike_twins(reading.circuit),
        *turned_twins(reading.circuit),
        *untuned(reading.circuit),
        *odd_ones_out(reading.circuit),
        *_unlike_sisters(reading, patterns),
        *_slipped_values(reading, patterns),
        *_half_bypassed(reading),
        *_turned_diodes(reading),
        *_missing_load(reading),
    ]
    unique = {(problem.place, problem.code): problem for problem in reversed(found)}
    return tuple(sorted(unique.values(), key=lambda problem: (problem.place.line, problem.place.column)))


def _about(part: Part, code: str, message: str, mend: str = "", severity: str = "warning") -> Problem:
    return Problem(part.place, message, "", mend, part.source.split("\n")[0], severity, code)


# -- parts of a pair that differ -------------------------------------------------------------------------------------


def _unlike_sisters(reading: Reading, patterns: Library) -> Iterator[Problem]:
    """Two parts with the same task on the two sides of a stage, of which one is several times the other."""
    for block in reading.blocks:
        if is_restless(block, patterns):
            continue
        for one, other in sisters(block, patterns):
            parts = [reading.circuit.part(refs[0]) for refs in (one, other) if len(refs) == 1]
            values = [part.value for part in parts if part.value]
            if len(values) < 2 or parts[0].kind != parts[1].kind or parts[0] is parts[1]:
                continue
            if max(values) / min(values) < UNLIKE or not _serve_alike(reading, block, parts):
                continue
            unit = kind_of(parts[0].kind).unit
            for part, sister in (parts, parts[::-1]):
                message = (
                    f"{part.ref} ({show(part.value, unit)}) does on one side of the {block.name} what {sister.ref} "
                    f"({show(sister.value, unit)}) does on the other: such parts are usually equal."
                )
                yield _about(part, "unlike-pair", message, "Has a value slipped?")


def _serve_alike(reading: Reading, block: Block, parts: list[Part]) -> bool:
    """Whether two parts carry the currents of the two sides, not merely hold their control electrodes."""
    currents = [abs(reading.views.point.current(part.ref)) for part in parts]
    return parts[0].kind == "capacitor" or block.sort == "output" or min(currents) > LEAST_CURRENT


# -- a value ten times off -------------------------------------------------------------------------------------------


def _slipped_values(reading: Reading, patterns: Library) -> Iterator[Problem]:
    """The resistors of which ten times more or less would leave nothing odd."""
    circuit, oddities = reading.circuit, Oddities(reading, patterns)
    odd = oddities.of(reading.views.point)
    amplifies = bool(reading.inputs and reading.outputs)
    if not odd or not amplifies or "not solved" in odd:
        return
    resistors = [part for part in circuit.parts if part.kind == "resistor" and part.value]
    if len(resistors) > MOST_TRIED:
        return
    found: dict[int, list[tuple[Part, float]]] = {}
    for part, value, again in decade_changes(circuit, resistors):
        left = oddities.of(again)
        if left < odd and all(_works(ref, again) for ref in _named(odd - left)):
            found.setdefault(len(left), []).append((part, value))
    best = found[min(found)] if found else []
    if len(best) > MOST_NAMED:
        return
    said = "; ".join(sorted(odd))
    for part, value in best:
        message = f"{said}: that would not be so with {show(value, 'ohm')} for {part.ref}."
        yield _about(part, "value-slipped", _capital(message), "Has its value slipped by ten?")


def _named(odd: frozenset[str]) -> Iterator[str]:
    """The devices of which a state is told."""
    return (words.split(" is ")[0] for words in odd if " is " in words)


def _works(ref: str, point: OperatingPoint) -> bool:
    """Whether a device works between its limits; true of what is no device."""
    index = point.graph.element_of.get(ref)
    return index is None or point.states.get(index, "on") == "on"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _half_bypassed(reading: Reading) -> Iterator[Problem]:
    """Electrolytic capacitors that are no short circuit in the band, and would be with ten times their value."""
    views = reading.views
    acting = {ref for block in reading.blocks if block.sort != "whole" for ref in block.devices}
    for view in views.signals:
        if view.band is None or not acting:
            continue
        for index, verdict in view.verdicts.items():
            element = views.graph.elements[index]
            if not element.part.settings.get("polarised") or verdict.rho is None or verdict.rho_low is None:
                continue
            weak = verdict.fate == "shaping" or (verdict.fate == "short" and verdict.rho_low > _WEAK_AT_THE_EDGE)
            if len(element.members) == 1 and weak and verdict.rho < _SHAPING and element.value:
                part = element.part
                better = show(element.value * 10, "F")
                message = (
                    f"{part.ref} ({show(element.value, 'F')}) is no short circuit in the whole band, as electrolytic "
                    f"capacitors usually are; {better} would be."
                )
                yield _about(part, "capacitor-small", message, "Has its value slipped by ten?", "note")


# -- diodes, loads ---------------------------------------------------------------------------------------------------


def _turned_diodes(reading: Reading) -> Iterator[Problem]:
    """Diodes with reverse voltage at rest that no sub-circuit accounts for."""
    point = reading.views.point
    told = {ref for block in reading.blocks if block.sort in _IDLE_DIODES for ref in block.parts}
    for part in reading.circuit.parts:
        if part.kind not in ("diode", "led") or (part.kind == "diode" and part.ref in told):
            continue
        if _across_a_coil(part, reading.circuit):
            continue
        volts = point.voltage(part.net("k"), part.net("a")) if point.status != "not solved" else math.nan
        if volts > REVERSED_DIODE:
            what = "LED" if part.kind == "led" else "diode"
            message = f"the {what} {part.ref} has {show(volts, 'V', 2)} of reverse voltage at rest."
            mend = f"Write  {part.ref} ... : {part.net('k')} {part.net('a')}   if its ends are exchanged."
            yield _about(part, "diode-reversed", message, mend)


def _across_a_coil(diode: Part, circuit: Circuit) -> bool:
    """Whether a diode catches the voltage of a coil when its current is broken."""
    nets = {terminal.net for terminal in diode.terminals}
    coils = ("relay", "inductor", "choke", "transformer")
    return any(part.kind in coils and nets <= {terminal.net for terminal in part.terminals} for part in circuit.parts)


def _missing_load(reading: Reading) -> Iterator[Problem]:
    """A power stage whose output goes to nothing."""
    circuit = reading.circuit
    if circuit.band is None or circuit.band[1] > AUDIO:
        return  # an aerial or a line may be outside of the drawing
    stages = [block for block in reading.blocks if block.sort == "output" and len(block.devices) >= 2]
    if not stages or any(part.kind in GROUPS["load"] | {"headphones"} for part in circuit.parts):
        return
    for port in circuit.outputs:
        on = [part for part in circuit.parts if any(terminal.net == port.net for terminal in part.terminals)]
        if len(on) == 1:
            devices = joined([*stages[-1].devices])
            message = f"the output {port.net} of the power stage of {devices} has no load: only {on[0].ref} is on it."
            place = port.place if port.place.line else Place(circuit.file)
            yield Problem(
                place, message, "", "Is a loudspeaker missing?", circuit.lines.get(place.line, ""), "warning", "no-load"
            )
