"""Slips of the pen that leave a circuit that can be read: values ten times off, parts of a pair that differ, diodes
turned round, a load forgotten.

Asked about by `topo check`, where a whole reading may be taken and a few dozen changed circuits solved. Nothing is said
of a circuit in which nothing is odd: the value that would set it right is only looked for where something is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from topo.analysis import operating_point
from topo.analysis.operating_point import OperatingPoint
from topo.analysis.sanity import OFF_BY_INTENTION
from topo.errors import Place, Problem
from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS, is_polarity_n, kind_of
from topo.netlist.wiring import conducting_sets, main_path
from topo.quantities import show
from topo.reading.reading import Block, Reading
from topo.reading.summary import joined

# Parts that serve two sides of a stage alike differ by less than this (common practice: they are equal).
UNLIKE = 3.0
# Of two devices in series between the rails neither has this many times the other's voltage.
OFF_CENTRE = 4.0
# The two devices of a pair share a current within this, where it is more than so many amperes.
UNLIKE_CURRENTS, LEAST_CURRENT = 6.0, 50e-6
# What is left across a single stage with a collector resistor, of its supply; what its emitter resistor takes at most;
# direct volts across a loudspeaker at most.
_LEFT, _MOST_BELOW, _MOST_OFFSET = (0.08, 0.9), 0.45, 0.5
# Reverse volts at rest on a diode of no known purpose that ask for another look.
REVERSED_DIODE = 1.0
_LOADS = frozenset(("resistor", "transformer", "inductor", "choke"))
_SIDES = (("upper", "lower"), ("left", "right"))
# Sorts of block whose devices work between their limits.
_ACTING = frozenset(("stage", "driver", "splitter", "output", "compound"))
# Sorts of block in which a diode does not conduct at rest.
_IDLE_DIODES = frozenset(("protection", "supply", "control", "feedback", "whole"))
# The top of the audio band, hertz.
AUDIO = 30e3
MOST_TRIED, MOST_NAMED = 60, 4
_TIMES = (10.0, 0.1)
_SHAPING, _WEAK_AT_THE_EDGE = 9.0, 1.0


def slips(reading: Reading, patterns: Library) -> tuple[Problem, ...]:
    """What looks like a slip of the pen, in the order of the lines."""
    found = [
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
        if _is_restless(block, patterns):
            continue
        for one, other in _sisters(block, patterns):
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


def restless_devices(reading: Reading, patterns: Library) -> frozenset[str]:
    """Devices of circuits that never stay at rest: what they would do there is no fault."""
    return frozenset(ref for block in reading.blocks if _is_restless(block, patterns) for ref in block.devices)


def _is_restless(block: Block, patterns: Library) -> bool:
    """Whether a block never stays at rest, so that its two sides may differ on purpose."""
    return patterns.get(block.pattern).reading.claim == "takes over"


def _sisters(block: Block, patterns: Library) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """The designators of roles that a pattern says are alike, or that it calls alike but for the side."""
    for name, refs in block.roles.items():
        for one, other in _SIDES if block.sort == "output" else ():
            if one in name.split() and (sister := name.replace(one, other)) in block.roles:
                yield tuple(dict.fromkeys(refs)), tuple(dict.fromkeys(block.roles[sister]))
    for names in patterns.get(block.pattern).symmetry:
        bound = [tuple(dict.fromkeys(block.roles.get(name, ()))) for name in names]
        for first, second in pairwise(bound):
            if first and second:
                yield first, second


# -- a value ten times off -------------------------------------------------------------------------------------------


class _Oddities:
    """What is odd about a circuit at rest, as words that can be compared between two operating points."""

    def __init__(self, reading: Reading, patterns: Library) -> None:
        self.circuit = reading.circuit
        pairs = [
            (one[0], other[0])
            for block in reading.blocks
            if not _is_restless(block, patterns)
            for one, other in _sisters(block, patterns)
            if len(one) == len(other) == 1 and self.circuit.part(one[0]).kind in ELECTRODES
        ]
        self.pairs = list(dict.fromkeys(pairs))
        self.feeds = list(_feed_resistors(self.circuit))
        self.stages = list(_resistor_stages(reading))
        self.stacked = any(block.sort == "output" and len(block.devices) >= 2 for block in reading.blocks)
        # A pair in class B idles off, by intention.
        self.may_idle = {ref for block in reading.blocks if block.sort == "output" for ref in block.devices}
        acting = {ref for block in reading.blocks if block.sort in _ACTING for ref in block.devices}
        self.beside = {ref for block in reading.blocks for ref in block.devices} - acting
        rails = [supply.volts for supply in self.circuit.supplies]
        self.span = max([*rails, 0.0]) - min([*rails, 0.0])

    def of(self, point: OperatingPoint) -> frozenset[str]:
        """The oddities at one operating point."""
        if point.status == "not solved":
            return frozenset(("not solved",))
        found = set(self._states(point)) | set(self._shares(point)) | set(self._loads(point))
        for one, other in self.pairs:
            found |= set(self._pair(point, one, other))
        return frozenset(found)

    def _states(self, point: OperatingPoint) -> Iterator[str]:
        for part in self.circuit.parts:
            if part.kind not in GROUPS["bipolar"] or part.ref not in point.graph.element_of or part.ref in self.beside:
                continue
            state = point.states.get(point.graph.element_of[part.ref], "")
            sign = 1.0 if is_polarity_n(part.kind) else -1.0
            driven = sign * point.voltage(part.net("b"), part.net("e"))
            if state in ("saturated", "reversed") or (
                state == "off" and driven > OFF_BY_INTENTION and part.ref not in self.may_idle
            ):
                yield f"{part.ref} is {state}"

    def _shares(self, point: OperatingPoint) -> Iterator[str]:
        """Stages of which one resistor takes nearly all of the supply's voltage, or next to none of it."""
        for ref, load, foot in self.stages:
            part = self.circuit.part(ref)
            _, emitting, collecting = ELECTRODES[part.kind]
            whole = abs(point.voltage(self._far_end(load, part.net(collecting)))) if load else self.span
            across = abs(point.voltage(part.net(collecting), part.net(emitting)))
            if load and whole and not _LEFT[0] < across / whole < _LEFT[1]:
                yield f"{ref} has {'next to none' if across / whole < 0.5 else 'nearly all'} of its supply across it"
            if foot and self.span:
                drop = abs(point.voltage(part.net(emitting), self._far_end(foot, part.net(emitting))))
                if drop > _MOST_BELOW * self.span:
                    yield f"{foot} below {ref} takes much of the supply"

        for ref in self.feeds:
            volts = abs(point.voltage(*(terminal.net for terminal in self.circuit.part(ref).terminals)))
            if volts > _MOST_BELOW * self.span:
                yield f"{ref} takes much of the supply"

    def _far_end(self, resistor: str, near: str) -> str:
        return next((t.net for t in self.circuit.part(resistor).terminals if t.net != near), near)

    def _loads(self, point: OperatingPoint) -> Iterator[str]:
        """Direct current in a loudspeaker that hangs on the middle of two devices in series."""
        if not self.stacked:
            return
        for part in self.circuit.parts:
            if part.kind in ("speaker", "headphones"):
                volts = abs(point.voltage(part.terminals[0].net, part.terminals[1].net))
                if volts > _MOST_OFFSET:
                    yield f"direct voltage stands across {part.ref}"

    def _pair(self, point: OperatingPoint, one: str, other: str) -> Iterator[str]:
        parts = [self.circuit.part(ref) for ref in (one, other)]
        across, currents = [], []
        for part in parts:
            _, emitting, collecting = ELECTRODES[part.kind]
            across.append(abs(point.voltage(part.net(collecting), part.net(emitting))))
            currents.append(abs(point.current(part.ref)))
        if self.span and math.isclose(sum(across), self.span, rel_tol=0.1) and max(across) > OFF_CENTRE * min(across):
            yield f"the voltage between the rails is shared {_shared(across)} by {one} and {other}"
        elif (
            parts[0].kind == parts[1].kind
            and max(currents) > LEAST_CURRENT
            and max(currents) > UNLIKE_CURRENTS * min(currents)
        ):
            yield f"{one} and {other} carry unlike currents"


