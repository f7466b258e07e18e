"""Kinds that a role may ask for, the parts that each one takes, and the terminals of each."""

from __future__ import annotations

BIPOLAR = ("npn", "pnp")
JFETS = ("njfet", "pjfet")
MOSFETS = ("nmos", "pmos")
VALVES = ("triode", "tetrode", "pentode")
DEVICES = BIPOLAR + JFETS + MOSFETS + VALVES
DIODES = ("diode", "rectifier", "led", "zener", "varactor")
COILS = ("inductor", "choke", "bead")

# Electrodes of the three device families, in the order control, emitter, collector.
ELECTRODES = {
    **dict.fromkeys(BIPOLAR, ("b", "e", "c")),
    **dict.fromkeys(JFETS + MOSFETS, ("g", "s", "d")),
    "triode": ("g", "k", "a"),
    "tetrode": ("g1", "k", "a"),
    "pentode": ("g1", "k", "a"),
}
GENERIC = {"ctl": "ctl", "emt": "emt", "col": "col"} | {
    name: generic
    for names in (("b", "e", "c"), ("g", "s", "d"), ("g1", "k", "a"))
    for name, generic in zip(names, ("ctl", "emt", "col"), strict=True)
}

# Groups of which a device (single or compound) is a member.
DEVICE_GROUPS = {
    "amplifying": DEVICES,
    "bipolar": BIPOLAR,
    "fet": JFETS + MOSFETS,
    "jfet": JFETS,
    "mosfet": MOSFETS,
    "valve": VALVES,
    **{kind: (kind,) for kind in DEVICES},
}
# Groups of two-terminal parts. A `load` is also a resistor at the declared output.
BRANCH_GROUPS = {
    "resistor": ("resistor",),
    "capacitor": ("capacitor",),
    "electrolytic": ("capacitor",),
    "coil": COILS,
    "diode": ("diode", "rectifier", "led", "zener"),
    "junction": DIODES[:4],
    "load": ("speaker", "headphones", "antenna", "lamp"),
    "source": ("microphone", "antenna"),
    "thermistor": ("thermistor",),
    **{
        kind: (kind,)
        for kind in (
            *("inductor", "choke", "bead", "rectifier", "led", "zener", "varactor", "speaker", "headphones"),
            *("microphone", "antenna", "meter", "lamp", "fuse", "crystal", "battery", "current", "switch"),
        )
    },
}
ANY_TWO_TERMINAL = "any two-terminal"
# Parts that are bound whole, by their own terminals.
WHOLE = ("potentiometer", "opamp", "regulator", "selector", "relay", "jack", "ic", "other", "transformer")
ROLE_KINDS = tuple(dict.fromkeys([*DEVICE_GROUPS, *BRANCH_GROUPS, ANY_TWO_TERMINAL, "winding", *WHOLE]))

DEVICE_TERMINALS = tuple(dict.fromkeys([*GENERIC, "g2", "g3"]))
TWO_TERMINALS = ("1", "2")
DIODE_TERMINALS = ("a", "k", "1", "2")
POLARISED_TERMINALS = ("+", "-", "1", "2")
# `tap` is the middle one of an odd number of taps, `endtap` and `othertap` of more than two are those next to the ends.
WINDING_TERMINALS = ("start", "finish", "tap", "end", "other", "endtap", "othertap")
POTENTIOMETER_TERMINALS = ("end1", "w", "end2", "end", "other", "1", "2")
WHOLE_TERMINALS = {
    "potentiometer": POTENTIOMETER_TERMINALS,
    "opamp": ("in+", "in-", "out", "v+", "v-"),
    "regulator": ("in", "out", "common"),
}


def terminals_of(kind: str) -> tuple[str, ...] | None:
    """The terminals that joins may name on a role of a kind; None where any name is allowed."""
    if kind in DEVICE_GROUPS:
        return DEVICE_TERMINALS
    if kind == "winding":
        return WINDING_TERMINALS
    if kind in WHOLE:
        return WHOLE_TERMINALS.get(kind)
    if kind in ("diode", "junction", "rectifier", "led", "zener", "varactor"):
        return DIODE_TERMINALS
    if kind in ("capacitor", "electrolytic", "battery", "current"):
        return POLARISED_TERMINALS
    return TWO_TERMINALS


def is_directed(kind: str) -> bool:
    """Whether a role of a kind has a direction of conduction, so that `-x>` may be written."""
    return kind in ("diode", "junction", "rectifier", "led", "zener", "varactor", ANY_TWO_TERMINAL)
