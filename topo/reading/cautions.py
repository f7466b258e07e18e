"""Cautions: those of the kept patterns, and general ones that the circuit's own numbers call for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from topo.graph.graph import Element, Graph
from topo.matching.kinds import MOSFETS, VALVES
from topo.netlist.circuit import Circuit
from topo.quantities import show
from topo.reading.flow import electrode, is_device
from topo.reading.reading import StageClass
from topo.reading.summary import joined
from topo.views.view import Views

# Customary limits of equipment safety standards (60 V for direct voltage) and of the workshop (common practice).
HAZARDOUS_VOLTS = 60.0
STORED_JOULES = 10.0
RADIO_FREQUENCY = 100e3
RADIO_WATTS = 5.0
HOT_WATTS = 1.0
_OUTLETS = frozenset({"plug", "terminal", "jack", "source"})

_DEFER = (
    "Mains, high-voltage and RF power work belongs to people qualified for it or under their supervision; "
    "local rules and the manufacturer's safety notes outrank this text."
)


def cautions(
    circuit: Circuit, views: Views, classes: Sequence[StageClass], of_patterns: Iterable[str]
) -> tuple[str, ...]:
    """Each caution once: of the patterns in the order of the blocks, then general ones, the deferring line last."""
    grave = [*_mains(views.graph), *_high_voltage(circuit, views), *_stored_energy(circuit, views)]
    radio = _radio_power(circuit, views, classes)
    general = [*grave, *radio, *_heat(views, classes), *_devices(circuit), *_loudspeaker(views)]
    found = list(of_patterns)
    for words in general:
        if not any(_speak_of_the_same(words, other) for other in found):
            found.append(words)
    if grave or radio:
        found.append(_DEFER)
    return tuple(dict.fromkeys(found))


# Words by which two cautions are known to be of one danger.
_DANGERS = ("beryllium oxide", "dummy load", "burn", "static charge", "mains", "gates", "hot heat sink")


def _speak_of_the_same(words: str, other: str) -> bool:
    """Whether a caution is already given in other words."""
    return any(danger in words.casefold() and danger in other.casefold() for danger in _DANGERS)


def _mains(graph: Graph) -> list[str]:
    """Transformers with rectifiers on one winding and a winding that nothing in the drawing drives."""
    for element in graph.elements:
        if element.kind != "transformer":
            continue
        rectified, undriven = False, False
        for winding in graph.windings_of[element.index]:
            others = [other for node in winding.nodes if node for other in _others_at(graph, node, element.index)]
            rectified = rectified or any(other.kind in ("diode", "rectifier") for other in others)
            grounded = 0 in (winding.nodes[0], winding.nodes[-1])
            undriven = undriven or (not grounded and all(other.kind in _OUTLETS for other in others))
        if rectified and undriven:
            return [
                f"{element.name} is fed from outside of this drawing: if that is the mains, it is lethal, "
                "on every part up to the transformer."
            ]
    return []


def _others_at(graph: Graph, node: int, index: int) -> list[Element]:
    """The elements on a node other than one."""
    return [graph.elements[other] for other, _ in graph.at_node[node] if other != index]


def _highest_volts(views: Views) -> float:
    """The largest direct voltage in the circuit, by rails and by the operating point."""
    known = [abs(volts) for volts in (*views.graph.rails.values(), *views.point.volts) if math.isfinite(volts)]
    return max(known, default=0.0)


def _high_voltage(circuit: Circuit, views: Views) -> list[str]:
    """High tension, by valves or by the rails."""
    highest = _highest_volts(views)
    if highest <= HAZARDOUS_VOLTS:
        return []
    return [
        f"High voltage: {show(highest, 'V')} in this circuit, and it may stay after switching off "
        "(60 V is the customary limit; local rules apply).",
        "Discharge the reservoir capacitors through a resistor, then measure, before anything is touched.",
    ]


def _stored_energy(circuit: Circuit, views: Views) -> list[str]:
    """Capacitors that hold more energy than is harmless, at a voltage below the hazardous one."""
    if _highest_volts(views) > HAZARDOUS_VOLTS:
        return []
    for element in views.graph.elements:
        if element.kind == "capacitor" and element.value and len(element.nodes) == 2:
            volts = views.point.volts[element.nodes[0]] - views.point.volts[element.nodes[1]]
            joules = element.value * volts * volts / 2
            if math.isfinite(joules) and joules > STORED_JOULES:
                return [
                    f"{element.name} holds {show(joules, 'J', 2)}: enough to burn; discharge it through a resistor, "
                    "not with a screwdriver."
                ]
    return []


def _is_radio(views: Views) -> bool:
    """Whether the declared band is one of radio frequency."""
    band = views.signal.band if views.signals else None
    return band is not None and band[0] >= RADIO_FREQUENCY


def _radio_power(circuit: Circuit, views: Views, classes: Sequence[StageClass]) -> list[str]:
    """Burns, beryllium oxide, dummy load and licence, where an RF stage gives power."""
    if not _is_radio(views):
        return []
    watts = max((item.most_power or 0.0 for item in classes), default=0.0)
    found = []
    if watts > RADIO_WATTS:
        found += [
            "RF burns: do not touch the output, the output transformer or the aerial lead while the stage is driven.",
            "Some RF power transistors hold beryllium oxide, poisonous as dust: do not file, grind or break them.",
        ]
    if watts > HOT_WATTS:
        found.append("Test into a dummy load of the rated resistance and power; transmit only with a licence.")
    return found


def _heat(views: Views, classes: Sequence[StageClass]) -> list[str]:
    """Devices that get hot, at rest or at the worst drive of a pair."""
    hot: list[str] = []
    graph, point = views.graph, views.point
    for element in graph.elements:
        terminal = electrode(element, "col")
        emitting = electrode(element, "emt")
        if terminal is None or emitting is None:
            continue
        current = point.currents[element.index][element.terminals.index(terminal)]
        watts = abs((point.volts[element.node(terminal)] - point.volts[element.node(emitting)]) * current)
        if watts > HOT_WATTS:
            hot += element.members
    for item in classes:
        # Worst dissipation of each device of a class-B pair: V squared over pi squared times R.
        if item.volts and item.ohms and item.volts**2 / (math.pi**2 * item.ohms) > HOT_WATTS:
            hot += item.devices
    order = [ref for element in graph.elements if is_device(element) for ref in element.members if ref in hot]
    if not order:
        return []
    return [f"{joined(order)} may dissipate more than {show(HOT_WATTS, 'W')}: hot heat sink within minutes."]


def _devices(circuit: Circuit) -> list[str]:
    """What the kinds of device ask for."""
    found = []
    if any(part.kind in VALVES for part in circuit.parts):
        found.append("Never run a valve output stage without its load: the winding may flash over.")
    if any(part.settings.get("germanium") and part.kind in ("npn", "pnp") for part in circuit.parts):
        found.append("Germanium transistors bear little heat: use a heat shunt when soldering, and keep them cool.")
    if any(part.kind in MOSFETS for part in circuit.parts):
        found.append("The gates of MOSFETs are harmed by static charge while they are handled.")
    return found


def _loudspeaker(views: Views) -> list[str]:
    """A loudspeaker joined to the output devices for direct current."""
    view = views.dc
    moving = {
        view.class_of[element.node(terminal)]
        for element in views.graph.elements
        if is_device(element)
        for name in ("col", "emt")
        if (terminal := electrode(element, name)) is not None
    }
    for branch in view.branches:
        moving |= set(branch.ends) if _is_small_lead(branch.kind, branch.value) and set(branch.ends) & moving else set()
    hard = {view.class_of[0], *(view.class_of[node] for node in views.graph.rails)}
    for element in views.graph.elements:
        if element.kind == "speaker" and {view.class_of[node] for node in element.nodes} & (moving - hard):
            return [f"A fault may put direct current through {element.name}: test first without it."]
    return []


def _is_small_lead(kind: str, ohms: float | None) -> bool:
    """Whether a branch is an emitter resistor of a power stage or the like."""
    return kind == "resistor" and ohms is not None and ohms <= 5
