"""What a device's model means here: its kind, and the parameters that mean the same in both languages."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from topo.netlist.device_types import DeviceType, device_type, is_germanium
from topo.netlist.elements.bodies import Body, Model
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.scopes import Scope
from topo.netlist.syntax import Word
from topo.netlist.words import may_be

# Model type -> kind, and per kind the parameters: own name, the form's names.
KIND_OF_TYPE = {
    "D": "diode",
    "NPN": "npn",
    "LPNP": "pnp",
    "PNP": "pnp",
    "NJF": "njfet",
    "PJF": "pjfet",
    "NMF": "njfet",
    "PMF": "pjfet",
    "GASFET": "njfet",
    "NMOS": "nmos",
    "PMOS": "pmos",
    "VDMOS": "nmos",
}
# The same quantity in both languages.
_DIRECT: dict[str, dict[str, tuple[str, ...]]] = {
    "diode": {"IS": ("is", "js"), "N": ("n",), "RS": ("rs",)},
    "bipolar": {
        "IS": ("is",),
        "hFE": ("bf", "bfm"),
        "hFER": ("br", "brm"),
        "VA": ("vaf", "va"),
        "N": ("nf",),
        "rb": ("rb",),
        "re": ("re",),
        "rc": ("rc",),
    },
}
_DEFAULTS = {"bf": 100.0, "br": 1.0, "is": 1e-16, "vto": -2.0, "beta": 1e-4, "kp": 2e-5, "diode is": 1e-14}
_SCALED_UP, _SCALED_DOWN = ("IS", "IDSS", "K"), ("RS", "rb", "re", "rc")
# Zener diodes above this voltage are rare, rectifiers below it as well (common practice).
_ZENER_BELOW = 40.0
_ZENER_WORDS = re.compile(r"zener|^d?z[d\d]|bz[vxy]", re.IGNORECASE)
_LED_WORDS = re.compile(r"led", re.IGNORECASE)
# Germanium: band gap in electronvolts, saturation current in ampere of its small diodes and transistors.
_GERMANIUM_GAP = (0.6, 0.8)
_DEEPEST_BASE = 10


@dataclass(frozen=True)
class Nature:
    """What a model makes of a part."""

    kind: str
    params: dict[str, float] = field(default_factory=dict)
    value: float | None = None
    germanium: bool = False
    type_name: str | None = None


def kind_of_model(model: Model) -> str | None:
    """The kind of part that a model's type stands for; None where it has no counterpart."""
    if model.type == "VDMOS" and "pchan" in model.flags:
        return "pmos"
    return KIND_OF_TYPE.get(model.type)


class Models:
    """Works out models, each once in each scope, and tells what of them is not used."""

    def __init__(self, found: Findings) -> None:
        self.found = found
        self._said: set[int] = set()

    def nature(self, name: str, scope: Scope, kinds: frozenset[str], size: tuple[float, float]) -> Nature | None:
        """The nature that a model's name gives a part of one of `kinds`; None where the name is not known.

        Args:
            size: the area factor (or number of devices), and width over length of a MOSFET.
        """
        model = scope.body.model(name)
        if model is None:
            return _standard(name, kinds, size[0])
        model = self._whole(model, scope.body, 0)
        kind = kind_of_model(model)
        if kind is None or kind not in kinds:
            return None
        values = self._values(model, scope)
        nature = _nature(kind, model, values, size)
        self._tell_unused(model, kind)
        return nature

    def _whole(self, model: Model, body: Body, depth: int) -> Model:
        """A model with what it takes from the one that it is based on."""
        base = body.model(model.base) if model.base else None
        if base is None or base is model or depth > _DEEPEST_BASE:
            return model
        base = self._whole(base, body, depth + 1)
        return Model(
            model.name, model.type or base.type, base.params | model.params, base.flags | model.flags, "", model.line
        )

    def _values(self, model: Model, scope: Scope) -> dict[str, float]:
        values: dict[str, float] = {}
        for name, word in model.params.items():
            if name not in _USED:
                continue
            try:
                values[name] = scope.value(word)
            except FormulaError as error:
                self.found.warn(
                    "bad-value", model.line, word, f"{name.upper()} of the model {model.name}: {error}; not used."
                )
        return values

    def _tell_unused(self, model: Model, kind: str) -> None:
        if id(model) in self._said:
            return
        self._said.add(id(model))
        unused = [name for name in model.params if name not in _used_by(kind)]
        if unused:
            names = " ".join(name.upper() for name in unused)
            self.found.note(
                "model-part-used", model.line, _head(model), f"of the model {model.name} these are not used: {names}."
            )


def _head(model: Model) -> Word:
    start = model.line.text.find(model.name)
    return Word(model.name, max(0, start))


