"""Clutter that a generator adds to a circuit, with what a reduction has to make of each part of it."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace

from clutter_in_depth import SORTS_WITHIN_STAGES, WithinStages

import topo
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.reading.reading import Reading
from topo.reduction.measures import Measures

CONTROL = {"npn": "b", "pnp": "b", "njfet": "g", "pjfet": "g", "nmos": "g", "pmos": "g", "triode": "g", "pentode": "g1"}


DIODES = ("diode", "zener", "led", "rectifier")


@dataclass(frozen=True)
class Clutter:
    """A circuit with clutter: `expected` maps each added designator to its fate and the class of its rule, 0 for none;
    `what` names the sorts that were added."""

    circuit: Circuit
    expected: dict[str, tuple[str, int]]
    what: tuple[str, ...]


class Generator(WithinStages):
    """Adds clutter to the circuit of one reading."""

    def __init__(self, reading: Reading, seed: int, omitted: frozenset[str] = frozenset()) -> None:
        """`omitted` are parts that go anyway, so that nothing is merged with them."""
        self.reading = reading
        self.rng = random.Random(seed)
        self.measures = Measures(reading)
        self.graph = reading.views.graph
        self.parts = list(reading.circuit.parts)
        self.expected: dict[str, tuple[str, int]] = {}
        self.what: list[str] = []
        self.touched: set[str] = set(omitted)

    def clutter(self, count: int) -> Clutter:
        """So many additions, each of a sort of its own; another channel comes alone."""
        chosen = self.rng.sample(SORTS, count)
        for sort in ["other_channel"] if "other_channel" in chosen else chosen:
            if getattr(self, sort)():
                self.what.append(sort)
        nets = dict.fromkeys((*self.reading.circuit.nets, *(t.net for part in self.parts for t in part.terminals)))
        circuit = replace(self.reading.circuit, parts=tuple(self.parts), nets=tuple(nets))
        return Clutter(circuit, self.expected, tuple(self.what))

    # One method a sort; each says whether there was a place for it.

    def rail_decoupling(self) -> bool:
        self._add("C", "capacitor", self._rail(), "gnd", self.rng.choice((10e-9, 100e-9, 10e-6)), "omitted", 1)
        return True

    def stopper(self) -> bool:
        return self._in_control_lead("R", "resistor", 7)

    def bead(self) -> bool:
        return self._in_control_lead("FB", "bead", 8)

    def split_in_series(self) -> bool:
        part = self._any("resistor")
        if part is None:
            return False
        share = self.rng.choice((0.25, 0.5, 0.68))
        joint = f"x{len(self.expected)}"
        first, second = part.terminals
        self._swap(part, replace(part, value=part.value * share, terminals=(first, replace(second, net=joint))))
        self._add("R", "resistor", joint, second.net, part.value * (1 - share), "merged", 0, like=part)
        return True

    def split_in_parallel(self) -> bool:
        part = self._any("resistor")
        if part is None:
            return False
        first, second = part.terminals
        self._swap(part, replace(part, value=part.value * 2))
        self._add("R", "resistor", first.net, second.net, part.value * 2, "merged", 0, like=part)
        return True

    def capacitors_in_parallel(self) -> bool:
        part = self._any("capacitor")
        if part is None:
            return False
        first, second = part.terminals
        share = self.rng.choice((0.5, 0.05))
        self._swap(part, replace(part, value=part.value * (1 - share)))
        self._add("C", "capacitor", first.net, second.net, part.value * share, "merged", 18, like=part)
        return True

    def fuse(self) -> bool:
        return self._in_supply("F", "fuse", {})

    def closed_switch(self) -> bool:
        return self._in_supply("S", "switch", {"state": "closed"})

    def metering(self) -> bool:
        """A resistor of many times what the net shows, and a meter, from a collector's net."""
        net, ohms = self._loud_net()
        if net is None:
            return False
        joint = f"x{len(self.expected)}"
        self._add("R", "resistor", net, joint, 1e3 * ohms, "omitted", 11)
        self._add("M", "meter", joint, "gnd", None, "omitted", 11)
        return True

    def protection(self) -> bool:
        """A diode across a rail that nothing but a wrong polarity makes conduct."""
        supply = self.rng.choice(self.reading.circuit.supplies)
        ends = ("gnd", self._rail(supply.net)) if supply.volts > 0 else (self._rail(supply.net), "gnd")
        self._add("D", "diode", *ends, None, "omitted", 12)
        return True

    def damping(self) -> bool:
        """A resistor and a capacitor across the output."""
        port = self.reading.outputs[0] if self.reading.outputs else None
        view = self.reading.views.signal
        if port is None or view.band is None:
            return False
        node = self.graph.node_of[port.net]
        ohms = abs(self.reading.views.network.across(node, self.graph.node_of[port.reference], view.middle))
        if not 0.01 < ohms < 1e6:
            return False
        ends = {port.net, port.reference}
        loads = [part.value for part in self.parts if part.value and {t.net for t in part.terminals} == ends]
        ohms = max([ohms, *(value for value in loads if value < 1e4)])  # not a capacitor's value, which is far less
        joint = f"x{len(self.expected)}"
        farad = 1 / (2 * math.pi * view.band[1] * 30 * ohms)
        self._add("R", "resistor", port.net, joint, max(1.0, ohms), "omitted", 14)
        self._add("C", "capacitor", joint, port.reference, farad, "omitted", 14)
        return True

    def bleeder(self) -> bool:
        supply = self.rng.choice(self.reading.circuit.supplies)
        amperes = abs(self.reading.views.point.supply_currents.get(supply.net, 0.01)) or 0.01
        self._add("R", "resistor", self._rail(supply.net), "gnd", abs(supply.volts) / (0.02 * amperes), "omitted", 19)
        return True

    def sensing(self) -> bool:
        """A resistor that drops a thousandth of a rail on the way to a transformer's winding."""
        found = []
        for part in self.parts:
            for terminal in part.terminals if part.kind == "transformer" else ():
                node = self.graph.node_of.get(terminal.net)
                index = self.graph.element_of[part.ref]
                place = self.graph.elements[index].terminals.index(terminal.name)
                amperes = abs(self.reading.views.point.currents[index][place])
                if node in self.graph.rails and 1e-4 < amperes < 10:
                    found.append((part, terminal, abs(self.graph.rails[node]) / 1e3 / amperes))
        if not found:
            return False
        part, fed, ohms = self.rng.choice(found)
        if part.ref in self.touched:
            return False
        joint = f"x{len(self.expected)}"
        moved = tuple(replace(t, net=joint) if t == fed else t for t in part.terminals)
        self._swap(part, replace(part, terminals=moved))
        self._add("R", "resistor", fed.net, joint, float(f"{ohms:.2g}"), "omitted", 9)
        return True

    def paralleled_device(self) -> bool:
        """Two devices of half the size in the place of one, each with half as much in its leads."""
        found = [
            part
            for part in self.parts
            if part.kind in CONTROL and part.ref not in self.touched and not part.type_name and part.params.get("IS")
        ]
        if not found:
            return False
        part = self.rng.choice(found)
        params = {**part.params, "IS": part.params["IS"] / 2}
        params |= {name: 2 * params[name] for name in ("rb", "re", "rc") if name in params}
        ref = f"Q{900 + len(self.expected)}"
        self._swap(part, replace(part, params=params))
        self.parts.append(replace(part, ref=ref, params=params, source=""))
        self.touched.add(ref)
        self.expected[ref] = ("merged", 10)
        return True

    def zener(self) -> bool:
        """A zener diode across a rail, of one and a half times its voltage."""
        supply = self.rng.choice(self.reading.circuit.supplies)
        ends = ("gnd", self._rail(supply.net)) if supply.volts > 0 else (self._rail(supply.net), "gnd")
        self._add("ZD", "zener", *ends, 1.5 * abs(supply.volts), "omitted", 13)
        return True

    def indicator(self) -> bool:
        """A light-emitting diode with its resistor across a rail."""
        supply = self.rng.choice(self.reading.circuit.supplies)
        joint, forward = f"x{len(self.expected)}", supply.volts > 0
        self._add("R", "resistor", supply.net, joint, max(100.0, abs(supply.volts) / 0.005), "omitted", 22)
        self._add("D", "led", *((joint, "gnd") if forward else ("gnd", joint)), None, "omitted", 22)
        return True

    def open_switch(self) -> bool:
        """A branch to ground behind a switch that stands open."""
        net, _ = self._loud_net()
        if net is None:
            return False
        first, second = f"x{len(self.expected)}", f"x{len(self.expected)}b"
        self._add("S", "switch", net, first, None, "omitted", 23, settings={"state": "open"})
        self._add("R", "resistor", first, second, 1e3, "omitted", 23)
        self._add("C", "capacitor", second, "gnd", 1e-7, "omitted", 23)
        return True

    def flat_tone_control(self) -> bool:
        """A capacitor with a potentiometer that is turned back, to ground."""
        net, ohms = self._loud_net()
        high = self.reading.views.signal.band
        if net is None or high is None:
            return False
        joint = f"x{len(self.expected)}"
        self._add("C", "capacitor", net, joint, 1 / (2 * math.pi * high[1] * 100 * ohms), "omitted", 24)
        self._add("VR", "potentiometer", joint, "gnd", 1e4, "omitted", 24, settings={"at": 0.9})
        return True

    def winding_damper(self) -> bool:
        """A resistor of many times what a winding shows, across it."""
        view, found = self.reading.views.signal, []
        if view.band is None or self.reading.views.network is None:
            return False
        for part in self.parts:
            for winding in part.windings:
                nets = [part.net(winding.terminals[0]), part.net(winding.terminals[-1])]
                a, b = (self.graph.node_of.get(net) for net in nets)
                across = [part for part in self.parts if {t.net for t in part.terminals} == set(nets)]
                if not a or not b or a == b or any(part.kind == "resistor" for part in across):
                    continue
                shown = [abs(self.reading.views.network.across(a, b, f)) for f in (*view.band, view.middle)]
                if min(shown) > 0.1 and max(shown) < 1e5:
                    found.append((*nets, 300 * max(shown)))
        if not found:
            return False
        self._add("R", "resistor", *self.rng.choice(found), "omitted", 26)
        return True

    def wiper_at_an_end(self) -> bool:
        """A rheostat that is turned to nothing, in series with a resistor."""
        part = self._any("resistor")
        if part is None:
            return False
        joint, (first, second) = f"x{len(self.expected)}", part.terminals
        self._swap(part, replace(part, terminals=(first, replace(second, net=joint))))
        self._add("VR", "potentiometer", joint, second.net, 1e3, "omitted", 21, settings={"at": 0.0})
        return True

    def supply_section(self) -> bool:
        """Transformer, fuse and rectifiers that make a rail."""
        circuit = self.reading.circuit
        supplies = [item for item in circuit.supplies if abs(item.volts) > 3]
        held = [
            t.net for part in circuit.parts if part.kind in ("capacitor", "choke", "inductor") for t in part.terminals
        ]
        if not supplies or any(item.net in held for item in supplies):  # what is there would be its reservoir or filter
            return False
        supply, start = self.rng.choice(supplies), len(self.expected)
        live, inner, a, b = (f"x{start}{end}" for end in ("l", "i", "a", "b"))
        self._add("F", "fuse", live, inner, None, "omitted", 6)
        ref = f"T{900 + len(self.expected)}"
        lines = f"supply r {supply.volts}V\n{ref} transformer 10:1+1 : {inner} x{start}n | {a} gnd {b}\n"
        lines += f"J900 plug : {live} x{start}n\n"
        self.parts += topo.loads(lines).parts
        self.expected |= {ref: ("omitted", 6), "J900": ("omitted", 6)}
        for end in (a, b):
            ends = (end, supply.net) if supply.volts > 0 else (supply.net, end)
            self._add("D", "rectifier", *ends, None, "omitted", 6)
        return True

    def other_channel(self) -> bool:
        """Everything once more, on the same rails."""
        fixed = {"gnd", self.reading.circuit.ground, *(item.net for item in self.reading.circuit.supplies)}
        if self.expected or not self.reading.circuit.inputs or any(part.value is None for part in self._valued()):
            return False
        for part in list(self.parts):
            ref, nets = f"{part.ref.rstrip('0123456789')}9{part.ref.lstrip('ABCDEFGHIJKLMNOPQRSTUVWXYZ')}", []
            nets = [t if t.net in fixed else replace(t, net=f"{t.net}_b") for t in part.terminals]
            if any(other.ref == ref for other in self.parts):
                return False
            self.parts.append(replace(part, ref=ref, terminals=tuple(nets), source=""))
            self.expected[ref] = ("omitted", self._of_a_copy(part))
        return True

    def _of_a_copy(self, part: Part) -> int:
        """The class of a part of another channel: that of its like where it lies across rails, or is a link."""
        held = {0, *self.graph.rails}
        if part.ref in self.graph.links:
            return 21
        if {self.graph.node_of.get(t.net) for t in part.terminals} <= held:
            return {"capacitor": 1, "diode": 12, "rectifier": 12, "resistor": 19}.get(part.kind, 0)
        return 25

    def _valued(self) -> list[Part]:
        kinds = ("resistor", "capacitor", "inductor", "choke", "potentiometer")
        return [part for part in self.reading.circuit.parts if part.kind in kinds]

    # What they share.

    def _in_control_lead(self, letter: str, kind: str, number: int) -> bool:
        choices = []
        for part in self.parts:
            if part.kind not in CONTROL or part.ref in self.touched:
                continue
            net = part.net(CONTROL[part.kind])
            if self._is_in_a_lead(net, part.ref):
                continue
            facing, amperes = self._lead(part)
            if facing is not None and facing > 100:
                choices.append((part, net, min(0.005 * facing, 0.5e-3 / max(amperes, 1e-12), 4.7e3)))
        choices = [choice for choice in choices if choice[2] >= 0.5]
        if not choices:
            return False
        part, net, ohms = self.rng.choice(choices)
        joint = f"x{len(self.expected)}"
        inner = [replace(t, net=joint) if t.name == CONTROL[part.kind] else t for t in part.terminals]
        self._swap(part, replace(part, terminals=tuple(inner)))
        self._add(letter, kind, net, joint, float(f"{ohms:.2g}") if kind == "resistor" else None, "omitted", number)
        return True

    def _is_in_a_lead(self, net: str, device: str) -> bool:
        """Whether a net joins nothing but one part in series to a device."""
        others = [part for part in self.parts if part.ref != device and any(t.net == net for t in part.terminals)]
        return len(others) == 1 and others[0].kind in ("resistor", "bead")

    def _lead(self, part: Part) -> tuple[float | None, float]:
        """What a control terminal shows when its lead is cut there, ohm, and the current into it at rest."""
        graph, views = self.graph, self.reading.views
        index = graph.element_of[part.ref]
        element = graph.elements[index]
        amperes = abs(views.point.currents[index][element.terminals.index(CONTROL[part.kind])])
        current = abs(views.point.currents[index][0 if element.terminals[0] == "c" else 1])
        middle = views.signal.middle
        if middle is None or part.kind not in ("npn", "pnp"):
            return (1e6, 0.0) if middle is not None else (None, 0.0)
        driven = max(current, views.driven.get(index, 0.0), 1e-9)
        return 100 * 0.02587 / driven, amperes

    def _loud_net(self) -> tuple[str | None, float]:
        view, found = self.reading.views.signal, []
        if view.middle is None:
            return None, 0.0
        table = self.reading.views.network.impedances(view.middle)
        bare = self.reading.views.skeleton_network
        slow = (bare if bare is not None else self.reading.views.network).impedances(1e-3)
        for part in self.parts:
            if part.kind in ("npn", "pnp"):
                node = self.graph.node_of.get(part.net("c"))
                if node is None or node in self.graph.rails or node == 0:
                    continue
                ohms = max(abs(table[node, node]), abs(slow[node, node]))
                if 1 < ohms < 1e6:
                    found.append((part.net("c"), ohms))
        return self.rng.choice(found) if found else (None, 0.0)

    def _in_supply(self, letter: str, kind: str, settings: dict) -> bool:
        """Between a rail and all that it feeds."""
        net = self.rng.choice(self.reading.circuit.supplies).net
        inner = f"x{len(self.expected)}"
        before = list(self.parts)
        if not any(t.net == net for part in before for t in part.terminals):
            return False
        ports = {item.net for item in (*self.reading.inputs, *self.reading.outputs)}
        if net in ports or any(part.kind == "battery" for part in before):
            return False
        self.parts = [
            replace(part, terminals=tuple(replace(t, net=inner) if t.net == net else t for t in part.terminals))
            for part in before
        ]
        self._add(letter, kind, net, inner, None, "omitted", 21, settings=settings)
        return True

    def _rail(self, net: str = "") -> str:
        return net or self.rng.choice(self.reading.circuit.supplies).net

    def _any(self, kind: str) -> Part | None:
        """A part that is the whole of its element and not yet changed."""
        whole = [
            part
            for part in self.parts
            if part.kind == kind
            and part.value
            and part.ref not in self.touched
            and part.ref in self.graph.element_of
            and len(self.graph.elements[self.graph.element_of[part.ref]].members) == 1
        ]
        return self.rng.choice(whole) if whole else None

    def _swap(self, old: Part, new: Part) -> None:
        self.touched.add(old.ref)
        self.parts[next(i for i, part in enumerate(self.parts) if part.ref == old.ref)] = new

    def _add(self, letter, kind, first, second, value, fate, number, *, like=None, settings=None) -> None:
        names = {"potentiometer": ("1", "w")}.get(kind, ("a", "k") if kind in DIODES else ("1", "2"))
        ref = f"{letter}{900 + len(self.expected)}"
        self.parts.append(
            Part(
                ref,
                kind,
                (Terminal(names[0], first), Terminal(names[1], second)),
                value=value,
                section=like.section if like is not None else None,
                settings=dict(like.settings if like is not None else settings or {}),
            )
        )
        self.expected[ref] = (fate, number)


SORTS = (
    "rail_decoupling",
    "stopper",
    "bead",
    "split_in_series",
    "split_in_parallel",
    "capacitors_in_parallel",
    "fuse",
    "closed_switch",
    "metering",
    "protection",
    "damping",
    "bleeder",
    "sensing",
    "paralleled_device",
    "zener",
    "indicator",
    "open_switch",
    "flat_tone_control",
    "winding_damper",
    "wiper_at_an_end",
    "supply_section",
    "other_channel",
    *SORTS_WITHIN_STAGES,
)
