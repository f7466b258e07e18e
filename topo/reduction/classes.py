"""Classes of parts that a simplified figure may drop, each with the numbers that decide.

Source: the pattern catalogue's section 14.2, whose numbers the classes carry; the never-dropped list is its 14.3.
Two-terminal elements only, and chains of two about a joint that nothing else is on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.graph.graph import Element, Graph
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reduction.measures import Measures
from topo.views.kinds import COILS, DEVICES, electrodes

# Volts and shares of 14.2, in the order of the classes there.
STOPPER_DROP, STOPPER_SHARE = 5e-3, 0.05
FEED_SHARE, FEED_DROP = 0.015, 50e-3
METERING_RATIO = 20.0
FORWARD = {False: 0.3, True: 0.05}
ZENER_SHARE = 0.9
DAMPING_RATIO = 5.0
WINDING_RATIO = 10.0
OUTPUT_COIL_SHARE = 0.05
SHUNT_RATIO = 10.0
BLEEDER_SHARE, BLEEDER_VOLTS = 0.05, 60.0

NAMES: Mapping[int, str] = {
    1: "supply decoupling",
    2: "bypass across an emitter resistor",
    3: "coupling capacitor",
    4: "feed of a decoupled rail",
    5: "choke in a feed",
    6: "supply section",
    7: "stopper",
    8: "bead in a lead",
    9: "current-sensing resistor",
    10: "devices in parallel",
    11: "metering branch",
    12: "protection diode",
    13: "protection zener",
    14: "damping network",
    15: "output inductor",
    16: "capacitor that acts above the band",
    17: "neutralising",
    18: "small capacitor beside a large one",
    19: "bleeder",
    20: "leak between base and emitter",
    21: "link",
    22: "indicator",
    23: "open switch",
    24: "tone control set flat",
    25: "the other channel",
    26: "damping across a winding",
    27: "balance trimmer at its middle",
    28: "bias network",
}


@dataclass(frozen=True)
class Judged:
    """Parts that meet a class's criterion: `becomes` by designator, the class's number, the numbers of the test.

    `words` says the test in a sentence; `test` holds its numbers by name, SI units. `sure` says that the class holds
    whatever a block wants of the parts; otherwise only parts that no block needs go.
    """

    number: int
    becomes: Mapping[str, str]
    words: str
    test: Mapping[str, float] = field(default_factory=dict)
    sure: bool = False


class Classes:
    """Judges elements of one reading by numbers."""

    def __init__(self, reading: Reading, measures: Measures) -> None:
        self.reading = reading
        self.graph: Graph = reading.views.graph
        self.measures = measures
        self.held = {0, *self.graph.rails}
        view = reading.views.signal if reading.views.signals else None
        self.high = view.band[1] if view is not None and view.band is not None else None
        # Of a receiver the highest band: a bypass that is nothing there is nothing in the others too.
        self.highest = max((view.band[1] for view in reading.views.signals if view.band is not None), default=None)
        self._meters = self._meter_ends()

    def judged(self, element: Element) -> Judged | None:
        """The class whose criterion an element meets, alone or with the one it makes a chain with."""
        if len(element.nodes) != 2:
            return None
        for rule in (
            self._across_a_rail,
            self._metering,
            self._in_a_control_lead,
            self._in_any_lead,
            self._damping,
        ):
            found = rule(element)
            if found is not None:
                return found
        return None

    def promoted(self, element: Element, fate: str, band: int = 0) -> Judged | None:
        """The class by which a part that a pattern drops for the principle alone may go already at `working`.

        A coil on the way is judged in the `band` that its block works in; what goes to nothing, in the highest.
        """
        refs = element.members
        if len(element.nodes) != 2 or self.highest is None:
            return None
        own_band = self.reading.views.signals[band].band
        top = own_band[1] if fate == "wire" and own_band is not None else self.highest
        beside = self._resistors_across(element) if fate == "wire" else ()
        facing, own = self.measures.facing_at(element, top, beside), self.measures.impedance_at(element, top)
        if facing is None or own is None:
            return None
        said = f"{show(abs(own), 'ohm', 2)} against {ohms_words(facing)} across it at the top of the band"
        test = {"own ohm": abs(own), "facing ohm": facing, "hertz": top}
        if element.kind == "capacitor" and fate == "nothing" and abs(own) >= SHUNT_RATIO * facing:
            return Judged(16, dict.fromkeys(refs, fate), said, test)
        if element.kind in ("inductor", "bead") and fate == "wire" and abs(own) <= OUTPUT_COIL_SHARE * facing:
            number = 8 if element.kind == "bead" else 15
            return Judged(number, dict.fromkeys(refs, fate), said, test)
        if element.kind == "resistor" and fate == "nothing" and self.lies_on_a_winding(element):
            return Judged(26, dict.fromkeys(refs, fate), said, test) if abs(own) >= WINDING_RATIO * facing else None
        return None

    def _resistors_across(self, element: Element) -> tuple[Element, ...]:
        """The resistors on the same two nodes: they go with a coil that becomes a wire."""
        there = {index for index, _ in self.graph.at_node[element.nodes[0]]} - {element.index}
        found = [self.graph.elements[index] for index in sorted(there)]
        return tuple(item for item in found if item.kind == "resistor" and set(item.nodes) == set(element.nodes))

    def may_feed(self, element: Element) -> bool:
        """Whether a feed of a decoupled rail may be a wire at `working`: class 4 and 14.1, point 2.

        A bias moves by more than the rail in proportion; a share of a third of what 14.1 allows leaves room for that.
        """
        drop = self.measures.drop(element)
        volts = max((abs(self.graph.rails[node]) for node in element.nodes if node in self.graph.rails), default=None)
        return drop is not None and drop <= max(FEED_DROP, 0.0 if volts is None else FEED_SHARE * volts)

    def number(self, element: Element, fate: str) -> int:
        """The class of the catalogue that an omission belongs to; 0 where it is none of them."""
        ends = set(element.nodes)
        if element.kind == "capacitor":
            if self.measures.fate(element) == "no effect" or ends <= self.held:
                return 1
            if fate == "wire":
                return 3
            if any(self._electrode(node, 1) for node in ends - self.held) and ends & self.held:
                return 2
            return 1 if ends & {rail.node for rail in self.reading.views.derived} else 16
        if element.kind in COILS:
            return 8 if element.kind == "bead" else 5 if ends & self.held or fate == "nothing" else 15
        if element.kind in ("diode", "rectifier"):
            return 12
        if element.kind == "zener":
            return 13
        if element.kind != "resistor":
            return 0
        if any(element.index in rail.feed for rail in self.reading.views.derived):
            return 4
        if self.lies_on_a_winding(element):
            return 26
        if ends & self.held and any(self._electrode(node, 0) for node in ends - self.held):
            return 28
        return 7 if any(self._steers(node, element.index) for node in ends) else 0

    # Class by class.

    def _across_a_rail(self, element: Element) -> Judged | None:
        refs, drop = element.members, self.measures.drop(element)
        nothing = dict.fromkeys(refs, "nothing")
        if element.kind == "capacitor" and self.measures.fate(element) == "no effect":
            return Judged(1, nothing, self.measures.numbers(element, "nothing"))
        if not set(element.nodes) <= self.held or drop is None:
            return self._indicator(element)
        if element.kind == "resistor" and element.value:
            share = drop / element.value / rail if (rail := self._rail_current(element)) else math.inf
            if share <= BLEEDER_SHARE and drop <= BLEEDER_VOLTS:
                words = (
                    f"between rails, where it changes no voltage; it takes {show(drop / element.value, 'A', 2)}, "
                    f"{show(100 * share, '%', 2)} of the rail's current"
                )
                return Judged(
                    19, nothing, words, {"amperes": drop / element.value, "share": share, "volts": drop}, True
                )
        if element.kind in ("diode", "rectifier", "zener"):
            return self._diode(element, nothing)
        return None

    def _diode(self, element: Element, nothing: Mapping[str, str]) -> Judged | None:
        """A diode across a rail that is off: the rails are fixed, so that it stays off at full swing too."""
        anode, cathode = (self.measures.point.volts[element.node(name)] for name in ("a", "k"))
        forward = anode - cathode
        limit = FORWARD[bool(element.part.settings.get("germanium"))]
        test = {"forward volts": forward, "limit volts": limit}
        if element.kind == "zener" and -forward > ZENER_SHARE * (element.value or 0.0):
            return None
        if not forward <= limit:
            return None
        words = (
            f"{show(abs(forward), 'V', 2)} across it the other way, which keeps it off as long as the supply is right"
        )
        return Judged(13 if element.kind == "zener" else 12, nothing, words, test)

    def _indicator(self, element: Element) -> Judged | None:
        """A lamp or LED with its resistor from rail to rail."""
        chain = self.chain(element, ("resistor", "led", "lamp"))
        if chain is None or not any(item.kind in ("led", "lamp") for item in chain):
            return None
        ends = {node for item in chain for node in item.nodes} - (set(chain[0].nodes) & set(chain[1].nodes))
        if not ends <= self.held:
            return None
        current = self.measures.current(element)
        words = "between rails, in nothing's bias" + (f"; it takes {show(current, 'A', 2)}" if current else "")
        return Judged(22, _all(chain, "nothing"), words, {"amperes": current or 0.0}, True)

    def _metering(self, element: Element) -> Judged | None:
        """A resistor to a meter that goes to ground or a rail, or to nothing: it loads its net and returns nowhere."""
        if element.kind != "resistor" or not element.value:
            return None
        meters = [self._meters[ref] for ref in element.members if ref in self._meters]
        far = [node for node in element.nodes if node in self.held]
        near = next((node for node in element.nodes if node not in self.held), None)
        if not meters or not far or near is None or self.high is None:
            return None
        middle = self.reading.views.signal.middle or self.high
        loads = [self.measures.facing_at(element, frequency) for frequency in (1e-3, middle, self.high)]
        if any(load is None or element.value < METERING_RATIO * load for load in loads):
            return None
        worst = max(load for load in loads if load is not None)
        words = f"{show(element.value, 'ohm', 2)} on a net that shows {ohms_words(worst)}, back to nothing but a meter"
        becomes = dict.fromkeys((*element.members, *meters), "nothing")
        return Judged(11, becomes, words, {"own ohm": element.value, "facing ohm": worst}, True)

    def _in_a_control_lead(self, element: Element) -> Judged | None:
        if element.kind != "resistor" or not element.value or set(element.nodes) & self.held:
            return None
        if not any(self._steers(node, element.index) for node in element.nodes):
            return None
        return self._small_in_series(element, 7, True)

    def _in_any_lead(self, element: Element) -> Judged | None:
        """A resistor or bead that a signal passes with next to no loss, in no emitter's lead."""
        wire = dict.fromkeys(element.members, "wire")
        if element.kind in ("bead", "inductor") and self.measures.fate(element) == "short":
            return Judged(8, wire, self.measures.numbers(element, "wire"))
        if element.kind == "resistor" and not any(self._electrode(node, 1) for node in element.nodes):
            return self._small_in_series(element, 7, False)
        return None

    def _small_in_series(self, element: Element, number: int, sure: bool) -> Judged | None:
        drop, shares = self.measures.drop(element), [self.measures.rho(element)]
        if self.high is not None and sure:
            facing = self.measures.facing_at(element, self.high)
            shares.append(None if not facing or not element.value else element.value / facing)
        if drop is None or drop > STOPPER_DROP or any(s is None or s > STOPPER_SHARE for s in shares):
            return None
        worst = max(share for share in shares if share is not None)
        words = self.measures.numbers(element, "wire")
        test = {"drop volts": drop, "own ohm": element.value or 0.0, "share": worst}
        return Judged(number, dict.fromkeys(element.members, "wire"), words, test, sure)

    def _damping(self, element: Element) -> Judged | None:
        """A resistor and a capacitor in series across what shows far less at the top of the band."""
        chain = self.chain(element, ("resistor", "capacitor"))
        if chain is None or len({item.kind for item in chain}) != 2 or self.high is None:
            return None
        if any(self.reading.circuit.by_ref[ref].kind == "potentiometer" for item in chain for ref in item.members):
            return None
        joint = next(iter(set(chain[0].nodes) & set(chain[1].nodes)))
        ends = [next(node for node in item.nodes if node != joint) for item in chain]
        if any(self._is_opaque(node) for node in ends):  # what lies across is not known
            return None
        parts = [self.measures.impedance_at(item, self.high) for item in chain]
        network = self.measures.network
        if network is None or any(part is None for part in parts) or ends[0] == ends[1]:
            return None
        own = sum(part for part in parts if part is not None)
        across = network.across(ends[0], ends[1], self.high)
        if not across:  # between two rails there is no output to damp
            return None
        rest = 1 / across - 1 / own if own else 0
        facing = 1 / abs(rest) if rest else math.inf
        if not abs(own) >= DAMPING_RATIO * facing:
            return None
        words = (
            f"{show(abs(own), 'ohm', 2)} at the top of the band against the {ohms_words(facing)} that lies across it"
        )
        return Judged(
            14, _all(chain, "nothing"), words, {"own ohm": abs(own), "facing ohm": facing, "hertz": self.high}
        )

    # What lies where.

    def chain(self, element: Element, kinds: tuple[str, ...]) -> tuple[Element, Element] | None:
        """An element and the one other that is on one of its ends, nothing else being there, in the graph's order."""
        if element.kind not in kinds:
            return None
        ports = {
            self.graph.node_of.get(net)
            for port in (*self.reading.inputs, *self.reading.outputs)
            for net in (port.net, port.reference)
        }
        for node in element.nodes:
            others = [index for index, _ in self.graph.at_node[node] if index != element.index]
            if node in self.held or node in ports or len(others) != 1 or len(self.graph.at_node[node]) != 2:
                continue
            other = self.graph.elements[others[0]]
            if other.kind in kinds and len(other.nodes) == 2:
                a, b = sorted((element, other), key=lambda item: item.index)
                return a, b
        return None

    def _steers(self, node: int, index: int) -> bool:
        """Whether a node leads to one control terminal and nothing else, through parts in series at most."""
        passed = {index}
        while node not in self.held:
            others = [pair for pair in self.graph.at_node[node] if pair[0] not in passed]
            if len(others) != 1:
                return False
            other, terminal = self.graph.elements[others[0][0]], others[0][1]
            if other.kind in DEVICES:
                return electrodes(other)[0] == terminal
            if other.kind not in ("resistor", "bead", "inductor") or len(other.nodes) != 2:
                return False
            passed.add(other.index)
            node = other.nodes[1] if other.nodes[0] == node else other.nodes[0]
        return False

    def _is_opaque(self, node: int) -> bool:
        """Whether a node that is not held has a part on it of which nothing is known."""
        on = () if node in self.held else self.graph.at_node[node]
        return any(self.graph.elements[index].kind in ("ic", "other") for index, _ in on)

    def _electrode(self, node: int, place: int) -> bool:
        """Whether a node has the control terminal (0), the emitter (1) or the collector (2) of a device on it."""
        return any(
            self.graph.elements[index].kind in DEVICES and electrodes(self.graph.elements[index])[place] == terminal
            for index, terminal in (self.graph.at_node[node] if node else ())
        )

    def lies_on_a_winding(self, element: Element) -> bool:
        """Whether both ends of an element are on one winding."""
        return any(set(element.nodes) <= set(winding.nodes) for winding in self.graph.windings)

    def _meter_ends(self) -> dict[str, str]:
        """Parts that end on a net with nothing else on it but a meter: designator -> the meter."""
        circuit, found = self.reading.circuit, {}
        on: dict[str, list[str]] = {}
        for part in circuit.parts:
            for terminal in part.terminals:
                on.setdefault(terminal.net, []).append(part.ref)
        for meter in circuit.parts:
            if meter.kind == "meter" and meter.ref in self.graph.links:
                for terminal in meter.terminals:
                    others = [ref for ref in on[terminal.net] if ref != meter.ref]
                    if len(others) == 1 and len(on[terminal.net]) == 2:
                        found[others[0]] = meter.ref
        return found

    def _rail_current(self, element: Element) -> float:
        """Amperes at rest that the rails at an element's ends give to the rest of the circuit."""
        drop, value = self.measures.drop(element), element.value
        own = drop / value if drop is not None and value else 0.0
        supplies = self.reading.circuit.supplies
        names = {item.net for item in supplies if self.graph.node_of.get(item.net) in set(element.nodes) - {0}}
        currents = [abs(amps) for net, amps in self.measures.point.supply_currents.items() if net in names]
        return max(0.0, min(currents) - own) if currents else 0.0


def _all(chain: tuple[Element, ...], fate: str) -> dict[str, str]:
    return {ref: fate for element in chain for ref in element.members}


def ohms_words(value: float) -> str:
    """Ohms in words; "no path" for what is as good as infinite."""
    return "no path" if math.isinf(value) or value > 1e9 else show(value, "ohm", 2)