def _standard(name: str, kinds: frozenset[str], area: float) -> Nature | None:
    """The nature by a standard type number, with or without the letter of its element in front (`Q2N3904`)."""
    known: DeviceType | None = None
    for text in (name, name[1:], name.split("_")[0], name.split("/")[0]):
        known = device_type(text) if text else None
        if known is not None and known.kind in kinds:
            params = _scaled(dict(known.params), area) if area != 1 else {}
            return Nature(known.kind, params, known.volts, False, text.upper())
    return None


def _nature(kind: str, model: Model, values: dict[str, float], size: tuple[float, float]) -> Nature:
    name, area = model.name, size[0]
    if kind == "diode":
        return _diode(name, values, area)
    if kind in ("npn", "pnp"):
        params = _same(_DIRECT["bipolar"], values)
        params.setdefault("IS", _DEFAULTS["is"])
        params.setdefault("hFE", _DEFAULTS["bf"])
        return Nature(kind, _scaled(_sane(params), area), None, _is_germanium(name, values, params["IS"], 1e-8))
    if kind in ("njfet", "pjfet"):
        sign = 1.0 if kind == "njfet" else -1.0
        pinch = -abs(values.get("vto") or _DEFAULTS["vto"])
        params = {"IDSS": (values.get("beta") or _DEFAULTS["beta"]) * pinch * pinch, "VP": sign * pinch}
    else:
        ratio = 1.0 if model.type == "VDMOS" else size[1]
        params = {"VTH": values.get("vto", values.get("vth0", 0.0)), "K": values.get("kp", _DEFAULTS["kp"]) / 2 * ratio}
    if values.get("lambda", 0.0) > 0:
        params["VA"] = 1 / values["lambda"]
    return Nature(kind, _scaled(params, area))


def _diode(name: str, values: dict[str, float], area: float) -> Nature:
    """A diode, told from a zener diode and a light-emitting one by its model."""
    params = _same(_DIRECT["diode"], values)
    params.setdefault("IS", _DEFAULTS["diode is"])
    known = device_type(name) or device_type(name[1:])
    kind, value = "diode", None
    breakdown = abs(values.get("bv", values.get("vb", values.get("vz", 0.0))))
    is_zener = (known is not None and known.kind == "zener") or bool(_ZENER_WORDS.search(name))
    if breakdown and (is_zener or (breakdown < _ZENER_BELOW and params["IS"] < 1e-11 and known is None)):
        kind, value = "zener", breakdown
        if values.get("ibv", 0) > 1e-6:
            params["IZ"] = values["ibv"]
    elif known is not None and known.kind in ("rectifier", "led", "varactor"):
        kind = known.kind
    elif _LED_WORDS.search(name) and params["IS"] < 1e-14:
        kind = "led"
    return Nature(
        kind, _scaled(_sane(params), area), value, kind == "diode" and _is_germanium(name, values, params["IS"], 2e-7)
    )


def _same(names: dict[str, tuple[str, ...]], values: dict[str, float]) -> dict[str, float]:
    """Parameters that mean the same, by their own names."""
    found = {}
    for own, theirs in names.items():
        given = next((values[name] for name in theirs if name in values), None)
        if given is not None:
            found[own] = given
    return found


def _sane(params: dict[str, float]) -> dict[str, float]:
    """Without what the form uses to say *none*: an Early voltage or a resistance of zero, a boundless figure."""
    return {name: value for name, value in params.items() if 0 < value < 1e9}


def _scaled(params: dict[str, float], area: float) -> dict[str, float]:
    """The possible parameters of a device of that area (or of so many in parallel), without noise in the last digit."""
    scaled = {}
    for name, value in params.items():
        whole = value * area if name in _SCALED_UP else value / area if name in _SCALED_DOWN else value
        if may_be(name, whole):
            scaled[name] = float(f"{whole:.12g}")
    return scaled


def _is_germanium(name: str, values: dict[str, float], saturation: float, most: float) -> bool:
    gap = values.get("eg")
    if gap is not None:
        return _GERMANIUM_GAP[0] <= gap <= _GERMANIUM_GAP[1]
    return is_germanium(name) or saturation >= most


def _used_by(kind: str) -> frozenset[str]:
    if kind == "diode":
        return frozenset(("is", "js", "n", "rs", "bv", "vb", "vz", "ibv", "eg"))
    if kind in ("npn", "pnp"):
        return frozenset(name for names in _DIRECT["bipolar"].values() for name in names) | {"eg"}
    return frozenset(("vto", "vth0", "beta", "kp", "lambda"))


_USED = _used_by("diode") | _used_by("npn") | _used_by("njfet")
