"""A section cut out of a receiver: the rest is summed up, at each net that both share, as a source, a load or a supply.

At direct current what the rest shows is an ideal source behind a resistance (Thevenin's theorem), so that everything in
the section rests as before; at the middle of the section's band it is an impedance, behind which the signal comes in,
or into which it goes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from topo.graph.graph import Graph
from topo.netlist.circuit import GROUND, Circuit, Part, Port, Supply, Terminal
from topo.quantities import show
from topo.reading.flow import electrode, is_device
from topo.reading.reading import Reading
from topo.reduction.reduction import Entry, Reduction

STEADY_HERTZ = 1e-6
"""Low enough for direct current."""
NO_PATH_OHM = 50e6
"""A rest of more than this at direct current feeds nothing."""
NEGLIGIBLE = 0.05
"""A part of an impedance under this share of it is left out of what stands for it."""
BLOCKING = 0.01
"""Reactance of a blocking capacitor as a share of the impedance that it leads to."""
APART = 20.0
"""A feed of less than this times the impedance at the signal is kept apart from it by a choke."""
FIRST_NUMBER = 901


@dataclass(frozen=True)
class Stand:
    """What stands for the rest of the circuit at one net: `what` is "supply", "source", "load" or "feed"; direct volts
    and ohms behind them (None for none), impedance in ohm at `hertz` (None for a supply), the parts made for it."""

    net: str
    what: str
    volts: float
    ohms: float | None
    impedance: complex | None
    hertz: float | None
    parts: tuple[str, ...]

    @property
    def words(self) -> str:
        """The stand in a sentence."""
        steady = f"{show(self.volts, 'V')} at direct current"
        if self.what == "supply":
            return f"Supply at {self.net}: {steady}, as in the whole circuit."
        feed = "no feed at direct current" if self.ohms is None else f"{steady} behind {show(self.ohms, 'ohm', 3)}"
        if self.impedance is None or self.hertz is None:
            return f"{_TITLES[self.what]} at {self.net}: {feed}."
        return f"{_TITLES[self.what]} at {self.net}: {_polar(self.impedance)} at {show(self.hertz, 'Hz', 3)}; {feed}."


_TITLES = {"source": "Source", "load": "Load", "feed": "Rest of the circuit"}


def _polar(z: complex) -> str:
    """An impedance in words: resistance and reactance, the smaller left out where it is next to nothing."""
    real, imaginary = f"{show(abs(z.real), 'ohm', 3)}", f"{show(abs(z.imag), 'ohm', 3)}"
    kind = "inductive" if z.imag > 0 else "capacitive"
    if abs(z.imag) <= NEGLIGIBLE * abs(z):
        return real
    return f"{imaginary} {kind}" if abs(z.real) <= NEGLIGIBLE * abs(z) else f"{real} and {imaginary} {kind}"


def cut(reading: Reading, names: Sequence[str]) -> Reduction:
    """Some sections of a receiver by themselves, as a circuit that rests and works as they do in the whole.

    Args:
        names: names of sections of the reading.
    Returns:
        A reduction whose ledger accounts for every part of the whole: those of the sections are kept, the others
        omitted, summed up in what stands for them; the proof compares rest and gain with those of the whole.
    """
    return _Cut(reading, tuple(names)).reduction()


class _Cut:
    """The work of one cut."""

    def __init__(self, reading: Reading, names: tuple[str, ...]) -> None:
        from topo.analysis import linearise

        self.reading, self.names = reading, names
        self.views, self.graph, self.point = reading.views, reading.views.graph, reading.views.point
        self.refs = {ref for section in reading.sections if section.name in names for ref in section.parts}
        self.own = frozenset(self.graph.element_of[ref] for ref in self.refs if ref in self.graph.element_of)
        self.rest = linearise(self.graph, self.point, driven=self.views.driven, without=self.own)
        self.entry, self.exit, self.bands = self._ends()
        self.number = FIRST_NUMBER
        self.paired: set[tuple[int, int]] = set()
        self.reference = GROUND
        self.made: list[Part] = []
        self.supplies: list[Supply] = []

    # -- where the signal comes in and goes out -------------------------------------------------------------------

    def _ends(self) -> tuple[int | None, int | None, tuple[int, int]]:
        """The nodes at which the signal comes in and leaves (None where it does not), and the bands there."""
        steps = self.reading.path
        inside = [place for place, step in enumerate(steps) if set(step.refs) & self.refs]
        if not inside:
            return None, None, (0, 0)
        first, last = inside[0], inside[-1]
        before = steps[first - 1].net if first else ""
        entry = self.graph.node_of.get(before) if first else self._port(self.reading.inputs)
        leaves = last < len(steps) - 1
        exit_ = self.graph.node_of.get(steps[last].net) if leaves else self._port(self.reading.outputs)
        return entry, exit_, (steps[first].band, steps[last].band)

    def _port(self, ports: Sequence[Port]) -> int | None:
        return self.graph.node_of.get(ports[0].net) if ports else None

    # -- the new circuit ------------------------------------------------------------------------------------------

    def reduction(self) -> Reduction:
        circuit = self.reading.circuit
        parts = [
            self._moved(part) for part in circuit.parts if part.ref in self.refs and part.ref in self.graph.element_of
        ]
        shared = self._shared()
        shared.sort(key=lambda node: node != self.entry)
        stands = [stand for stand in map(self._stand, shared) if stand.parts or stand.what == "supply"]
        band = self.views.signals[self.bands[1]].band
        made = replace(
            circuit,
            title=f"{circuit.title or circuit.file}: {', '.join(self.names)}",
            parts=(*parts, *self.made),
            nets=tuple(dict.fromkeys(t.net for part in (*parts, *self.made) for t in part.terminals)),
            supplies=tuple(self.supplies),
            inputs=self._input(stands),
            outputs=() if self.exit is None else (Port(self.graph.nets[self.exit]),),
            bands={} if band is None else {None: band},
            band_assumed=False,
            sections=(),
            aliases={},
            lines={},
            warnings=(),
            notes=(),
        )
        return Reduction(
            reading=self.reading,
            detail=f"section {', '.join(self.names)}",
            circuit=made,
            ledger=self._ledger(stands),
            proof=(*(stand.words for stand in stands), *self._proof(made)),
        )

    def _moved(self, part: Part) -> Part:
        """A part with each net by the one name of its node, outside of any section of the drawing."""
        terminals = tuple(replace(t, net=self._name(t)) for t in part.terminals)
        return replace(part, terminals=terminals, section=None)

    def _name(self, terminal: Terminal) -> str:
        node = self.graph.node_of.get(terminal.net)
        return terminal.net if node is None else GROUND if node == 0 else self.graph.nets[node]

    def _shared(self) -> list[int]:
        """Nodes other than ground at which the sections meet the rest."""
        found = []
        for node in range(1, len(self.graph.nets)):
            here = {index in self.own for index, _ in self.graph.at_node[node]}
            if here == {True, False} or (True in here and (node in self.graph.rails or node == self.entry)):
                found.append(node)
        return found

    def _input(self, stands: Sequence[Stand]) -> tuple[Port, ...]:
        if self.entry is None:
            return ()
        driven = any(stand.what == "source" and stand.parts for stand in stands)
        name = self.graph.nets[self.entry]
        return (Port(f"{name}_in" if driven else name, self.reference),)

    # -- what stands for the rest ---------------------------------------------------------------------------------

    def _stand(self, node: int) -> Stand:
        net, volts = self.graph.nets[node], float(self.point.volts[node])
        if node in self.graph.rails:
            self.supplies.append(Supply(net, float(self.graph.rails[node])))
            return Stand(net, "supply", float(self.graph.rails[node]), 0.0, None, None, ())
        what = "source" if node == self.entry else "load" if node == self.exit else "feed"
        partner = self._partner(node)
        if partner is not None:
            return self._between(node, partner, what)
        hertz = self.views.signals[self.bands[0] if what == "source" else self.bands[1]].middle or 1e3
        ohms = abs(self.rest.impedance(node, 0, STEADY_HERTZ))
        z = self.rest.impedance(node, 0, hertz)
        feeds = math.isfinite(ohms) and ohms < NO_PATH_OHM
        refs: list[str] = []
        if feeds:
            behind = volts + self._current_into(node) * ohms
            refs += self._feed(net, behind, ohms, abs(z), hertz)
            volts = behind
        if what == "source" or abs(1 / z) > (1 + NEGLIGIBLE) * (1 / ohms if feeds else 0.0):
            refs += self._branch(net, f"{net}_in" if what == "source" else GROUND, z, hertz)
        return Stand(net, what, volts, ohms if feeds else None, z, hertz, tuple(refs))

    def _partner(self, node: int) -> int | None:
        """For a node that the rest does not tie to ground, the shared node to which it does (by a winding), if any."""
        if abs(self.rest.impedance(node, 0, STEADY_HERTZ)) < NO_PATH_OHM:
            return None
        ties = [
            (abs(self.rest.impedance(node, other, STEADY_HERTZ)), other) for other in self._shared() if other != node
        ]
        ohms, other = min(ties, default=(math.inf, node))
        return other if ohms < NO_PATH_OHM else None

    def _between(self, node: int, partner: int, what: str) -> Stand:
        """What stands between two shared nodes that the rest joins with each other alone, told at the first."""
        names = [self.graph.nets[node], self.graph.nets[partner]]
        hertz = self.views.signals[self.bands[0] if what == "source" else self.bands[1]].middle or 1e3
        ohms, z = abs(self.rest.impedance(node, partner, STEADY_HERTZ)), self.rest.impedance(node, partner, hertz)
        net = f"{names[0]} against {names[1]}"
        refs: list[str] = []
        if (partner, node) not in self.paired:
            self.paired.add((node, partner))
            henries = APART * APART * abs(z) / (2 * math.pi * hertz)
            refs.append(self._add("L", "choke", henries, "H", (names[0], f"{names[0]}_dc")))
            refs.append(self._add("R", "resistor", max(ohms, 0.1), "ohm", (f"{names[0]}_dc", names[1])))
            far = f"{names[0]}_in" if node == self.entry else names[1]
            refs += self._branch(names[0], far, z, hertz)
            if node == self.entry:
                self.reference = names[1]
        return Stand(net, what, 0.0, ohms, z, hertz, tuple(refs))

    def _current_into(self, node: int) -> float:
        """Amperes from the rest into the sections at a node, at rest."""
        return math.fsum(
            float(self.point.currents[index][self.graph.elements[index].terminals.index(terminal)])
            for index, terminal in self.graph.at_node[node]
            if index in self.own
        )

    def _feed(self, net: str, volts: float, ohms: float, impedance: float, hertz: float) -> list[str]:
        """A source behind a resistance, apart from the signal by a choke where it would load it."""
        rail, end = f"{net}_feed", net
        self.supplies.append(Supply(rail, float(f"{volts:.7g}")))
        refs = []
        if ohms < APART * impedance:
            end = f"{net}_dc"
            henries = APART * APART * impedance / (2 * math.pi * hertz)
            refs.append(self._add("L", "choke", henries, "H", (end, net), {"rdc": 0.0}))
        refs.append(self._add("R", "resistor", max(ohms, 0.1), "ohm", (rail, end)))
        return refs

    def _branch(self, net: str, far: str, z: complex, hertz: float) -> list[str]:
        """An impedance at one frequency behind a blocking capacitor: resistance, and a coil or a capacitor."""
        omega = 2 * math.pi * hertz
        blocking = 1 / (omega * BLOCKING * abs(z))
        row: list[tuple[str, str, float, str]] = []
        if abs(z.real) > NEGLIGIBLE * abs(z):
            row.append(("R", "resistor", abs(z.real), "ohm"))
        if z.imag < -NEGLIGIBLE * abs(z):
            row.append(("C", "capacitor", -1 / (omega * z.imag), "F"))
        else:
            row.append(("C", "capacitor", blocking, "F"))
            if z.imag > NEGLIGIBLE * abs(z):
                row.append(("L", "inductor", (z.imag + BLOCKING * abs(z)) / omega, "H"))
        nets = [net, *(f"{net}_{place}" for place in range(1, len(row))), far]
        return [
            self._add(letter, kind, value, unit, (nets[place], nets[place + 1]))
            for place, (letter, kind, value, unit) in enumerate(row)
        ]

    def _add(
        self,
        letter: str,
        kind: str,
        value: float,
        unit: str,
        nets: tuple[str, str],
        params: Mapping[str, float] | None = None,
    ) -> str:
        """A part that stands for the rest, with a designator that no part of the whole has."""
        taken = set(self.reading.circuit.by_ref) | {part.ref for part in self.made}
        while f"{letter}{self.number}" in taken:
            self.number += 1
        ref = f"{letter}{self.number}"
        self.number += 1
        rounded = float(f"{value:.4g}")
        ends = (Terminal("1", nets[0]), Terminal("2", nets[1]))
        self.made.append(Part(ref, kind, ends, rounded, "", params={k: v for k, v in (params or {}).items() if v}))
        return ref

    # -- the account ----------------------------------------------------------------------------------------------

    def _ledger(self, stands: Sequence[Stand]) -> tuple[Entry, ...]:
        """An entry for every part of the whole."""
        order = {section.name: place for place, section in enumerate(self.reading.sections)}
        home = {ref: section.name for section in self.reading.sections for ref in section.parts}
        inside = [order[name] for name in self.names]
        by_what = {
            what: [stand for stand in stands if stand.what == what] for what in ("source", "load", "feed", "supply")
        }
        entries = []
        for part in self.reading.circuit.parts:
            if part.ref in self.refs and part.ref in self.graph.element_of:
                entries.append(Entry(part.ref, "kept", "", "It belongs to the section."))
                continue
            name = home.get(part.ref, "supply")
            where = order.get(name, len(order))
            what = "source" if where < min(inside) else "load" if where > max(inside) else "feed"
            if name == "supply" or part.ref in self.graph.links:
                what = "supply"
            chosen = by_what[what] or by_what["feed"] or by_what["supply"] or list(stands)
            reason = f"It belongs to the {name}. " + " ".join(stand.words for stand in chosen[:1])
            entries.append(
                Entry(
                    part.ref,
                    "omitted",
                    f"summed up as the {_RULES[what]}",
                    reason.strip(),
                    "section",
                    becomes="nothing",
                )
            )
        return tuple(entries)

    def _proof(self, made: Circuit) -> list[str]:
        """What solving the section by itself gave, against the whole; and the drive that it takes."""
        from topo.analysis import linearise, operating_point
        from topo.graph import normalise

        graph = normalise(made)
        point = operating_point(graph)
        if not point.solved:
            return [f"The section by itself is {point.status}."]
        said = [self._rest_words(graph, point)]
        driven = {}
        for index, amperes in self.views.driven.items():
            name = self.graph.elements[index].name
            if index in self.own and name in graph.element_of:
                driven[graph.element_of[name]] = amperes
        said += self._gain_words(graph, linearise(graph, point, driven=driven))
        return said

    def _rest_words(self, graph: Graph, point) -> str:
        """The largest changes of the devices' currents and voltages at rest."""
        worst_current = worst_volts = 0.0
        for index in sorted(self.own):
            element = self.graph.elements[index]
            other = graph.element_of.get(element.members[0])
            terminal = electrode(element, "col") if is_device(element) else None
            if other is None or terminal is None:
                continue
            was = float(self.point.currents[index][element.terminals.index(terminal)])
            now = float(point.currents[other][graph.elements[other].terminals.index(terminal)])
            if abs(was) > 1e-9:
                worst_current = max(worst_current, abs(now / was - 1.0))
            here = float(point.volts[graph.elements[other].node(terminal)])
            worst_volts = max(worst_volts, abs(here - float(self.point.volts[element.node(terminal)])))
        return (
            f"Solved by itself, no current at rest differs by more than {show(100 * worst_current, '', 2)} % "
            f"from that in the whole, and no collector by more than {show(worst_volts, 'V', 2)}."
        )

    def _gain_words(self, graph: Graph, linear) -> list[str]:
        """The gain from where the signal comes in to where it leaves, in both circuits, and the drive."""
        if self.entry is None or self.exit is None or self.bands[0] != self.bands[1]:
            return []
        hertz = self.views.signals[self.bands[0]].middle
        whole = self.views.linears[self.bands[0]] if self.views.linears else None
        names = [self.graph.nets[node] for node in (self.entry, self.exit)]
        if whole is None or hertz is None or any(name not in graph.node_of for name in names):
            return []
        gains = [
            abs(_ratio(whole, self.entry, self.exit, hertz)),
            abs(_ratio(linear, graph.node_of[names[0]], graph.node_of[names[1]], hertz)),
        ]
        if not all(gain > 0 and math.isfinite(gain) for gain in gains):
            return []
        decibels = [show(20 * math.log10(gain), "dB", 3) for gain in gains]
        said = [
            f"Gain from {names[0]} to {names[1]} at {show(hertz, 'Hz', 3)}: {decibels[1]}, in the whole {decibels[0]}."
        ]
        return [*said, self._drive_words(names, gains[0])]

    def _drive_words(self, names: Sequence[str], gain: float) -> str:
        """The drive for full output, where that is known, else what a millivolt makes."""
        loads = [
            part
            for part in self.reading.circuit.parts
            if part.kind in ("speaker", "headphones") and part.ref in self.refs
        ]
        classes = [item for item in self.reading.classes if set(item.devices) & self.refs]
        watts = [item.most_power for item in classes if item.most_power]
        if loads and loads[0].value and watts:
            volts = math.sqrt(watts[-1] * loads[0].value)
            full = f"Full output, {show(watts[-1], 'W', 2)} into {loads[0].ref}"
            return f"{full}, takes {show(volts / gain, 'V', 2)} at {names[0]}."
        return f"Drive: 1 mV at {names[0]} makes {show(1e-3 * gain, 'V', 2)} at {names[1]}."


_RULES = {"source": "source", "load": "load", "feed": "rest", "supply": "supply"}


def _ratio(linear, start: int, end: int, hertz: float) -> complex:
    """Volts at one node for a volt at another that is driven."""
    z = linear.impedances(hertz)
    return complex(z[end, start] / z[start, start]) if abs(z[start, start]) > 1e-12 else 0j
