"""What stands in the place of a part that is left out: a wire, or nothing."""

from __future__ import annotations

from topo.graph.graph import Element, Graph
from topo.reading.reading import Reading
from topo.reduction.measures import Measures
from topo.views.kinds import COILS, DEVICES, electrodes

# Two sides of a series capacitor that stand at the same voltage: catalogue 14.1, point 2.
SAME_VOLTAGE = 50e-3
_DIRECT = frozenset({"resistor", "potentiometer", "thermistor", "diode", "zener", "led", "rectifier", "lamp"} | COILS)
_NO_PATH = frozenset({"capacitor", "crystal"})


class Replacement:
    """Decides for the parts of one reading."""

    def __init__(self, reading: Reading, measures: Measures) -> None:
        self._view = reading.views.signal if reading.views.signals else None
        self._graph = reading.views.graph
        self._measures = measures
        self._on_path = {ref for step in reading.path for ref in step.refs}
        self._held = {0, *self._graph.rails}

    def of(self, element: Element) -> str | None:
        """What stands in the place of an element: "wire", "nothing", or None where it has to stay.

        A capacitor leaves the currents at rest alone, so it goes to nothing, but in series between two nets at one
        voltage to a wire. Any other part is a wire where a device hangs on it, or where it is small against what it
        faces or in the signal's way, and otherwise nothing.
        """
        if len(element.nodes) != 2:
            return "nothing"
        if element.kind == "capacitor":
            return self._capacitor(element)
        may_be_wire = not set(element.nodes) <= self._held
        if element.kind in COILS:
            return "nothing" if self._measures.fate(element) == "no effect" else "wire" if may_be_wire else None
        if not may_be_wire:
            return "nothing"
        if self.carries_a_device(element) or set(element.members) & self._on_path:
            return "wire"
        rho = self._measures.rho(element)
        return "wire" if rho is not None and rho < 1.0 else "nothing"

    def _capacitor(self, element: Element) -> str | None:
        if self._is_in_series(element):
            drop = self._measures.drop(element)
            return "wire" if drop is not None and drop < SAME_VOLTAGE else None
        return "nothing"

    def _is_in_series(self, element: Element) -> bool:
        """Whether the signal goes through an element: on its path, or as a wire between two nets that are not at 0."""
        if self._view is None or set(element.members) & self._on_path:
            return bool(set(element.members) & self._on_path)
        a, b = (self._view.class_of[node] for node in element.nodes)
        return a == b != self._view.zero and self._measures.fate(element) == "short"

    def carries_a_device(self, element: Element) -> bool:
        """Whether this element alone leads the current of an emitter, or a bias to a control terminal.

        Where it goes, no other way for direct current to a rail or ground is left, nor another device that gives one.
        """
        graph = self._graph
        if _joins_one_device(graph, element):
            return False
        emitting, steering, giving = _electrodes_on(graph, _cut_off(graph, element, self._held))
        if emitting:
            return not (steering | giving) - emitting
        return bool(steering) and not giving - steering


def _joins_one_device(graph: Graph, element: Element) -> bool:
    """Whether an element lies between two electrodes of one device (a feedback resistor)."""
    a, b = ({index for index, _ in graph.at_node[node] if index != element.index} for node in element.nodes)
    return any(graph.elements[index].kind in DEVICES for index in a & b)


def _electrodes_on(graph: Graph, nodes: set[int]) -> tuple[set[int], set[int], set[int]]:
    """Devices that have their emitter, their control terminal and their collector on some nodes."""
    found: tuple[set[int], set[int], set[int]] = (set(), set(), set())
    for node in nodes:
        for index, terminal in graph.at_node[node]:
            if graph.elements[index].kind in DEVICES:
                control, emitter, collector = electrodes(graph.elements[index])
                for name, devices in zip((emitter, control, collector), found, strict=True):
                    if terminal == name:
                        devices.add(index)
    return found


def _cut_off(graph: Graph, element: Element, held: set[int]) -> set[int]:
    """Nodes that lose their way for direct current to a rail or ground, devices aside, when an element goes."""
    lost: set[int] = set()
    for start in element.nodes:
        reached, waiting = {start}, [start]
        while waiting:
            node = waiting.pop()
            if node in held:
                break
            for index, _ in graph.at_node[node]:
                other = graph.elements[index]
                if index == element.index or other.kind in DEVICES or other.kind in _NO_PATH:
                    continue
                for further in _along(graph, other, node):
                    if further not in reached:
                        reached.add(further)
                        waiting.append(further)
        else:
            lost |= reached
    return lost


def _along(graph: Graph, other: Element, node: int) -> tuple[int, ...]:
    """Nodes that direct current reaches from a node through a part that is no device; a winding leads along itself."""
    windings = graph.windings_of.get(other.index, ())
    if windings:
        return tuple(further for winding in windings if node in winding.nodes for further in winding.nodes)
    return other.nodes if other.kind in _DIRECT or len(other.nodes) == 2 else ()
