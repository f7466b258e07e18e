"""The elements that stand for a part: what the form can say of it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from topo.netlist.circuit import Part
from topo.netlist.device_types import device_type
from topo.netlist.elements.spelling import Spelling, number
from topo.netlist.kinds import GROUPS

Lines = tuple[list[str], list[str]]
"""The element lines of a part, and the elements' names."""

_CONTACT_OHM, _OPEN_OHM, _TURN_HENRY = 1e-3, 1e9, 1.0
_OHMIC = GROUPS["load"] | {"resistor", "thermistor", "microphone", "meter", "fuse"}
_MODEL_TYPES = {"npn": "NPN", "pnp": "PNP", "njfet": "NJF", "pjfet": "PJF", "nmos": "NMOS", "pmos": "PMOS"}
# The netlist language's own defaults, written out since others' are not the same.
_DEFAULTS: Mapping[str, Mapping[str, float]] = {
    "npn": {"IS": 1e-14, "hFE": 100.0},
    "pnp": {"IS": 1e-14, "hFE": 100.0},
    "germanium": {"IS": 1e-6, "hFE": 80.0},
    "led": {"IS": 1e-18, "N": 2.0},
    "diode": {"IS": 1e-14},
}
_BIPOLAR_NAMES = {"IS": "IS", "hFE": "BF", "hFER": "BR", "VA": "VAF", "N": "NF", "rb": "RB", "re": "RE", "rc": "RC"}
_DIODE_NAMES = {"IS": "IS", "N": "N", "RS": "RS"}


def elements_of(part: Part, spelling: Spelling, models: dict[str, str]) -> Lines:
    """The elements of a part; the models that they need are added to `models` by name."""
    kind = part.kind
    nodes = [spelling.node(terminal.net) for terminal in part.terminals]
    if part.windings:
        return _coils(part, spelling)
    if kind in _OHMIC and len(nodes) == 2:
        return _one("R", part, spelling, nodes, _value(part))
    if kind == "capacitor":
        return _one("C", part, spelling, nodes, _value(part))
    if kind in ("inductor", "choke"):
        loss = f" Rser={number(part.params['rdc'])}" if "rdc" in part.params else ""
        return _one("L", part, spelling, nodes, _value(part) + loss)
    if kind == "bead":
        return _one("R", part, spelling, nodes, number(_CONTACT_OHM))
    if kind in ("battery", "source"):
        loss = f" Rser={number(part.params['R'])}" if part.params.get("R") else ""
        signal = " AC 1" if spelling.is_drive(part) else ""
        if part.ratings.get("Hz") and part.value is not None:
            peak = number(float(f"{part.value * math.sqrt(2):.6g}"))
            return _one("V", part, spelling, nodes, f"SIN(0 {peak} {number(part.ratings['Hz'])}){loss}")
        return _one("V", part, spelling, nodes, f"DC {_value(part)}{signal}{loss}")
    if kind == "current":
        return _one("I", part, spelling, nodes, f"DC {_value(part)}{' AC 1' if spelling.is_drive(part) else ''}")
    if kind == "switch":
        ohms = _CONTACT_OHM if part.settings.get("state") == "closed" else _OPEN_OHM
        return _one("R", part, spelling, nodes, number(ohms))
    if kind == "potentiometer":
        return _track(part, spelling)
    if kind in GROUPS["junction"] or kind in _MODEL_TYPES:
        return _device(part, spelling, models)
    if kind == "opamp" and {"v+", "v-"} <= {terminal.name for terminal in part.terminals}:
        own = [spelling.node(part.net(name)) for name in ("in+", "in-", "v+", "v-", "out")]
        return _one("X", part, spelling, own, "OPAMP")
    if kind == "opamp":
        gain = number(part.params.get("GAIN", 1e5))
        own = [spelling.node(part.net(name)) for name in ("out", "in+", "in-")]
        return _one("E", part, spelling, [own[0], "0", own[1], own[2]], gain)
    return _one("X", part, spelling, nodes, _word(part.type_name or kind))


def _one(letter: str, part: Part, spelling: Spelling, nodes: list[str], rest: str) -> Lines:
    name = spelling.element(letter, part.ref)
    return [f"{name} {' '.join(nodes)} {rest}"], [name]


def _value(part: Part) -> str:
    return "?" if part.value is None else number(part.value)


def _word(text: str) -> str:
    return "".join(character if character.isalnum() or character in "-_." else "_" for character in text)


