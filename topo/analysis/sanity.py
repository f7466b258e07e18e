"""What is worth asking about a circuit once its operating point is known: parts turned round, values that slipped."""

from __future__ import annotations

import math
from collections.abc import Iterator

from topo.analysis.decades import decade_changes
from topo.analysis.operating_point import OperatingPoint
from topo.errors import Place, Problem
from topo.graph.graph import Element
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS, is_polarity_n, terminal_word
from topo.quantities import show

# Volts of reverse bias on a control junction that no amplifier intends at rest; the idle half of a complementary
# pair without bias has one junction drop, about 0.6 V.
REVERSED_JUNCTION = 1.0
# Reverse volts that an aluminium electrolytic capacitor bears, and that show which way round it was meant
# (common practice).
REVERSED_ELECTROLYTIC, TURNED_ELECTROLYTIC = 1.0, 0.2
# Control voltage below which a device without idle current is off by intention (class B and C), volts.
OFF_BY_INTENTION = 0.05
# Amperes from a supply that only a short circuit draws in the circuits of this tool.
SHORT_CIRCUIT = 50.0
# Watts in a resistor of no stated rating that ask for a second look at its value.
HOT_RESISTOR = 10.0
# Devices whose neighbours' values are tried ten times larger and smaller, and values tried for each.
MOST_DEVICES, MOST_VALUES = 3, 8


def check_with_point(circuit: Circuit, point: OperatingPoint) -> tuple[Problem, ...]:
    """The warnings and notes that a circuit's voltages at rest give rise to, in the order of their lines.

    Junctions and electrolytics with reverse voltage, ratings exceeded, devices that are saturated or off, and, for
    those, the single value that ten times larger or smaller would put them right. Where the operating point is not
    known nothing is said but what it lacks.
    """
    found = [_note(missing, circuit) for missing in point.missing]
    if point.status != "not solved":
        found += _Sanity(circuit, point).problems()
    return tuple(sorted(found, key=lambda problem: (problem.place.line, problem.place.column)))


def _note(message: str, circuit: Circuit) -> Problem:
    text = message if message.endswith((".", "?")) else f"{message}."
    words = [word.strip(".,;:?()") for word in text.split()]
    part = next((circuit.by_ref[word] for word in words if word in circuit.by_ref), None)
    if part is None:
        return Problem(Place(circuit.file), text, severity="note", code="not-computed")
    return _about(part, "not-computed", text, severity="note")


def _about(part: Part, code: str, message: str, mend: str = "", severity: str = "warning") -> Problem:
    source = part.source.split("\n")[0]
    return Problem(part.place, message, "", mend, source, severity, code)


