"""How the kinds of the netlist language behave in a view: which are wires, which have two ends, which amplify."""

from __future__ import annotations

from topo.graph.graph import Element, Graph

BIPOLAR = frozenset({"npn", "pnp"})
FETS = frozenset({"njfet", "pjfet", "nmos", "pmos"})
VALVES = frozenset({"triode", "tetrode", "pentode"})
DEVICES = BIPOLAR | FETS | VALVES

COILS = frozenset({"inductor", "choke", "bead"})
DIODES = frozenset({"diode", "rectifier", "zener", "led", "varactor"})
RESISTIVE = frozenset({"resistor", "potentiometer"})

# What hangs between two nets and is neither a device nor a set of windings.
TWO_ENDED = (
    COILS
    | DIODES
    | frozenset(
        {
            "resistor",
            "thermistor",
            "capacitor",
            "speaker",
            "headphones",
            "microphone",
            "antenna",
            "meter",
            "lamp",
            "fuse",
            "crystal",
            "battery",
            "source",
            "current",
            "switch",
            "relay",
        }
    )
)

# Kinds of which several in series read as one; a pot's half counts as a resistor.
CHAINABLE = frozenset({"resistor", "capacitor", "inductor"})

CONTROL = {"npn": "b", "pnp": "b", **dict.fromkeys(FETS, "g"), "triode": "g", "tetrode": "g1", "pentode": "g1"}
EMITTING = {"npn": "e", "pnp": "e", **dict.fromkeys(FETS, "s"), **dict.fromkeys(VALVES, "k")}
COLLECTING = {"npn": "c", "pnp": "c", **dict.fromkeys(FETS, "d"), **dict.fromkeys(VALVES, "a")}


def electrodes(element: Element) -> tuple[str, str, str]:
    """The terminal names (control, emitting, collecting) of an amplifying device."""
    kind = element.kind
    return CONTROL[kind], EMITTING[kind], COLLECTING[kind]


def control_terminals(element: Element) -> tuple[str, ...]:
    """The terminals that steer and carry next to no current; empty for what is no device.

    The inputs of an operational amplifier are among them; screen and suppressor grids are not.
    """
    if element.kind in CONTROL:
        name = CONTROL[element.kind]
        return (name,) if name in element.terminals else tuple(t for t in element.terminals if t == "g")
    if element.kind == "opamp":
        return tuple(name for name in element.terminals if name in ("in+", "in-"))
    return ()


def is_polarised(graph: Graph, element: Element) -> bool:
    """Whether an element is an electrolytic capacitor, or has one among its members."""
    parts = (graph.circuit.by_ref.get(ref) for ref in element.members)
    return element.kind == "capacitor" and any(part is not None and part.settings.get("polarised") for part in parts)


def polarity(element: Element) -> str:
    """ "n" or "p"; valves are "n"."""
    return "p" if element.kind in ("pnp", "pjfet", "pmos") else "n"
