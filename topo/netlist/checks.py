"""What is worth asking about a circuit before anything is computed: warnings on its graph, without voltages."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from topo.errors import Place, Problem
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.netlist.kinds import ELECTRODES, GROUPS, kind_word, letters_of, terminal_word
from topo.netlist.lines import source_at
from topo.netlist.spelling import NearNames
from topo.netlist.wiring import OPEN_ENDED, Wiring, conducting_sets, is_link, main_path

GROUND_NAMES = frozenset(("gnd", "ground", "earth", "0"))
# Names that drawings give to supply rails (common practice).
_RAIL_NAME = re.compile(
    r"v(?:cc|dd|ee|ss|bb)\d*|b\+|b-|ht\+?|hv\+?|[+-]\d+(?:[.v]\d+)?v?|\d+(?:\.\d+)?v", re.IGNORECASE
)
# Kinds of which an end may be left open on purpose.
_MAY_BE_OPEN = OPEN_ENDED | frozenset(("relay", "selector", "antenna", "opamp"))
# Parts of which one can be the start of a rail.
_FEEDS = frozenset(("battery", "source", "current", "regulator")) | GROUPS["junction"] | OPEN_ENDED
# A run of designators that starts no later than this starts at 1.
_FIRST_NUMBERS = 4
# More nets than this with a single connection are not compared one by one in words.
_MOST_NEAR_NAMES = 3


def check(circuit: Circuit, gaps: bool = False) -> tuple[Problem, ...]:
    """The warnings that a circuit's connections alone give rise to, in the order of their lines.

    `gaps` adds a note of the designators that are missing between the first and the last of each letter.
    """
    return Checker(circuit).run(gaps)


class Checker:
    """The checks of one circuit."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.wiring = Wiring(circuit)
        self.found: list[Problem] = []

    def run(self, gaps: bool) -> tuple[Problem, ...]:
        """Run every check."""
        self._supplies_and_ground()
        self._band()
        self._ends()
        self._lonely_nets()
        self._empty_ports()
        self._islands()
        self._control_electrodes()
        self._device_supplies()
        self._shorted_supplies()
        self._nameless_rails()
        if gaps:
            self._gaps()
        return tuple(sorted(self.found, key=lambda problem: (problem.place.line, problem.place.column)))

    # -- how a warning is noted --------------------------------------------------------------------------------------

    def _warn(
        self, code: str, message: str, at: Part | Place | None = None, terminal: Terminal | None = None, mend: str = ""
    ) -> None:
        """Note a warning about a part, one of its terminals, a place, or the whole file."""
        source, place = "", Place(self.circuit.file)
        if isinstance(at, Part):
            place = terminal.place if terminal is not None else at.place
            if at.source and place.line:
                source = source_at(at.source, at.place.line, place.line)
        elif at is not None:
            place, source = at, self.circuit.lines.get(at.line, "")
        self.found.append(Problem(place, message, "", mend, source, "warning", code))

    # -- supplies, ground, band --------------------------------------------------------------------------------------

    def _supplies_and_ground(self) -> None:
        circuit = self.circuit
        if not circuit.parts:
            self._warn("no-parts", "there is no part in the circuit.", mend="Write parts:  R1 47k : vcc base1")
            return
        sources = any(part.kind in GROUPS["voltage source"] for part in circuit.parts)
        if not circuit.supplies and not sources:
            self._warn("no-supply", "no supply is said.", mend="Add  supply NET VOLTAGE, such as: supply vcc 9V")
        if circuit.ground not in self.wiring.on_net or not self.wiring.on_net[circuit.ground]:
            mend = "Call the reference net gnd, or add  ground NET"
            self._warn("no-ground", "nothing is connected to the ground.", mend=mend)
        for supply in circuit.supplies:
            if supply.net == circuit.ground:
                self._warn("supply-is-ground", f"the supply {supply.net} is joined to the ground.", supply.place)
        if circuit.ground.casefold() not in GROUND_NAMES:
            for net in circuit.nets:
                if net.casefold() in GROUND_NAMES:
                    message = f"{net} is a net of its own here, since {circuit.ground} is said to be the ground."
                    mend = f"Write  join {circuit.ground} {net}   if they are one."
                    self._warn("two-grounds", message, *self._first_on(net), mend=mend)

    def _first_on(self, net: str) -> tuple[Part | Place | None, Terminal | None]:
        """The first terminal on a net, or else the place that names it."""
        on = self.wiring.on_net.get(net)
        return on[0] if on else (self.circuit.net_places.get(net), None)

    def _band(self) -> None:
        if self.circuit.parts and not self.circuit.bands:
            mend = "Add  signal F1 to F2, such as: signal 300Hz to 3.4kHz"
            self._warn("band-asked", "the band of the wanted signal is not said.", mend=mend)

    def _nameless_rails(self) -> None:
        """A net that is named like a rail and has no supply."""
        for net, on in self.wiring.on_net.items():
            if net in self.wiring.rails or len(on) < 2 or not _RAIL_NAME.fullmatch(net):
                continue
            if not any(part.kind in _FEEDS for part, _ in on) and not self._fed_by_supply(net):
                mend = f"Add  supply {net} VOLTAGE"
                self._warn(
                    "rail-without-supply", f"{net} is named like a supply rail and has no supply.", *on[0], mend=mend
                )

    def _fed_by_supply(self, net: str) -> bool:
        return any(other in self.wiring.supply_nets for other in self.wiring.walk(net, conducting_sets))

    # -- parts and nets ----------------------------------------------------------------------------------------------

    def _ends(self) -> None:
        """Parts with both ends on one net."""
        for part in self.circuit.parts:
            if part.kind in OPEN_ENDED or len(part.terminals) < 2:
                continue
            for joined, what in _ends_of(part):
                if len(joined) > 1 and len(set(joined)) == 1:
                    message = f"{what} has both ends on the net {joined[0]}."
                    self._warn("both-ends", message, part)

    def _lonely_nets(self) -> None:
        """Nets with a single connection, and the names that may have been meant."""
        ends = [port.net for port in (*self.circuit.inputs, *self.circuit.outputs)]
        ends += [port.reference for port in (*self.circuit.inputs, *self.circuit.outputs)]
        said = self.wiring.rails | frozenset(ends)
        lonely = [net for net, on in self.wiring.on_net.items() if len(on) == 1 and net not in said]
        if not lonely:
            return
        near_names = NearNames(self.circuit.nets)
        paired: set[str] = set()
        for net in lonely:
            part, terminal = self.wiring.on_net[net][0]
            unnamed = net.casefold() == f"{part.ref}.{terminal.name}".casefold()
            near = [] if unnamed else [name for name in near_names.near(net) if "." not in name][:_MOST_NEAR_NAMES]
            if net in paired or (unnamed and part.kind in _MAY_BE_OPEN):
                continue
            where = f"{terminal_word(part.kind, terminal.name)} of {part.ref}"
            if near:
                paired.update(near)
                message = f"the net {net} has a single connection ({where})."
                meant = " or ".join(self._with_line(name) for name in near)
                self._warn("near-name", message, part, terminal, f"Did you mean {meant.rstrip(',')}?")
            elif unnamed:
                self._warn("unconnected", f"the {where} is connected to nothing.", part, terminal)
            else:
                message = f"the net {net} has a single connection ({where})."
                self._warn("single-connection", message, part, terminal)

    def _with_line(self, net: str) -> str:
        """A net of a single connection with the line of that; the name alone of any other."""
        on = self.wiring.on_net.get(net, [])
        line = on[0][1].place.line if len(on) == 1 else 0
        return f"{net}, line {line}," if line else net

    def _empty_ports(self) -> None:
        """Supplies and ports on nets to which nothing is connected."""
        circuit = self.circuit
        said = [("supply", supply.net, supply.place) for supply in circuit.supplies]
        said += [("input", port.net, port.place) for port in circuit.inputs]
        said += [("output", port.net, port.place) for port in circuit.outputs]
        used = [net for net, on in self.wiring.on_net.items() if on]
        for what, net, place in said:
            if not self.wiring.on_net.get(net) and circuit.parts:
                from topo.netlist.spelling import did_you_mean

                near = " or ".join(NearNames(used).near(net)[:_MOST_NEAR_NAMES])
                mend = f"Did you mean {near}?" if near else did_you_mean(net, used)
                self._warn("empty-port", f"nothing is connected to the {what} net {net}.", place, mend=mend)

    def _islands(self) -> None:
        """Groups of parts that nothing joins to the ground or to a supply."""
        rails = [net for net in self.wiring.rails if self.wiring.on_net.get(net)]
        if not rails:
            return
        reached: set[str] = set()
        for rail in sorted(rails):
            if rail not in reached:
                reached.update(self.wiring.walk(rail, _all_nets, through_rails=True))
        left = [part for part in self.circuit.parts if part.terminals and part.terminals[0].net not in reached]
        while left:
            nets = set(self.wiring.walk(left[0].terminals[0].net, _all_nets, through_rails=True))
            group = [part for part in left if part.terminals[0].net in nets]
            names = _listed(part.ref for part in group)
            verb = "is" if len(group) == 1 else "are"
            self._warn("island", f"{names} {verb} joined to the ground and the supplies by nothing.", group[0])
            left = [part for part in left if part.terminals[0].net not in nets]

    # -- devices -----------------------------------------------------------------------------------------------------

    def _control_electrodes(self) -> None:
        """Bases, gates and grids without a path for direct current."""
        answers: dict[str, bool] = {}
        for part in self.circuit.parts:
            if part.kind in ELECTRODES:
                names: tuple[str, ...] = (ELECTRODES[part.kind][0],)
            else:
                names = ("in+", "in-") if part.kind == "opamp" else ()
            for terminal in part.terminals:
                if terminal.name in names and not self._has_dc_path(terminal.net, answers):
                    self._warn_no_path(part, terminal)

    def _warn_no_path(self, part: Part, terminal: Terminal) -> None:
        word = terminal_word(part.kind, terminal.name).replace("terminal", "input")
        message = (
            f"the {word} of {part.ref} has no path for direct current to a supply, the ground or another electrode."
        )
        inputs = [port.net for port in self.circuit.inputs]
        mend = "Is a bias resistor missing?"
        if terminal.net in inputs:
            mend = "Is a bias resistor missing, or does the source that drives the input give the path?"
        self._warn("no-dc-path", message, part, terminal, mend)

    def _has_dc_path(self, start: str, answers: dict[str, bool]) -> bool:
        """Whether a net leads to a supply, the ground, or an electrode that carries current."""
        if start in answers:
            return answers[start]
        met = list(self._walk_until_fixed(start))
        fixed = self._is_fixed(met[-1])
        if not fixed:
            answers.update(dict.fromkeys(met, False))
        answers[start] = fixed
        return fixed

    def _walk_until_fixed(self, start: str) -> Iterator[str]:
        for net in self.wiring.walk(start, conducting_sets):
            yield net
            if self._is_fixed(net):
                return

    def _is_fixed(self, net: str) -> bool:
        """Whether something on a net gives it a voltage."""
        if net in self.wiring.rails:
            return True
        return any(_gives_voltage(part, terminal) for part, terminal in self.wiring.on_net.get(net, ()))

    def _device_supplies(self) -> None:
        """Devices whose collecting or emitting electrode leads nowhere, or to no supply."""
        sources = any(part.kind in _FEEDS - GROUPS["junction"] for part in self.circuit.parts)
        if not self.circuit.supplies and not sources:
            return
        for part in self.circuit.parts:
            path = main_path(part)
            if not path or part.net(ELECTRODES[part.kind][0]) == path[0] == path[1]:
                continue
            _, emitting, collecting = ELECTRODES[part.kind]
            rails = {name: self._feeds_of(part, net) for name, net in zip((collecting, emitting), path, strict=True)}
            for name, feeds in rails.items():
                if not feeds:
                    terminal = next(item for item in part.terminals if item.name == name)
                    message = f"the {terminal_word(part.kind, name)} of {part.ref} has no path for direct current."
                    self._warn("no-device-path", message, part, terminal)
            if all(rails.values()) and set().union(*rails.values()) == {self.circuit.ground}:
                self._warn("no-device-supply", f"{part.ref} leads to the ground on both sides and to no supply.", part)

    def _feeds_of(self, device: Part, start: str) -> frozenset[str]:
        """The rails and other feeds that a net leads to without passing through one device; enough of them to tell."""

        def conducts(part: Part) -> Iterable[tuple[str, ...]]:
            if part is device:
                return ()
            path = main_path(part)
            if part.kind in GROUPS["bipolar"]:
                path = (*path, part.net("b"))  # the base-emitter junction conducts too, as in a Darlington pair
            return (path,) if path else conducting_sets(part)

        found: set[str] = set()
        for net in self.wiring.walk(start, conducts):
            if net in self.wiring.rails or any(
                part.kind in _FEEDS - GROUPS["junction"] or part.kind == "opamp" for part, _ in self.wiring.on_net[net]
            ):
                found.add(net)
            if len(found) > (self.circuit.ground in found):
                break
        return frozenset(found)

    def _shorted_supplies(self) -> None:
        """Supplies that windings, closed switches, fuses and links join to the ground or to another supply."""
        said: set[frozenset[str]] = set()

        def conducts(part: Part) -> Iterable[tuple[str, ...]]:
            return conducting_sets(part) if is_link(part) else ()

        for supply in self.circuit.supplies:
            for net in self.wiring.walk(supply.net, conducts):
                differs = net == self.circuit.ground or self.wiring.supply_nets.get(net, supply.volts) != supply.volts
                if net == supply.net or not differs or frozenset((net, supply.net)) in said:
                    continue
                said.add(frozenset((net, supply.net)))
                message = (
                    f"nothing but wire, windings or closed contacts stands between the supply {supply.net} and {net}."
                )
                self._warn("supply-shorted", message, supply.place)

    # -- designators -------------------------------------------------------------------------------------------------

    def _gaps(self) -> None:
        """A note of the designators missing in each run of letters."""
        runs: dict[str, list[int]] = {}
        for part in self.circuit.parts:
            letters = letters_of(part.ref)
            number = part.ref[len(letters) :]
            if "." not in part.ref and number.isascii() and number.isdigit() and len(number) < 6:
                runs.setdefault(letters, []).append(int(number))
        for letters, numbers in runs.items():
            there = set(numbers)
            first = 1 if min(there) <= _FIRST_NUMBERS else min(there)
            missing = [f"{letters}{number}" for number in range(first, max(there)) if number not in there]
            if missing and len(missing) <= len(there):
                between = f"between {letters}{first} and {letters}{max(there)}"
                verb = "is" if len(missing) == 1 else "are"
                message = f"{_listed(missing)} {verb} not there, {between}."
                self.found.append(Problem(Place(self.circuit.file), message, severity="note", code="designator-gap"))