def _resistor_stages(reading: Reading) -> Iterator[tuple[str, str, str]]:
    """Single bipolar stages with their collector and emitter resistors to a rail ("" where there is none)."""
    circuit = reading.circuit
    rails = {circuit.ground, *(supply.net for supply in circuit.supplies)}
    stages = [block for block in reading.blocks if block.sort in ("stage", "driver", "splitter")]
    for ref in dict.fromkeys(block.devices[0] for block in stages if len(block.devices) == 1):
        part = circuit.part(ref)
        if part.kind not in GROUPS["bipolar"] or _is_still(reading, part.net("c")):
            continue
        resistors = []
        for name in ("c", "e"):
            net = part.net(name)
            on = [
                item.ref
                for item in circuit.parts
                if item.kind == "resistor"
                and net in (nets := {terminal.net for terminal in item.terminals})
                and (nets - {net}) & (rails if name == "e" else rails | _fed(circuit, rails))
            ]
            resistors.append(on[0] if len(on) == 1 and net not in rails else "")
        if any(resistors):
            yield ref, resistors[0], resistors[1]


def _is_still(reading: Reading, net: str) -> bool:
    """Whether no signal stands on a net: a follower's collector."""
    node = reading.views.graph.node_of.get(net)
    view = reading.views.signals[0] if reading.views.signals else None
    return node is None or view is None or view.class_of[node] == view.zero


