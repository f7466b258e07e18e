"""What is odd about a circuit at rest, as words that can be compared between two operating points.

Devices that are off, saturated or reversed; voltages and currents that no stage of the kind has; bias that is too weak
or too strong for what it biases. Correct circuits have none of it, whatever they are.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import NamedTuple

from topo.analysis.operating_point import OperatingPoint
from topo.analysis.sanity import HOT_RESISTOR, OFF_BY_INTENTION
from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS, is_polarity_n
from topo.netlist.wiring import Wiring, conducting_sets, is_link, main_path
from topo.quantities import show
from topo.reading.reading import Block, Reading
from topo.reading.remarks import is_far_too_much

# The top of the audio band, hertz.
AUDIO = 30e3
# Of two devices in series between the rails neither has this many times the other's voltage.
OFF_CENTRE = 4.0
# The two devices of a pair share a current within this, where it is more than so many amperes.
UNLIKE_CURRENTS, LEAST_CURRENT = 6.0, 50e-6
# What is left across a single stage with a collector resistor, of its supply; what its emitter resistor takes at most;
# direct volts across a loudspeaker at most.
_LEFT, _MOST_BELOW, _MOST_OFFSET = (0.08, 0.9), 0.45, 0.5
# Of a stage with a divider: the divider's current against the base's and the collector's, the drop across the load
# against that across the emitter resistor. Correct stages have 1.9 and more, 0.55 and less, 0.99 and more.
_STIFFEST_NEEDED, _MOST_OF_THE_DEVICE, _LEAST_LOAD = 1.4, 0.8, 0.6
# Amperes that no small LED carries; the idle current of a pair that is biased, of a full swing in class A.
_MOST_OF_AN_LED, _LEAST_IDLE = 60e-3, 1e-4
_SINGLE = frozenset(("stage", "driver", "splitter", "coupling", "bias", "feedback", "section", "whole"))
_LOADS = frozenset(("resistor", "transformer", "inductor", "choke"))
_SIDES = (("upper", "lower"), ("left", "right"))
# Sorts of block whose devices work between their limits.
_ACTING = frozenset(("stage", "driver", "splitter", "output", "compound"))


def restless_devices(reading: Reading, patterns: Library) -> frozenset[str]:
    """Devices of circuits that never stay at rest: what they would do there is no fault."""
    return frozenset(ref for block in reading.blocks if is_restless(block, patterns) for ref in block.devices)


def _swayed(circuit: Circuit, restless: frozenset[str]) -> set[str]:
    """The restless devices, and those whose currents they carry along, by way of anything that conducts."""
    wiring, rails = Wiring(circuit), _rails(circuit)
    reached = {terminal.net for ref in restless for terminal in circuit.part(ref).terminals} - rails
    ahead = sorted(reached)
    for net in ahead:
        for other in wiring.neighbours(net, conducting_sets):
            if other not in reached | rails:
                reached.add(other)
                ahead.append(other)
    return {part.ref for part in circuit.parts if main_path(part) and _touches(part, reached)} | set(restless)


def _rails(circuit: Circuit) -> set[str]:
    """Ground, the supplies' nets, and what closed switches and fuses join with these."""
    wiring = Wiring(circuit)

    def joined(part: Part) -> Iterator[tuple[str, ...]]:
        return conducting_sets(part) if is_link(part) and part.kind in ("switch", "fuse") else iter(())

    return {net for rail in sorted(wiring.rails) for net in wiring.walk(rail, joined, through_rails=True)}


def is_restless(block: Block, patterns: Library) -> bool:
    """Whether a block never stays at rest, so that its two sides may differ on purpose."""
    return patterns.get(block.pattern).reading.claim == "takes over"


def sisters(block: Block, patterns: Library) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
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