class _Sanity:
    """The checks of one circuit at one operating point."""

    def __init__(self, circuit: Circuit, point: OperatingPoint) -> None:
        self.circuit = circuit
        self.point = point
        self.amplifies = bool(circuit.inputs and circuit.outputs) or any(
            part.kind in GROUPS["transducer"] for part in circuit.parts
        )

    def problems(self) -> Iterator[Problem]:
        """Every problem, part by part."""
        yield from self._supplies()
        for part in self.circuit.parts:
            if part.kind in GROUPS["bipolar"]:
                yield from self._bipolar_junction(part)
            elif part.kind == "zener":
                yield from self._zener(part)
            elif part.kind == "capacitor":
                yield from self._capacitor(part)
            elif part.kind == "resistor":
                yield from self._resistor(part)
        yield from self._states()

    def _volts(self, part: Part, first: str, second: str) -> float:
        """Volts from one terminal to another; NaN where not known."""
        return self.point.voltage(part.net(first), part.net(second))

    def _supplies(self) -> Iterator[Problem]:
        for net, amperes in self.point.supply_currents.items():
            if abs(amperes) > SHORT_CIRCUIT:
                place = next((supply.place for supply in self.circuit.supplies if supply.net == net), Place())
                message = f"the supply {net} would have to give {show(abs(amperes), 'A', 2)}: it is as good as shorted."
                yield Problem(place, message, severity="warning", code="supply-overloaded")

    # -- parts turned round ------------------------------------------------------------------------------------------

    def _bipolar_junction(self, part: Part) -> Iterator[Problem]:
        """A transistor whose base-emitter junction is reverse biased, or which works upside down."""
        sign = 1.0 if is_polarity_n(part.kind) else -1.0
        forward = sign * self._volts(part, "b", "e")
        if forward < -REVERSED_JUNCTION:
            other = "pnp" if sign > 0 else "npn"
            message = (
                f"the base-emitter junction of {part.ref} has {show(-forward, 'V', 2)} of reverse voltage at rest."
            )
            yield _about(
                part,
                "junction-reversed",
                message,
                f"Is {part.ref} {self._voted(other)}, or are collector and emitter exchanged?",
            )
        elif self._state(part) == "reversed":
            message = f"{part.ref} works upside down: its collector does what its emitter should."
            yield _about(
                part, "device-reversed", message, "Are collector and emitter exchanged, or is the polarity wrong?"
            )

    def _voted(self, other: str) -> str:
        """The other polarity, with how many of the other transistors have it."""
        same = sum(part.kind == other for part in self.circuit.parts)
        total = sum(part.kind in GROUPS["bipolar"] for part in self.circuit.parts)
        article = "an" if other == "npn" else "a"
        return f"{article} {other}, as {same} of the {total} are" if same * 2 > total else f"{article} {other}"

    def _zener(self, part: Part) -> Iterator[Problem]:
        if self._state(part) == "forward" and self._current(part) > 1e-4:
            message = (
                f"the zener diode {part.ref} conducts forwards, {show(self._volts(part, 'a', 'k'), 'V', 2)} across it."
            )
            yield _about(part, "zener-reversed", message, "Are its ends exchanged?")

    def _capacitor(self, part: Part) -> Iterator[Problem]:
        first, second = (terminal.name for terminal in part.terminals)
        volts = self._volts(part, first, second)
        if part.settings.get("polarised") and volts < -TURNED_ELECTROLYTIC:
            borne = ", no more than it bears" if volts >= -REVERSED_ELECTROLYTIC else ""
            message = f"the electrolytic {part.ref} has {show(-volts, 'V', 2)} the wrong way round at rest{borne}."
            mend = f"Write  {part.ref} ... : {part.net(second)} {part.net(first)}   if its ends are exchanged."
            yield _about(part, "electrolytic-reversed", message, mend)
        rating = part.ratings.get("V")
        if rating is not None and abs(volts) > rating:
            message = (
                f"{part.ref} is rated at {show(rating, 'V')} and has {show(abs(volts), 'V', 2)} across it at rest."
            )
            yield _about(part, "rating-exceeded", message)

    def _resistor(self, part: Part) -> Iterator[Problem]:
        if not part.value or len(part.terminals) != 2:
            return
        volts = self._volts(part, "1", "2")
        if math.isnan(volts):
            return
        watts, rating = volts * volts / part.value, part.ratings.get("W")
        shown = f"{part.ref} ({show(part.value, 'ohm')}) would turn {show(watts, 'W', 2)} into heat"
        if rating is not None and watts > rating:
            yield _about(
                part, "rating-exceeded", f"{shown}; it is rated at {show(rating, 'W')}.", "Is its value right?"
            )
        elif rating is None and watts > HOT_RESISTOR:
            yield _about(part, "hot-resistor", f"{shown}.", "Is its value right?")

    # -- values that slipped -----------------------------------------------------------------------------------------

    def _element(self, part: Part) -> Element | None:
        index = self.point.graph.element_of.get(part.ref)
        return None if index is None else self.point.graph.elements[index]

    def _state(self, part: Part) -> str:
        element = self._element(part)
        return "" if element is None else self.point.states.get(element.index, "")

    def _current(self, part: Part) -> float:
        return abs(self.point.current(part.ref))

    def _states(self) -> Iterator[Problem]:
        """Devices that are saturated, or off though something biases them."""
        searched = 0
        for part in self.circuit.parts:
            if part.kind not in ELECTRODES:
                continue
            message = self._idle_message(part)
            if not message:
                continue
            mend = ""
            if self.amplifies and searched < MOST_DEVICES:
                searched += 1
                mend = self._slip(part)
            state = self._state(part)
            severity = "warning" if self.amplifies and (mend or state == "saturated") else "note"
            yield _about(part, f"device-{state}", message, mend, severity)

    def _idle_message(self, part: Part) -> str:
        """What is odd about a device's state at rest; "" where nothing is."""
        control, emitting, collecting = ELECTRODES[part.kind]
        state = self._state(part)
        across, driven = abs(self._volts(part, collecting, emitting)), self._volts(part, control, emitting)
        if state == "saturated" and part.kind in GROUPS["bipolar"]:
            ends = f"{terminal_word(part.kind, collecting)} and {terminal_word(part.kind, emitting)}"
            return f"{part.ref} is saturated at rest: {show(across, 'V', 2)} between {ends}."
        if state == "off" and part.kind in GROUPS["bipolar"]:
            sign = 1.0 if is_polarity_n(part.kind) else -1.0
            if sign * driven > OFF_BY_INTENTION:
                return f"{part.ref} is off at rest, with {show(abs(driven), 'V', 2)} between base and emitter."
        return ""

    def _slip(self, part: Part) -> str:
        """The resistors beside a device of which ten times more or less would put it right, in words."""
        found = [
            f"{show(change.value, 'ohm')} for {change.part.ref}"
            for change in decade_changes(self.circuit, self._neighbours(part))
            if self._all_right(part, change.point)
        ]
        if not found:
            return ""
        return f"It would not be with {' or '.join(found[:3])}: has a value slipped by ten?"

    def _neighbours(self, part: Part) -> list[Part]:
        """The resistors on the nets of a device, nearest to its control electrode first."""
        control, emitting, collecting = (part.net(name) for name in ELECTRODES[part.kind])
        nets = dict.fromkeys((control, emitting, collecting))
        rails = {self.circuit.ground, *(supply.net for supply in self.circuit.supplies)}
        beside = []
        for net in nets:
            for item in self.circuit.parts:
                on = net not in rails and any(terminal.net == net for terminal in item.terminals)
                if on and item.kind == "resistor" and item.value and item not in beside:
                    beside.append(item)
        return beside[:MOST_VALUES]

    def _all_right(self, part: Part, again: OperatingPoint) -> bool:
        """Whether a device works after a change, and every device that worked still does."""
        if again.status != self.point.status:
            return False
        for item in self.circuit.parts:
            if item.kind not in ELECTRODES:
                continue
            index = again.graph.element_of.get(item.ref)
            state = "" if index is None else again.states.get(index, "")
            wanted = item is part or self._state(item) == "on"
            if wanted and state != "on":
                return False
        return True
