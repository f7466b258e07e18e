"""Device parameters: what the part says, else the stated default of its kind, and words for what was assumed."""

from __future__ import annotations

from collections.abc import Mapping

from topo.analysis.physics import GERMANIUM_GAP, SILICON_GAP
from topo.netlist.circuit import Part
from topo.netlist.device_types import device_type
from topo.quantities import show

BIPOLAR = ("npn", "pnp")
JFETS = ("njfet", "pjfet")
MOSFETS = ("nmos", "pmos")
DIODES = ("diode", "rectifier", "zener", "led", "varactor")
MULTIGRIDS = ("tetrode", "pentode")
VALVES = ("triode", *MULTIGRIDS)
ACTIVE = frozenset((*BIPOLAR, *JFETS, *MOSFETS, *VALVES, "opamp", "regulator"))
"""Devices that can give power: what a skeleton leaves out."""

P_TYPES = frozenset(("pnp", "pjfet", "pmos"))

# What is assumed of a device that does not say. Silicon, germanium, LED, zener: the netlist language's own table.
# Field-effect devices: small general-purpose types (common practice).
# Triode: a high-mu double triode; pentode: a beam power tetrode; both as fitted by N. Koren (1996), from memory.
_SILICON = {"IS": (1e-14, "IS 10 fA")}
_GERMANIUM = {"IS": (1e-6, "IS 1 uA")}
_DEFAULTS: dict[str, dict[str, tuple[float, str]]] = {
    "bipolar silicon": {**_SILICON, "hFE": (100.0, "hFE 100")},
    "bipolar germanium": {**_GERMANIUM, "hFE": (80.0, "hFE 80")},
    "diode silicon": _SILICON,
    "diode germanium": _GERMANIUM,
    "led": {"IS": (1e-18, "IS 1e-18 A"), "N": (2.0, "N 2")},
    "jfet": {"IDSS": (5e-3, "IDSS 5 mA"), "VP": (-2.0, "VP 2 V")},
    "mosfet": {"VTH": (2.0, "VTH 2 V"), "K": (0.1, "K 0.1 A/V2")},
    "triode": {
        "MU": (100.0, "MU 100"),
        "EX": (1.4, "EX 1.4"),
        "KG1": (1060.0, "KG1 1060"),
        "KP": (600.0, "KP 600"),
        "KVB": (300.0, "KVB 300"),
    },
    "pentode": {
        "MU": (8.7, "MU 8.7"),
        "EX": (1.35, "EX 1.35"),
        "KG1": (1460.0, "KG1 1460"),
        "KG2": (4500.0, "KG2 4500"),
        "KP": (48.0, "KP 48"),
        "KVB": (12.0, "KVB 12"),
    },
    "opamp": {"GAIN": (1e5, "gain 100 000")},
}
_UNSAID = {"N": 1.0, "RS": 0.0, "hFER": 1.0, "rb": 0.0, "re": 0.0, "rc": 0.0, "IZ": 5e-3}
_QUIET = frozenset(("opamp",))


def family(part: Part) -> str | None:
    """The row of the table of defaults that holds for a part; None for what is no device."""
    material = "germanium" if part.settings.get("germanium") else "silicon"
    kind = part.kind
    if kind in BIPOLAR:
        return f"bipolar {material}"
    if kind == "led":
        return "led"
    if kind in DIODES:
        return f"diode {material}"
    if kind in JFETS:
        return "jfet"
    if kind in MOSFETS:
        return "mosfet"
    if kind in MULTIGRIDS:
        return "pentode"
    return kind if kind in ("triode", "opamp") else None


def device_parameters(part: Part) -> tuple[dict[str, float], str]:
    """All parameters of a device, and what was assumed, in words ("" if nothing).

    What the part does not say is as typical of its type number, where the data has it, else the default of its kind.
    Signs are those of the n-type device: VP negative, VTH positive for an enhancement device of either polarity.
    """
    row = family(part)
    defaults = _DEFAULTS.get(row or "", {})
    given: Mapping[str, float] = part.params
    typical = typical_parameters(part)
    said = {**typical, **given}
    values = {**_UNSAID, **{name: value for name, (value, _) in defaults.items()}, **said}
    for name in ("VP", "VTH"):
        if name in said and part.kind in P_TYPES:
            values[name] = -said[name]
    if part.kind in JFETS:
        values["VP"] = -abs(values["VP"])
    for name in ("rb", "re", "rc"):  # of so many like devices joined electrode to electrode, in parallel
        values[name] /= given.get("count", 1.0)
    taken = {name: value for name, value in typical.items() if name not in given}
    words = [text for name, (_, text) in defaults.items() if name not in said]
    if taken:
        return values, f"typical values of {part.type_name} assumed: {', '.join((_told(taken), *words))}"
    if row in _QUIET or not words:
        return values, ""
    if len(words) < len(defaults):
        return values, f"{', '.join(words)} assumed as typical, since not given"
    if part.type_name:
        known = device_type(part.type_name)
        why = "not in the data" if known is None else f"{known.kind} in the data and {part.kind} here"
        return values, f"{part.type_name} is {why}: {_made_of(part)} defaults ({', '.join(words)})"
    return values, f"{_made_of(part)} with typical parameters assumed ({', '.join(words)}), since no type is given"


def typical_parameters(part: Part) -> Mapping[str, float]:
    """Parameters that are typical of the part's type number; none where the data does not have it.

    Source: `topo/netlist/data/types.json`, in which each type names its own.
    """
    if not part.type_name:
        return {}
    known = device_type(part.type_name)
    return known.params if known is not None and known.suits(part.kind) else {}


def _told(values: Mapping[str, float]) -> str:
    """Parameters with their figures: `IS 6.7 fA, hFE 200`."""
    units = {"IS": "A", "IDSS": "A", "IZ": "A", "VA": "V", "VP": "V", "VTH": "V", "K": "A/V2", "RS": "ohm"}
    rows = []
    for name, value in values.items():
        unit = units.get(name, "")
        rows.append(f"{name} {show(value, unit)}" if unit in ("A", "V", "ohm") else f"{name} {value:g} {unit}".rstrip())
    return ", ".join(rows)


def _made_of(part: Part) -> str:
    """What a device is taken to be made of, where that matters, else its kind."""
    if part.kind in ("npn", "pnp", "diode", "rectifier", "zener"):
        return "germanium" if part.settings.get("germanium") else "silicon"
    return "LED" if part.kind == "led" else part.kind


def gap_of(part: Part) -> float:
    """The band gap of the part's material in electron-volt."""
    return GERMANIUM_GAP if part.settings.get("germanium") else SILICON_GAP
