"""The kinds of part: one table that says each kind's words, letters, terminals, unit and settings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

ANY = "any number"
WINDINGS = "windings"


@dataclass(frozen=True)
class Kind:
    """A kind of part.

    `words` are what may be typed for it, the first being its name; `shown` is the word that output uses.
    `terminals` are in positional order. `names_required` says that order could be mistaken. `least` is the number
    of terminals that must be given. `other_names` maps further terminal names to the table's own.
    `unit` is the unit of its main value, "" where it has none; `bare` is the unit of a figure without one.
    `params` are the numbers that it may be given as `name=value`, with their units.
    """

    words: tuple[str, ...]
    shown: str
    terminals: tuple[str, ...] = ("1", "2")
    form: str = "positional"
    names_required: bool = False
    required: tuple[str, ...] | None = None
    other_names: tuple[tuple[str, str], ...] = ()
    unit: str = ""
    bare: str | None = None
    params: tuple[tuple[str, str], ...] = ()
    plural: str = ""

    @property
    def name(self) -> str:
        """The kind's own word."""
        return self.words[0]

    @property
    def must_have(self) -> tuple[str, ...]:
        """The terminals that may not be left out."""
        return self.terminals if self.required is None else self.required


_DIODE_NAMES = (("1", "a"), ("2", "k"), ("+", "a"), ("-", "k"))
_DIODE_PARAMS = (("IS", "A"), ("N", ""), ("RS", "ohm"))
_BIPOLAR_PARAMS = (
    ("IS", "A"),
    ("hFE", ""),
    ("hFER", ""),
    ("VA", "V"),
    ("N", ""),
    ("rb", "ohm"),
    ("re", "ohm"),
    ("rc", "ohm"),
)
_JFET_PARAMS = (("IDSS", "A"), ("VP", "V"), ("VA", "V"))
_MOS_PARAMS = (("VTH", "V"), ("K", ""), ("VA", "V"))
_VALVE_PARAMS = (("MU", ""), ("EX", ""), ("KG1", ""), ("KG2", ""), ("KP", ""), ("KVB", ""))
_COUNT = ("count", "")
"""How many like devices, joined electrode to electrode, one part stands for."""
_COIL_PARAMS = (("rdc", "ohm"),)
_POLE_NAMES = (("1", "+"), ("2", "-"))


def _diode(name: str, shown: str, unit: str = "", params: tuple[tuple[str, str], ...] = ()) -> Kind:
    return Kind(
        (name,),
        shown,
        ("a", "k"),
        other_names=_DIODE_NAMES,
        unit=unit,
        bare=unit or None,
        params=_DIODE_PARAMS + params,
    )


def _device(name: str, shown: str, terminals: str, params: tuple[tuple[str, str], ...], required: str = "") -> Kind:
    names = tuple(terminals.split())
    needed = tuple(required.split()) if required else None
    counted = () if name == "opamp" else (_COUNT,)
    return Kind((name,), shown, names, names_required=True, required=needed, params=params + counted)


def _cell(name: str, shown: str, plural: str = "") -> Kind:
    return Kind(
        (name,),
        shown,
        ("+", "-"),
        other_names=_POLE_NAMES,
        unit="V",
        bare="V",
        params=(("R", "ohm"),),
        plural=plural,
    )