class Oddities:
    """What is odd about a circuit at rest, as words that can be compared between two operating points."""

    def __init__(self, reading: Reading, patterns: Library) -> None:
        self.circuit = reading.circuit
        pairs = [
            (one[0], other[0])
            for block in reading.blocks
            if not is_restless(block, patterns)
            for one, other in sisters(block, patterns)
            if len(one) == len(other) == 1 and self.circuit.part(one[0]).kind in ELECTRODES
        ]
        self.pairs = list(dict.fromkeys(pairs))
        self.feeds = list(_feed_resistors(self.circuit))
        self.stages = list(_resistor_stages(reading))
        # The collector that drives a base directly rests at that base's voltage, which may be a junction's drop.
        bases = {part.net("b") for part in self.circuit.parts if part.kind in GROUPS["bipolar"]}
        on = Counter(terminal.net for part in self.circuit.parts for terminal in part.terminals)
        stopped = {net for net in bases if on[net] == 2}
        self.bases = bases | {far for _, far in _resistors_out_of(stopped, self.circuit)}
        self.stacked = any(block.sort == "output" and len(block.devices) >= 2 for block in reading.blocks)
        # A pair in class B idles off, by intention.
        self.may_idle = {ref for block in reading.blocks if block.sort == "output" for ref in block.devices}
        acting = {ref for block in reading.blocks if block.sort in _ACTING for ref in block.devices}
        self.beside = {ref for block in reading.blocks for ref in block.devices} - acting
        self.beside |= _swayed(self.circuit, restless_devices(reading, patterns))
        self.audible = self.circuit.band is not None and self.circuit.band[1] <= AUDIO
        self.biased = tuple(divided_stages(reading, self.beside))
        self.pairs_at_work = [item for item in reading.classes if len(item.devices) == 2 and item.swing]
        junctions = {part.ref for part in self.circuit.parts if part.kind in GROUPS["junction"] | GROUPS["amplifying"]}
        biasing = [block for block in reading.blocks if block.sort == "bias" and junctions & set(block.parts)]
        self.kept_idling = {ref for block in biasing for ref in block.serves}
        rails = [supply.volts for supply in self.circuit.supplies]
        self.two_sided = max([*rails, 0.0]) > 0 > min([*rails, 0.0])
        self.span = max([*rails, 0.0]) - min([*rails, 0.0])

    def of(self, point: OperatingPoint) -> frozenset[str]:
        """The oddities at one operating point."""
        if point.status == "not solved":
            return frozenset(("not solved",))
        found = set(self._states(point)) | set(self._shares(point)) | set(self._loads(point))
        found |= set(self._biases(point)) | set(self._idling(point)) | set(self._heat(point))
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
            top = self._far_end(load, part.net(collecting)) if load else ""
            whole = abs(point.voltage(top)) if load else self.span
            if load and self.two_sided:
                bottom = self._far_end(foot, part.net(emitting)) if foot else part.net(emitting)
                whole = max(whole, abs(point.voltage(top, bottom)))
            across = abs(point.voltage(part.net(collecting), part.net(emitting)))
            least = 0.0 if part.net(collecting) in self.bases else _LEFT[0]
            if load and whole and not least < across / whole < _LEFT[1]:
                yield f"{ref} has {'next to none' if across / whole < 0.5 else 'nearly all'} of its supply across it"
            if foot and self.span:
                drop = abs(point.voltage(part.net(emitting), self._far_end(foot, part.net(emitting))))
                if drop > _MOST_BELOW * self.span:
                    yield f"{foot} below {ref} takes much of the supply"

        for ref in self.feeds:
            volts = abs(point.voltage(*(terminal.net for terminal in self.circuit.part(ref).terminals)))
            if volts > _MOST_BELOW * self.span:
                yield f"{ref} takes much of the supply"

    def _biases(self, point: OperatingPoint) -> Iterator[str]:
        """Dividers that are too weak for their base, or carry as much as the device; loads that drop too little."""
        for stage in self.biased:
            collector, base = (abs(point.current(stage.ref, name)) for name in ("c", "b"))
            divider = min(abs(point.current(ref)) for ref in stage.divider)
            if divider < _STIFFEST_NEEDED * base and not stage.follows:
                yield f"the base of {stage.ref} draws most of what its divider carries"
            elif divider > _MOST_OF_THE_DEVICE * collector > 0:
                yield f"the divider of {stage.ref} carries as much as {stage.ref} itself"
            if stage.load and self._drop(point, stage.load) < _LEAST_LOAD * self._drop(point, stage.foot):
                yield f"{stage.load} drops much less than {stage.foot}, so that {stage.ref} hardly amplifies"

    def _drop(self, point: OperatingPoint, ref: str) -> float:
        return abs(point.voltage(*(terminal.net for terminal in self.circuit.part(ref).terminals)))

    def _idling(self, point: OperatingPoint) -> Iterator[str]:
        """Pairs that idle far above a full swing in class A, or not at all although something biases them."""
        for item in self.pairs_at_work:
            assert item.swing is not None
            idle = max(abs(point.current(ref)) for ref in item.devices)
            names = " and ".join(item.devices)
            if item.volts and item.ohms and is_far_too_much(idle, item.swing, item.volts, item.ohms):
                yield f"{names} idle at far too much for their load"
            elif self.audible and idle < _LEAST_IDLE * item.swing and set(item.devices) <= self.kept_idling:
                yield f"{names} are biased and do not idle"

    def _heat(self, point: OperatingPoint) -> Iterator[str]:
        """Resistors that would glow, and light-emitting diodes that carry too much."""
        for part in self.circuit.parts:
            if part.kind == "resistor" and part.value and "W" not in part.ratings and len(part.terminals) == 2:
                if self._drop(point, part.ref) ** 2 > HOT_RESISTOR * part.value:
                    yield f"{part.ref} would glow"
            elif part.kind == "led" and abs(point.current(part.ref)) > _MOST_OF_AN_LED:
                yield f"the LED {part.ref} carries too much"

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