def _fed(circuit: Circuit, rails: set[str]) -> set[str]:
    """Nets behind one resistor from a rail, with a capacitor to ground: derived rails."""
    behind: set[str] = set()
    for part in circuit.parts:
        nets = {terminal.net for terminal in part.terminals}
        if part.kind == "resistor" and len(nets & rails) == 1:
            behind |= nets - rails
    held = {
        t.net for part in circuit.parts if part.kind == "capacitor" for t in part.terminals if _to_ground(part, circuit)
    }
    return behind & held


def _feed_resistors(circuit: Circuit) -> Iterator[str]:
    """Resistors from a supply to a derived rail on which nothing but a capacitor to ground and several parts hang."""
    supplies = {supply.net for supply in circuit.supplies}
    behind = _fed(circuit, supplies | {circuit.ground})
    for part in circuit.parts:
        nets = {terminal.net for terminal in part.terminals}
        if part.kind == "resistor" and nets & supplies and nets & behind:
            far = min(nets & behind)
            on = [item for item in circuit.parts if any(terminal.net == far for terminal in item.terminals)]
            loads = [item for item in on if item.kind in _LOADS]
            beyond = {
                net for item in loads for joined in conducting_sets(item) if far in joined for net in joined
            } - nets
            if any(
                main_path(device)[:1] and main_path(device)[0] in beyond - {circuit.ground} for device in circuit.parts
            ):
                yield part.ref


def _to_ground(part: Part, circuit: Circuit) -> bool:
    return any(terminal.net == circuit.ground for terminal in part.terminals)


def _shared(volts: list[float]) -> str:
    return " to ".join(show(value, "V", 2) for value in volts)


def _slipped_values(reading: Reading, patterns: Library) -> Iterator[Problem]:
    """The resistors of which ten times more or less would leave nothing odd."""
    circuit, oddities = reading.circuit, _Oddities(reading, patterns)
    odd = oddities.of(reading.views.point)
    amplifies = bool(reading.inputs and reading.outputs)
    if not odd or not amplifies or "not solved" in odd or restless_devices(reading, patterns):
        return
    resistors = [part for part in circuit.parts if part.kind == "resistor" and part.value]
    if len(resistors) > MOST_TRIED:
        return
    found: dict[int, list[tuple[Part, float]]] = {}
    for part in resistors:
        for times in _TIMES:
            value = float(f"{(part.value or 0.0) * times:.6g}")
            again = operating_point(_with_value(circuit, part, value))
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


def _with_value(circuit: Circuit, part: Part, value: float) -> Circuit:
    changed = replace(part, value=value)
    return replace(circuit, parts=tuple(changed if item is part else item for item in circuit.parts))


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