KINDS: tuple[Kind, ...] = (
    Kind(("resistor",), "resistor", unit="ohm", bare="ohm"),
    Kind(
        ("potentiometer", "pot", "trimmer"),
        "potentiometer",
        ("1", "w", "2"),
        required=("w",),
        other_names=(("3", "2"),),
        unit="ohm",
        bare="ohm",
    ),
    Kind(("thermistor", "ntc", "ptc"), "thermistor", unit="ohm", bare="ohm", params=(("B", ""),)),
    Kind(("capacitor", "electrolytic"), "capacitor", unit="F", bare="F"),
    Kind(("inductor",), "inductor", unit="H", bare="H", params=_COIL_PARAMS),
    Kind(("choke",), "choke", unit="H", bare="H", params=_COIL_PARAMS),
    Kind(("bead",), "ferrite bead", unit="ohm", bare="ohm", params=_COIL_PARAMS),
    Kind(
        ("transformer",),
        "transformer",
        (),
        form=WINDINGS,
        params=(("primary", "H"), ("k", ""), *_COIL_PARAMS),
    ),
    _diode("diode", "diode"),
    _diode("zener", "zener diode", "V", (("IZ", "A"),)),
    _diode("led", "LED"),
    _diode("rectifier", "rectifier"),
    _diode("varactor", "varactor diode"),
    _device("npn", "npn transistor", "b c e", _BIPOLAR_PARAMS),
    _device("pnp", "pnp transistor", "b c e", _BIPOLAR_PARAMS),
    _device("njfet", "n-channel JFET", "g d s b", _JFET_PARAMS, "g d s"),
    _device("pjfet", "p-channel JFET", "g d s b", _JFET_PARAMS, "g d s"),
    _device("nmos", "n-channel MOSFET", "g d s b", _MOS_PARAMS, "g d s"),
    _device("pmos", "p-channel MOSFET", "g d s b", _MOS_PARAMS, "g d s"),
    _device("triode", "triode", "a g k h1 h2", _VALVE_PARAMS, "a g k"),
    _device("tetrode", "tetrode", "a g1 g2 k h1 h2", _VALVE_PARAMS, "a g1 g2 k"),
    _device("pentode", "pentode", "a g1 g2 g3 k h1 h2", _VALVE_PARAMS, "a g1 g2 g3 k"),
    _device("opamp", "operational amplifier", "in+ in- out v+ v-", (("GAIN", ""), ("VMAX", "V")), "in+ in- out"),
    Kind(
        ("regulator",),
        "voltage regulator",
        ("in", "out", "common"),
        names_required=True,
        unit="V",
    ),
    _cell("battery", "battery", "batteries"),
    _cell("source", "voltage source"),
    Kind(("current",), "current source", ("+", "-"), other_names=_POLE_NAMES, unit="A", bare="A"),
    Kind(("speaker", "loudspeaker"), "loudspeaker", unit="ohm", bare="ohm", params=_COIL_PARAMS),
    Kind(("headphones",), "headphones", unit="ohm", bare="ohm", params=_COIL_PARAMS, plural="headphones"),
    Kind(("microphone",), "microphone", unit="ohm", bare="ohm", params=_COIL_PARAMS),
    Kind(("antenna", "aerial"), "antenna", unit="ohm", bare="ohm"),
    Kind(("meter",), "meter", unit="ohm", bare="ohm"),
    Kind(("lamp",), "lamp", unit="ohm", bare="ohm"),
    Kind(("fuse",), "fuse", unit="ohm", bare="ohm"),
    Kind(("crystal",), "crystal", unit="Hz", bare="ohm", params=(("RS", "ohm"),)),
    Kind(("switch",), "switch", plural="switches"),
    Kind(("selector",), "selector switch", (), form="selector", plural="selector switches"),
    Kind(("relay",), "relay", (), form="relay", unit="ohm", bare="ohm"),
    Kind(("jack",), "jack", (), form=ANY),
    Kind(("plug",), "plug", (), form=ANY),
    Kind(("terminal",), "terminal", (), form=ANY),
    Kind(("ic",), "integrated circuit", (), form=ANY, names_required=True),
    Kind(("other",), "part", (), form=ANY, names_required=True),
)

KIND_OF_WORD: dict[str, Kind] = {word: kind for kind in KINDS for word in kind.words}

# Reference letters (class letters of IEEE 315 and IEC 60617 practice) and the kind that they imply; None where
# the letters allow several kinds, so that one must be said.
LETTERS: dict[str, str | None] = {
    "R": "resistor",
    "VR": "potentiometer",
    "RV": "potentiometer",
    "P": "potentiometer",
    "TH": "thermistor",
    "RT": "thermistor",
    "C": "capacitor",
    "L": "inductor",
    "FB": "bead",
    "T": None,
    "TR": None,
    "D": "diode",
    "ZD": "zener",
    "Q": None,
    "VT": None,
    "V": None,
    "U": None,
    "IC": None,
    "REG": "regulator",
    "BT": "battery",
    "B": "battery",
    "LS": "speaker",
    "MK": "microphone",
    "AE": "antenna",
    "M": "meter",
    "LP": "lamp",
    "F": "fuse",
    "Y": "crystal",
    "S": "switch",
    "SW": "switch",
    "K": "relay",
    "J": "jack",
    "SK": "jack",
    "PL": "plug",
}

# What may be said where the letters allow several kinds.
CHOICES: dict[str, tuple[str, ...]] = {
    "T": ("transformer", "npn", "pnp"),
    "TR": ("npn", "pnp", "transformer"),
    "Q": ("npn", "pnp", "njfet", "pjfet", "nmos", "pmos"),
    "VT": ("npn", "pnp", "njfet", "pjfet", "nmos", "pmos"),
    "V": ("triode", "tetrode", "pentode"),
    "U": ("opamp", "regulator", "ic"),
    "IC": ("opamp", "regulator", "ic"),
}