class DividedStage(NamedTuple):
    """A bipolar stage whose base is held by a divider of two resistors and whose emitter has one: designators.

    `load` is a resistor from its collector alone to a rail, "" where there is none; `follows` says that its collector
    is on a rail.
    """

    ref: str
    divider: tuple[str, str]
    foot: str
    load: str
    follows: bool


def divided_stages(reading: Reading, beside: Collection[str]) -> Iterator[DividedStage]:
    """The stages with a divider, by their connections alone; those of other work than a stage's are left out."""
    circuit = reading.circuit
    wiring = Wiring(circuit)
    rails = _rails(circuit)
    fed = rails | _fed(circuit, rails)
    others = {ref for block in reading.blocks if block.sort not in _SINGLE for ref in block.devices} | set(beside)
    devices = [part for part in circuit.parts if main_path(part)]
    for part in devices:
        if part.kind not in GROUPS["bipolar"] or part.ref in others:
            continue
        base, emitter = (set(wiring.walk(part.net(name), _through_links)) for name in ("b", "e"))
        divider, feet = _resistors_out_of(base, circuit), _resistors_out_of(emitter, circuit)
        ends = [far for _, far in divider]
        shared = any(device is not part and _touches(device, base | emitter - fed) for device in devices)
        if len(divider) != 2 or len(set(ends)) < 2 or not set(ends) <= fed or base & rails or shared:
            continue
        if len(feet) != 1 or feet[0][1] not in rails or emitter & rails:
            continue
        loads = [item for item in _resistors_out_of({part.net("c")}, circuit) if item[1] in fed]
        collector = set(wiring.walk(part.net("c"), _through_links))
        alone = not any(device is not part and collector & set(main_path(device)) for device in devices)
        load = loads[0][0].ref if len(loads) == 1 and alone and not collector & fed else ""
        yield DividedStage(
            part.ref, (divider[0][0].ref, divider[1][0].ref), feet[0][0].ref, load, part.net("c") in rails
        )


def _through_links(part: Part) -> Iterator[tuple[str, ...]]:
    """The nets that a part joins for direct current without a drop."""
    return conducting_sets(part) if is_link(part) else iter(())


def _touches(device: Part, nets: set[str]) -> bool:
    return any(terminal.net in nets for terminal in device.terminals)


def _resistors_out_of(nets: set[str], circuit: Circuit) -> list[tuple[Part, str]]:
    """The resistors of known value that lead out of some nets, each with the net of its other end."""
    found = []
    for part in circuit.parts:
        if part.kind == "resistor" and part.value and len(part.terminals) == 2:
            first, second = (terminal.net for terminal in part.terminals)
            if (first in nets) != (second in nets):
                found.append((part, second if first in nets else first))
    return found


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
