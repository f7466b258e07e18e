"""Classes of parts whose surroundings decide: sensing resistors, leaks, balancing trimmers, tone networks, damping.

Source: the pattern catalogue's section 14.2, whose numbers the classes carry.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from topo.graph.graph import Element, Graph
from topo.quantities import show
from topo.reading.reading import Reading
from topo.reduction.classes import WINDING_RATIO, Classes, Judged, ohms_words
from topo.reduction.measures import Measures
from topo.views.kinds import DEVICES, VALVES, electrodes

SENSING_SHARE, SENSING_SLOPE, SENSING_RATIO = 0.02, 0.1, 0.05
LEAST_DROP = 1e-6
NEUTRALISING_SHARE = 0.05
LEAK_SHARE = 0.05
SURE_RATIO = 20.0
"""Damping that takes a twentieth of the drive or less is no swamping: section 14.3, point 10."""
FLAT_DB = 1.0
BALANCE_SHARE, MIDDLE = 0.05, (0.45, 0.55)
_HEATERS = frozenset({"h1", "h2"})


class Surroundings:
    """Judges parts of one reading by where they lie."""

    def __init__(self, reading: Reading, measures: Measures, classes: Classes) -> None:
        self.reading = reading
        self.graph: Graph = reading.views.graph
        self.measures = measures
        self.classes = classes
        self.held = classes.held
        self.view = reading.views.signal if reading.views.signals else None
        self._loads = {
            frozenset(self.graph.node_of.get(net, -1) for net in (port.net, port.reference))
            for port in (*reading.inputs, *reading.outputs)
        }

    def judged(self) -> list[Judged]:
        """All parts that meet the criterion of one of these classes, in the order of the file."""
        found: list[Judged] = []
        for element in self.graph.elements:
            if element.kind == "potentiometer":
                rules: tuple[Callable[[Element], Judged | None], ...] = (self._balance,)
            elif len(element.nodes) != 2 or element.value is None:
                rules = ()
            else:
                rules = (self._neutralising, self._leak, self._sensing, self._tone, self._winding)
            found += [made for rule in rules if (made := rule(element)) is not None][:1]
        return found

    def neutralises(self, element: Element) -> float | None:
        """The share of a device's drive that comes through a capacitor from the other end of its load: class 17.

        The current through the capacitor over the current that drives the control terminal (Norton's equivalent of
        all that is on it), at mid band; None where the capacitor does not lie so, or nothing can be computed.
        """
        network, start = self.measures.network, self._start()
        if element.kind != "capacitor" or network is None or start is None or self.view is None or not self.view.middle:
            return None
        own = self.measures.impedance(element)
        table = network.impedances(self.view.middle)
        for near, far in (element.nodes, element.nodes[::-1]):
            if near in self.held or not self._is_fed_back(near, far) or not own:
                continue
            drive = abs(table[near, start])
            amperes = abs(table[far, start] - table[near, start]) / abs(own)
            return float(amperes * abs(table[near, near]) / drive) if drive > 0 else None
        return None

    # Class by class.

    def _neutralising(self, element: Element) -> Judged | None:
        share = self.neutralises(element)
        if share is None or share > NEUTRALISING_SHARE:
            return None
        words = f"brings back {show(100 * share, '%', 2)} of the drive at mid band"
        return Judged(17, dict.fromkeys(element.members, "nothing"), words, {"share": share})

    def _sensing(self, element: Element) -> Judged | None:
        """A resistor that only senses a current, or fuses: in a feed from a rail, or in an emitter's lead."""
        drop, rails = self.measures.drop(element), [abs(volts) for volts in self.graph.rails.values()]
        most = max((volts for volts in rails if math.isfinite(volts)), default=0.0)
        if element.kind != "resistor" or not element.value or not drop or drop > SENSING_SHARE * most:
            return None
        if drop < LEAST_DROP:  # no current at rest to test it by
            return None
        if all(part.kind == "potentiometer" for part in self._parts(element)) or not set(element.nodes) & self.held:
            return None
        share = 100 * drop / most
        test = {"drop volts": drop, "own ohm": element.value, "share": drop / most}
        words = f"drops {show(drop, 'V', 2)} at rest, {show(share, '%', 2)} of the rail"
        near = next((node for node in element.nodes if node not in self.held), None)
        if near is None:
            return None
        emitting = self._devices_on(near, 1)
        if emitting:
            slopes = [self._slope(device) for device in emitting]
            if any(slope is None or slope * element.value >= SENSING_SLOPE for slope in slopes):
                return None
            times = max(slope for slope in slopes if slope is not None) * element.value
            words += f"; its resistance times the slope of {', '.join(item.name for item in emitting)} is {times:.2g}"
            test["slope times ohm"] = times
        elif set(element.nodes) & set(self.graph.rails):
            frequencies = [hertz for hertz in (self._middle(), self.classes.high) if hertz]
            facing = [self.measures.facing_at(element, hertz) for hertz in frequencies]
            if not facing or any(ohms is None or element.value > SENSING_RATIO * ohms for ohms in facing):
                return None
            least = min(ohms for ohms in facing if ohms is not None)
            words += f"; {show(element.value, 'ohm', 2)} against {ohms_words(least)}"
            test["facing ohm"] = least
        else:
            return None
        return Judged(9, dict.fromkeys(element.members, "wire"), words, test)

    def _leak(self, element: Element) -> Judged | None:
        """A resistor from base to emitter of a device that another one's emitter drives."""
        if element.kind != "resistor" or not element.value:
            return None
        a, b = element.nodes
        for base, foot in ((a, b), (b, a)):
            driven = [item for item in self._devices_on(base, 0) if item.node(electrodes(item)[1]) == foot]
            first = [item for item in self._devices_on(base, 1) if item not in driven]
            drop = self.measures.drop(element)
            if not driven or len(first) != 1 or drop is None:
                continue
            amperes = self.measures.point.currents[first[0].index][first[0].terminals.index(electrodes(first[0])[1])]
            if not math.isfinite(amperes) or not amperes:
                continue
            taken = drop / element.value
            share = taken / abs(amperes)
            if share > LEAK_SHARE:
                continue
            words = (
                f"carries {show(taken, 'A', 2)}, {show(100 * share, '%', 2)} of the emitter current of {first[0].name}"
            )
            test = {"amperes": taken, "share": share, "drop volts": drop}
            return Judged(20, dict.fromkeys(element.members, "nothing"), words, test)
        return None

    def _tone(self, element: Element) -> Judged | None:
        """A capacitor with an adjustable resistor, to a still net, that takes next to nothing as it is set."""
        chain = self.classes.chain(element, ("resistor", "capacitor"))
        if chain is None or element is not chain[0] or len({item.kind for item in chain}) != 2 or self.view is None:
            return None
        knob = next((part for item in chain for part in self._parts(item) if part.kind == "potentiometer"), None)
        joint = next(iter(set(chain[0].nodes) & set(chain[1].nodes)))
        a, b = (next(node for node in item.nodes if node != joint) for item in chain)
        if knob is None or not {a, b} & self.held or self.view.band is None or self.measures.network is None:
            return None
        losses = []
        for hertz in (self.view.band[0], self._middle() or self.view.band[1], self.view.band[1]):
            own = sum(self.measures.impedance_at(item, hertz) or 0 for item in chain)
            across = self.measures.network.across(a, b, hertz)
            if not own or not across:
                return None
            rest = 1 / (1 / across - 1 / own)
            losses.append(20 * math.log10(abs(rest / across)))
        worst = max(losses, key=abs)
        if abs(worst) > FLAT_DB:
            return None
        at = knob.settings.get("at")
        setting = (
            f"with {knob.ref} at {show(100 * float(at), '%', 2)}" if isinstance(at, int | float) else "as it is set"
        )
        words = f"{setting} it changes the signal by {show(abs(worst), 'dB', 2)} at most within the band"
        refs = [ref for item in chain for ref in item.members]
        return Judged(24, dict.fromkeys(refs, "nothing"), words, {"decibels": worst}, True)

    def _winding(self, element: Element) -> Judged | None:
        """A resistor or a capacitor across a winding that takes next to nothing of what is there."""
        if (
            element.kind not in ("resistor", "capacitor")
            or frozenset(element.nodes) in self._loads
            or self.view is None
        ):
            return None
        if not self.classes.lies_on_a_winding(element) or self.view.band is None:
            return None
        hertz = [self.view.band[0], self._middle() or self.view.band[1], self.view.band[1]]
        rows = [(self.measures.impedance_at(element, f), self.measures.facing_at(element, f), f) for f in hertz]
        if any(own is None or not facing or abs(own) < WINDING_RATIO * facing for own, facing, _ in rows):
            return None
        own, facing, f = min(rows, key=lambda row: abs(row[0] or 0) / (row[1] or 1))
        assert own is not None and facing is not None
        words = f"{show(abs(own), 'ohm', 2)} against {ohms_words(facing)} across it at {show(f, 'Hz', 2)}"
        test = {"own ohm": abs(own), "facing ohm": facing, "hertz": f}
        sure = element.kind == "resistor" and abs(own) >= SURE_RATIO * facing
        return Judged(26, dict.fromkeys(element.members, "nothing"), words, test, sure)

    def _balance(self, element: Element) -> Judged | None:
        """A trimmer between two emitters that is set to its middle, or a hum trimmer across heaters."""
        if len(element.nodes) != 3 or not element.value:
            return None
        at = float(element.params.get("at", 0.5))
        if not MIDDLE[0] <= at <= MIDDLE[1] or "w" not in element.terminals:
            return None
        wiper = element.node("w")
        ends = [node for node, name in zip(element.nodes, element.terminals, strict=True) if name != "w"]
        if all(self._only_heaters(node, element.index) for node in ends):
            words = "across heaters, with its wiper at the middle: no signal and no current at rest of the stages"
            return Judged(27, dict.fromkeys(element.members, "nothing"), words, {"share": 0.0})
        sides = [self._devices_on(node, 1) for node in ends]
        if any(len(side) != 1 for side in sides) or sides[0][0].kind != sides[1][0].kind or sides[0] == sides[1]:
            return None
        volts, shares = self.measures.point.volts, []
        for node, (device,) in zip(ends, sides, strict=True):
            drop, slope = abs(volts[node] - volts[wiper]), self._slope(device)
            beyond = abs(volts[wiper]) if wiper not in self.held else 0.0
            by_slope = math.inf if slope is None else slope * element.value / 2
            by_drop = drop / (drop + beyond) if beyond else math.inf
            shares.append(min(by_slope, by_drop))
        if max(shares) > BALANCE_SHARE:
            return None
        share = max(shares)
        names = " and ".join(side[0].name for side in sides)
        words = (
            f"at its middle, half of it is in each side; it moves the current of {names} by {show(100 * share, '%', 2)}"
        )
        return Judged(27, dict.fromkeys(element.members, "wire"), words, {"share": share})

    # What lies where.

    def _devices_on(self, node: int, place: int) -> list[Element]:
        """Devices with their control terminal (0), emitter (1) or collector (2) on a node."""
        found = []
        for index, terminal in self.graph.at_node[node] if node else ():
            item = self.graph.elements[index]
            if item.kind in DEVICES and electrodes(item)[place] == terminal:
                found.append(item)
        return found

    def _is_fed_back(self, near: int, far: int) -> bool:
        """Whether `near` is a control terminal and `far` a winding's end from which the collector is another, or the
        collector of a fellow whose control terminal is driven by this device's collector in turn."""
        for device in self._devices_on(near, 0):
            out = device.node(electrodes(device)[2])
            if far == out:
                return False
            cores = {item.element for item in self.graph.windings if out in item.nodes}
            if any(far in item.nodes and item.element in cores for item in self.graph.windings):
                return True
            fellows = [item for item in self._devices_on(far, 2) if item.kind == device.kind and item is not device]
            for fellow in fellows:
                ctl = fellow.node(electrodes(fellow)[0])
                crossed = {index for index, _ in self.graph.at_node[ctl]} & {i for i, _ in self.graph.at_node[out]}
                if any(self.graph.elements[index].kind == "capacitor" for index in crossed):
                    return True
        return False

    def _only_heaters(self, node: int, own: int) -> bool:
        """Whether a node holds heaters of valves, and windings beside them, but no more."""
        others = [(self.graph.elements[i], name) for i, name in self.graph.at_node[node] if i != own]
        heaters = [item for item, name in others if item.kind in VALVES and name in _HEATERS]
        return bool(heaters) and all(item.kind == "transformer" or item in heaters for item, _ in others)

    def _slope(self, device: Element) -> float | None:
        """The slope of a device, siemens: collector current by control voltage."""
        network = self.measures.network
        block = network.linear.blocks.get(device.index) if network is not None else None
        if block is None:
            return None
        names = [device.terminals[spot] if spot >= 0 else "" for spot in block.terminals]
        control, _, out = electrodes(device)
        if control not in names or out not in names:
            return None
        return abs(float(block.slopes[names.index(out), names.index(control)]))

    def _parts(self, element: Element) -> list:
        return [self.reading.circuit.by_ref[ref] for ref in element.members]

    def _middle(self) -> float | None:
        return self.view.middle if self.view is not None else None

    def _start(self) -> int | None:
        """The node where the signal enters."""
        port = self.reading.inputs[0] if self.reading.inputs else None
        return self.graph.node_of.get(port.net) if port is not None else None