GROUPS: dict[str, frozenset[str]] = {
    "bipolar": frozenset(("npn", "pnp")),
    "jfet": frozenset(("njfet", "pjfet")),
    "mosfet": frozenset(("nmos", "pmos")),
    "fet": frozenset(("njfet", "pjfet", "nmos", "pmos")),
    "valve": frozenset(("triode", "tetrode", "pentode")),
    "amplifying": frozenset(("npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode")),
    "diode": frozenset(("diode", "zener", "led", "rectifier")),
    "junction": frozenset(("diode", "zener", "led", "rectifier", "varactor")),
    "coil": frozenset(("inductor", "choke", "bead")),
    "load": frozenset(("speaker", "headphones", "antenna", "lamp")),
    "source": frozenset(("microphone", "antenna")),
    "transducer": frozenset(("speaker", "headphones", "microphone")),
    "voltage source": frozenset(("battery", "source")),
    "connector": frozenset(("jack", "plug", "terminal")),
    "opaque": frozenset(("ic", "other")),
    "two-terminal": frozenset(
        kind.name
        for kind in KINDS
        if kind.form == "positional" and len(kind.terminals) == 2 and not kind.names_required
    ),
}

# The generic terminals of an amplifying device: control, emitting and collecting electrode.
ELECTRODES: dict[str, tuple[str, str, str]] = {
    "npn": ("b", "e", "c"),
    "pnp": ("b", "e", "c"),
    "njfet": ("g", "s", "d"),
    "pjfet": ("g", "s", "d"),
    "nmos": ("g", "s", "d"),
    "pmos": ("g", "s", "d"),
    "triode": ("g", "k", "a"),
    "tetrode": ("g1", "k", "a"),
    "pentode": ("g1", "k", "a"),
}

ELECTRODE_WORDS: dict[str, str] = {
    "b": "base",
    "c": "collector",
    "e": "emitter",
    "g": "gate",
    "d": "drain",
    "s": "source",
    "a": "anode",
    "k": "cathode",
    "g1": "control grid",
    "g2": "screen grid",
    "g3": "suppressor grid",
    "h1": "heater",
    "h2": "heater",
}


def kind_of(name: str) -> Kind:
    """The table's row of a kind, by its own word; KeyError if there is none."""
    return KIND_OF_WORD[name]


def kind_word(name: str, count: int = 1) -> str:
    """A kind as output says it, in the number wanted.

    >>> kind_word("njfet"), kind_word("battery", 2), kind_word("led")
    ('n-channel JFET', 'batteries', 'LED')
    """
    kind = KIND_OF_WORD[name]
    if count == 1:
        return kind.shown
    return kind.plural or f"{kind.shown}s"


def terminal_word(kind: str, terminal: str) -> str:
    """A terminal as output says it: `base` for b of a transistor, `grid` for g of a triode.

    >>> terminal_word("npn", "b"), terminal_word("triode", "g"), terminal_word("resistor", "1")
    ('base', 'grid', 'terminal 1')
    """
    if kind in GROUPS["valve"] and terminal == "g":
        return "grid"
    if kind in GROUPS["fet"] and terminal == "b":
        return "substrate"
    if kind in GROUPS["amplifying"] or (kind in GROUPS["junction"] and terminal in ("a", "k")):
        return ELECTRODE_WORDS.get(terminal, f"terminal {terminal}")
    if kind == "potentiometer" and terminal == "w":
        return "wiper"
    return f"terminal {terminal}"


def in_group(kind: str, group: str) -> bool:
    """Whether a kind is of a group such as `amplifying` or `coil`."""
    return kind in GROUPS[group]


def is_polarity_n(kind: str) -> bool:
    """Whether a device conducts with its collecting electrode positive: npn, n-channel, valves."""
    return kind in ("npn", "njfet", "nmos") or kind in GROUPS["valve"]


@cache
def letters_of(ref: str) -> str:
    """The class letters of a designator, those of its last part where it stands in a block: `A1.Q3` has Q."""
    name = ref.rpartition(".")[2].upper()
    for end, character in enumerate(name):
        if not ("A" <= character <= "Z"):
            return name[:end]
    return name


def implied_kinds(ref: str) -> tuple[str, ...]:
    """The kinds that a designator's letters allow, the longest letters winning: one, several, or none."""
    letters = letters_of(ref)
    for end in range(len(letters), 0, -1):
        code = letters[:end]
        if code in LETTERS:
            implied = LETTERS[code]
            return (implied,) if implied else CHOICES[code]
    return ()