def _track(part: Part, spelling: Spelling) -> Lines:
    """A potentiometer as the two resistors that its wiper makes of it."""
    at = float(str(part.settings.get("at", 0.5)))
    lines: list[str] = []
    names: list[str] = []
    for end, share in (("1", at), ("2", 1 - at)):
        if not any(terminal.name == end for terminal in part.terminals):
            continue
        ohms = "?" if part.value is None else number(max(part.value * share, _CONTACT_OHM))
        name = spelling.element("R", f"{part.ref}_{end}")
        nodes = [spelling.node(part.net(end)), spelling.node(part.net("w"))]
        lines.append(f"{name} {' '.join(nodes if end == '1' else reversed(nodes))} {ohms}")
        names.append(name)
    return lines, names


def _coils(part: Part, spelling: Spelling) -> Lines:
    """Windings as coils of turns squared, and the coupling of all."""
    primary = sum(part.windings[0].turns)
    henries = part.params.get("primary") if len(part.windings) > 1 else part.value
    scale = (henries or _TURN_HENRY * primary**2) / primary**2
    lines: list[str] = []
    names: list[str] = []
    for winding in part.windings:
        for place, turns in enumerate(winding.turns):
            name = spelling.element("L", f"{part.ref}_{len(names) + 1}")
            ends = [spelling.node(part.net(winding.terminals[place + offset])) for offset in (0, 1)]
            lines.append(f"{name} {' '.join(ends)} {number(float(f'{scale * turns**2:.6g}'))}")
            names.append(name)
    if len(names) > 1:
        lines.append(f"{spelling.element('K', part.ref)} {' '.join(names)} {number(part.params.get('k', 1.0))}")
    return lines, names


def _device(part: Part, spelling: Spelling, models: dict[str, str]) -> Lines:
    """A diode or transistor with its model."""
    model, area = _model(part, models), int(part.params.get("count", 1))
    kind = part.kind
    letter = (
        "D"
        if kind in GROUPS["junction"]
        else "Q"
        if kind in GROUPS["bipolar"]
        else "J"
        if kind in GROUPS["jfet"]
        else "M"
    )
    order = {"D": ("a", "k"), "Q": ("c", "b", "e"), "J": ("d", "g", "s"), "M": ("d", "g", "s", "b")}[letter]
    names = {terminal.name for terminal in part.terminals}
    nodes = [spelling.node(part.net(name if name in names else "s")) for name in order]
    times = "" if area == 1 else f" M={area}" if letter == "M" else f" {area}"
    return _one(letter, part, spelling, nodes, model + times)


def _model(part: Part, models: dict[str, str]) -> str:
    """The name of a part's model, which is added where it is new."""
    values = _model_values(part)
    stem = _word(part.type_name) if part.type_name else part.kind.upper()
    told = " ".join(f"{name}={figure:.9g}" for name, figure in values.items())
    kind = _MODEL_TYPES.get(part.kind, "D")
    for count in range(1, len(models) + 2):
        name = f"{stem}_{count}" if count > 1 or not part.type_name else stem
        line = f".model {name} {kind}({told})"
        before = models.get(name.casefold())
        if before is None or before == line:
            models[name.casefold()] = line
            return name
    raise AssertionError("one of so many names is free")


def _model_values(part: Part) -> dict[str, float]:
    """The parameters of a part's model by the form's names."""
    known = device_type(part.type_name) if part.type_name else None
    typical = dict(known.params) if known is not None and known.suits(part.kind) else {}
    made_of = "germanium" if part.settings.get("germanium") else part.kind
    given = {
        **_DEFAULTS.get(made_of, _DEFAULTS["diode"] if part.kind in GROUPS["junction"] else {}),
        **typical,
        **part.params,
    }
    if part.kind in GROUPS["junction"]:
        values = {theirs: given[own] for own, theirs in _DIODE_NAMES.items() if own in given}
        if part.kind == "zener" and part.value is not None:
            values |= {"BV": part.value, "IBV": given.get("IZ", 5e-3)}
    elif part.kind in GROUPS["bipolar"]:
        values = {theirs: given[own] for own, theirs in _BIPOLAR_NAMES.items() if own in given}
    elif part.kind in GROUPS["jfet"]:
        pinch = abs(given["VP"]) if "VP" in given else 0.0
        values = {"VTO": -pinch, "BETA": given["IDSS"] / pinch**2} if pinch and "IDSS" in given else {}
    else:
        values = {"VTO": given["VTH"]} if "VTH" in given else {}
        values |= {"KP": 2 * given["K"]} if "K" in given else {}
    if part.kind in GROUPS["fet"] and given.get("VA"):
        values["LAMBDA"] = 1 / given["VA"]
    if part.settings.get("germanium"):
        values["EG"] = 0.67
    return values