def _ends_of(part: Part) -> Iterator[tuple[tuple[str, ...], str]]:
    """The pairs or sets of nets that ought to differ, and what they are the ends of."""
    if part.windings:
        for winding in part.windings:
            named = part.ref if len(part.windings) == 1 else f"winding {winding.name[1:]} of {part.ref}"
            yield (part.net(winding.terminals[0]), part.net(winding.terminals[-1])), named
    elif part.kind in ELECTRODES:
        yield main_path(part), f"the path from {' to '.join(_main_words(part))} of {part.ref}"
    elif part.kind == "potentiometer":
        yield tuple(terminal.net for terminal in part.terminals), f"{part.ref} ({kind_word(part.kind)})"
    elif len(part.terminals) == 2:
        yield tuple(terminal.net for terminal in part.terminals), part.ref


def _main_words(part: Part) -> tuple[str, str]:
    _, emitting, collecting = ELECTRODES[part.kind]
    return terminal_word(part.kind, collecting), terminal_word(part.kind, emitting)


def _all_nets(part: Part) -> Iterable[tuple[str, ...]]:
    """All nets of a part as one set: joined by anything at all."""
    return (tuple(terminal.net for terminal in part.terminals),)


def _gives_voltage(part: Part, terminal: Terminal) -> bool:
    """Whether a terminal of a part holds the net that it is on."""
    if part.kind in ELECTRODES:
        return terminal.name in ELECTRODES[part.kind][1:]
    if part.kind == "opamp":
        return terminal.name == "out"
    return part.kind in OPEN_ENDED or part.kind in ("battery", "source", "current", "regulator")


def _listed(names: Iterable[str], most: int = 12) -> str:
    """Names as a list in words, cut where it gets long."""
    every = list(names)
    if len(every) > most:
        return f"{', '.join(every[:most])} and {len(every) - most} more"
    return " and ".join((", ".join(every[:-1]), every[-1])) if len(every) > 1 else every[0]
