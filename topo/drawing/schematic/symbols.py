"""Symbols of parts: where their pins are, and what is drawn.

Outlines after IEC 60617, and the zigzag resistor of IEEE 315, from our own geometry on a grid of one module. The origin
is the symbol's centre. Pins lie on grid points; art ends at them. A symbol's name alone gives its geometry, so that a
drawing can be read back from the names in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from topo.drawing.schematic.geometry import Box


@dataclass(frozen=True)
class Pin:
    """A pin: its place and the direction in which a wire leaves it."""

    name: str
    x: int
    y: int
    dx: int
    dy: int


@dataclass(frozen=True)
class Symbol:
    """A symbol: pins, the box of its body without leads, fine strokes, heavy strokes and filled areas (SVG paths)."""

    name: str
    pins: tuple[Pin, ...]
    body: Box
    fine: str = ""
    heavy: str = ""
    filled: str = ""
    words: tuple[tuple[float, float, str], ...] = ()

    def pin(self, name: str) -> Pin:
        """A pin by its name; KeyError if there is none."""
        for item in self.pins:
            if item.name == name:
                return item
        raise KeyError(name)


def _circle(x: float, y: float, r: float) -> str:
    return f"M{x - r:g} {y:g}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0"


def _arrow(x: float, y: float, dx: float, dy: float, long: float = 0.62, half: float = 0.26) -> str:
    """A filled arrow head with its tip at (x, y), pointing along (dx, dy)."""
    size = (dx * dx + dy * dy) ** 0.5
    ux, uy = dx / size, dy / size
    bx, by = x - long * ux, y - long * uy
    return f"M{x:g} {y:g}L{bx - half * uy:.3f} {by + half * ux:.3f}L{bx + half * uy:.3f} {by - half * ux:.3f}Z"


_ENDS = (Pin("1", -2, 0, -1, 0), Pin("2", 2, 0, 1, 0))
_LEADS = "M-2 0L-1.5 0M1.5 0L2 0"
_BOX = "M-1.5 -.5L1.5 -.5L1.5 .5L-1.5 .5Z"


def _two(name: str, body: Box, fine: str, heavy: str = "", filled: str = "", words=()) -> Symbol:
    return Symbol(name, _ENDS, body, fine, heavy, filled, words)


_PLATES = "M-2 0L-.25 0M.25 0L2 0"
_DIODE = "M-2 0L2 0M-.7 -.8L.7 0L-.7 .8Z"
_COIL = "M-2 0L-1.5 0a.375 .375 0 0 1 .75 0a.375 .375 0 0 1 .75 0a.375 .375 0 0 1 .75 0a.375 .375 0 0 1 .75 0L2 0"
_RAYS = "M.3 -1L1 -1.7M1 -.8L1.7 -1.5"

_TWO_ENDED: tuple[Symbol, ...] = (
    _two("resistor", (-1.5, -0.5, 1.5, 0.5), _LEADS + _BOX),
    _two(
        "zigzag",
        (-1.5, -0.6, 1.5, 0.6),
        "M-2 0L-1.5 0L-1.25 -.6L-.75 .6L-.25 -.6L.25 .6L.75 -.6L1.25 .6L1.5 0L2 0",
    ),
    _two("thermistor", (-1.5, -1, 1.5, 1), _LEADS + _BOX + "M-1.6 1L-1 1L1.2 -1"),
    _two("fuse", (-1.5, -0.5, 1.5, 0.5), "M-2 0L2 0" + _BOX),
    _two("bead", (-1.5, -0.5, 1.5, 0.5), _LEADS, "", _BOX),
    _two("capacitor", (-0.35, -1, 0.35, 1), _PLATES, "M-.25 -1L-.25 1M.25 -1L.25 1"),
    _two(
        "electrolytic",
        (-1, -1, 0.35, 1),
        _PLATES + "M-1 -.65L-.5 -.65M-.75 -.9L-.75 -.4",
        "M-.25 -1L-.25 1M.25 -1L.25 1",
    ),
    _two("inductor", (-1.5, -0.5, 1.5, 0.25), _COIL),
    _two("choke", (-1.5, -0.8, 1.5, 0.25), _COIL + "M-1.5 -.7L1.5 -.7"),
    _two("diode", (-0.7, -0.8, 0.7, 0.8), _DIODE, "M.7 -.8L.7 .8"),
    _two("zener", (-0.7, -0.8, 0.7, 0.8), _DIODE, "M.3 -.8L.7 -.8L.7 .8"),
    _two(
        "led",
        (-0.7, -1.7, 1.7, 0.8),
        _DIODE + _RAYS,
        "M.7 -.8L.7 .8",
        _arrow(1, -1.7, 1, -1, 0.45, 0.18) + _arrow(1.7, -1.5, 1, -1, 0.45, 0.18),
    ),
    _two(
        "varactor", (-0.7, -0.8, 1.1, 0.8), "M-2 0L.7 0M1.1 0L2 0M-.7 -.8L.7 0L-.7 .8Z", "M.7 -.8L.7 .8M1.1 -.8L1.1 .8"
    ),
    _two(
        "battery", (-1, -1, 0.3, 1), _PLATES + "M-.25 -1L-.25 1M-1 -.65L-.5 -.65M-.75 -.9L-.75 -.4", "M.25 -.5L.25 .5"
    ),
    _two(
        "source", (-1.2, -1.2, 1.2, 1.2), "M-2 0L2 0" + _circle(0, 0, 1.2) + "M-1.9 -.65L-1.4 -.65M-1.65 -.9L-1.65 -.4"
    ),
    _two(
        "current",
        (-1.2, -1.2, 1.2, 1.2),
        "M-2 0L-1.2 0M1.2 0L2 0" + _circle(0, 0, 1.2) + "M0 -1.2L0 1.2",
        "",
        _arrow(1.85, 0, 1, 0, 0.5, 0.2),
    ),
    _two(
        "lamp",
        (-1.2, -1.2, 1.2, 1.2),
        "M-2 0L-1.2 0M1.2 0L2 0" + _circle(0, 0, 1.2) + "M-.85 -.85L.85 .85M-.85 .85L.85 -.85",
    ),
    _two(
        "meter",
        (-1.2, -1.2, 1.2, 1.2),
        "M-2 0L-1.2 0M1.2 0L2 0" + _circle(0, 0, 1.2) + "M-.7 .7L.7 -.7",
        "",
        _arrow(0.7, -0.7, 1, -1),
    ),
    _two(
        "crystal", (-0.8, -1, 0.8, 1), "M-2 0L-.8 0M.8 0L2 0M-.4 -1L.4 -1L.4 1L-.4 1Z", "M-.8 -.8L-.8 .8M.8 -.8L.8 .8"
    ),
    _two("switch open", (-1.2, -1, 1.2, 0.3), "M-2 0L-1.2 0M1.2 0L2 0M-1.2 0L.9 -.9"),
    _two("switch closed", (-1.2, -0.5, 1.2, 0.3), "M-2 0L-1.2 0M1.2 0L2 0M-1.2 0L1.3 -.25"),
    _two("speaker", (-1, -0.5, 1, 1.75), "M-2 0L-1 0M1 0L2 0M-1 -.5L1 -.5L1 .5L-1 .5ZM-1 .5L-2 1.75L2 1.75L1 .5"),
    _two(
        "headphones",
        (-1.7, -1.6, 1.7, 0.6),
        "M-2 0L-1.7 0M1.7 0L2 0M-1.7 -.6L-1 -.6L-1 .6L-1.7 .6ZM1 -.6L1.7 -.6L1.7 .6L1 .6ZM-1.35 -.6a1.35 1 0 0 1 2.7 0",
    ),
    _two("microphone", (-1, -1.1, 1, 1), "M-2 0L-1 0M1 0L2 0" + _circle(0, 0, 1), "M-1 -1.05L1 -1.05"),
)


def _device(name: str, pins: str, fine: str, heavy: str, filled: str, circle: bool = True) -> Symbol:
    """A transistor; `pins` are the names of the pins at the left, the top and the bottom."""
    left, top, bottom = pins.split()
    height = 0 if left == "b" else 1 if top == "d" else -1
    found = (Pin(left, -2, height, -1, 0), Pin(top, 1, -2, 0, -1), Pin(bottom, 1, 2, 0, 1))
    outline = _circle(0.1, 0, 1.6) if circle else ""
    return Symbol(name, found, (-1.5, -1.6, 1.7, 1.6), fine + outline, heavy, filled)


_SLANTS = "M-2 0L-.5 0M-.5 -.45L1 -1.2L1 -2M-.5 .45L1 1.2L1 2"
_BAR = "M-.5 -1L-.5 1"
_CHANNEL = "M-2 1L-.5 1M-.5 -.8L1 -.8L1 -2M-.5 .8L1 .8L1 2"
_MOS = "M-2 1L-.8 1L-.8 -1M-.4 -.9L1 -.9L1 -2M-.4 .9L1 .9L1 2M-.4 0L1 0L1 .9"
_DASHES = "M-.4 -1.2L-.4 -.6M-.4 -.3L-.4 .3M-.4 .6L-.4 1.2"
_CHANNEL_P = "M-2 -1L-.5 -1M-.5 -.8L1 -.8L1 -2M-.5 .8L1 .8L1 2"
_MOS_P = "M-2 -1L-.8 -1L-.8 1M-.4 -.9L1 -.9L1 -2M-.4 .9L1 .9L1 2M-.4 0L1 0L1 -.9"

_DEVICES: tuple[Symbol, ...] = (
    _device("npn", "b c e", _SLANTS, _BAR, _arrow(0.85, 1.125, 1.5, 0.75)),
    _device("pnp", "b e c", _SLANTS, _BAR, _arrow(-0.36, -0.52, -1.5, 0.75)),
    _device("njfet", "g d s", _CHANNEL, "M-.5 -1.1L-.5 1.2", _arrow(-0.6, 1, 1, 0)),
    _device("pjfet", "g s d", _CHANNEL_P, "M-.5 -1.2L-.5 1.1", _arrow(-1.3, -1, -1, 0)),
    _device("nmos", "g d s", _MOS, _DASHES, _arrow(-0.35, 0, -1, 0)),
    _device("pmos", "g s d", _MOS_P, _DASHES, _arrow(0.6, 0, 1, 0)),
)


def _valve(name: str) -> Symbol:
    """A valve with its grids as lines of dashes between the anode above and the cathode below."""
    grids = {"triode": ("g",), "tetrode": ("g1", "g2"), "pentode": ("g1", "g2", "g3")}[name]
    half = 2 if len(grids) == 1 else 3
    rows = {"g": 0, "g1": 1, "g2": 0, "g3": -1}
    pins = [Pin("a", 0, -half, 0, -1)]
    fine = f"M0 {-half}L0 {-half + 1.25:g}M-.7 {half - 1.25 + 0.35:g}a.7 .45 0 0 1 1.4 0"
    # The cathode's lead leaves its arc at the right end and bends to the middle.
    fine += f"M0 {half}L0 {half - 1.35:g}"
    for grid in grids:
        row = rows[grid]
        side = 1 if grid == "g2" else -1
        pins.append(Pin(grid, 2 * side, row, side, 0))
        fine += f"M{2 * side} {row}L{0.9 * side:g} {row}M-.9 {row}L-.5 {row}M-.2 {row}L.2 {row}M.5 {row}L.9 {row}"
    pins.append(Pin("k", 0, half, 0, 1))
    top = half - 0.4
    fine += f"M-1.6 {-(top - 1.6):g}a1.6 1.6 0 0 1 3.2 0L1.6 {top - 1.6:g}a1.6 1.6 0 0 1 -3.2 0Z"
    return Symbol(name, tuple(pins), (-1.6, -top, 1.6, top), fine, f"M-.8 {-half + 1.25:g}L.8 {-half + 1.25:g}")


def _potentiometer(name: str) -> Symbol:
    """A resistor with a wiper; `name` says which of the ends are there, and whether it is a zigzag."""
    ends = name.split(":")[1]
    outline = "M-1.5 0L-1.25 -.6L-.75 .6L-.25 -.6L.25 .6L.75 -.6L1.25 .6L1.5 0" if name.endswith(":z") else _BOX
    pins = [pin for pin in _ENDS if pin.name in ends] + [Pin("w", 0, 2, 0, 1)]
    leads = "".join(f"M{pin.x} 0L{pin.x * 0.75:g} 0" for pin in pins[:-1])
    return Symbol(name, tuple(pins), (-1.5, -0.6, 1.5, 1.2), leads + outline + "M0 2L0 .6", "", _arrow(0, 0.5, 0, -1))


def _tapped_coil(name: str) -> Symbol:
    """A coil with taps: `coil:3` has two, between three sections; `coil:2:c` has a core."""
    count, _, core = name.partition(":")[2].partition(":")
    sections = int(count)
    bumps = 3 if sections == 2 else 4
    half = sections * bumps // 2
    pins = [Pin("0", -half - 1, 0, -1, 0), Pin(str(sections), half + 1, 0, 1, 0)]
    fine = f"M{-half - 1} 0L{-half} 0" + "a.5 .5 0 0 1 1 0" * (sections * bumps) + f"L{half + 1} 0"
    for number in range(1, sections):
        x = number * bumps - half
        pins.append(Pin(str(number), x, 2, 0, 1))
        fine += f"M{x} 0L{x} 2"
    pins.sort(key=lambda pin: int(pin.name))
    return Symbol(
        name,
        tuple(pins),
        (-half, -0.9 if core else -0.6, half, 0.3),
        fine + (f"M{-half} -.8L{half} -.8" if core else ""),
    )


def _amplifier(name: str) -> Symbol:
    """An operational amplifier: its inverting input above, its supply pins only where the name lists them."""
    extra = name.partition(":")[2]
    pins = [Pin("in-", -3, -1, -1, 0), Pin("in+", -3, 1, -1, 0), Pin("out", 3, 0, 1, 0)]
    fine = "M-3 -1L-2 -1M-3 1L-2 1M2 0L3 0M-2 -2L2 0L-2 2ZM-1.75 -1L-1.25 -1M-1.75 1L-1.25 1M-1.5 .75L-1.5 1.25"
    if "p" in extra:
        pins.append(Pin("v+", 0, -2, 0, -1))
        fine += "M0 -2L0 -1"
    if "m" in extra:
        pins.append(Pin("v-", 0, 2, 0, 1))
        fine += "M0 2L0 1"
    return Symbol(name, tuple(pins), (-2, -2, 2, 2), fine)


def _transformer(name: str) -> Symbol:
    """A transformer by the sections of its windings: `transformer:2|1,1` has a tapped primary and two secondaries.

    A dot marks the start of each winding.
    """
    left, _, right = name.partition(":")[2].partition("|")
    sides = [[int(item) for item in side.split(",") if item] for side in (left, right)]
    tapped = any(count % 2 == 0 for side in sides for count in side)
    heights = [
        [max(3 * count + count % 2, 6) if len(side) == 1 and tapped else 4 * count - 2 * (count > 1) for count in side]
        for side in sides
    ]
    heights = [[height + height % 2 for height in side] for side in heights]
    pins, fine, dots, number = [], "", "", 0
    most = 0
    for sign, counts, tall in zip((-1, 1), sides, heights, strict=True):
        whole = sum(tall) + 2 * (len(tall) - 1)
        top = -(whole // 2)
        most = max(most, whole)
        for count, height in zip(counts, tall, strict=True):
            for section in range(count + 1):
                y = top + round(height * section / count)
                pins.append(Pin(f"{number}.{section}", 2 * sign, y, sign, 0))
                fine += f"M{2 * sign} {y}L{sign} {y}"
            dots += _circle(1.5 * sign, top + 0.55, 0.2)
            bumps = height
            fine += f"M{sign} {top}" + f"a.5 .5 0 0 {1 if sign < 0 else 0} 0 1" * bumps
            top += height + 2
            number += 1
    half = most / 2
    core = f"M-.15 {-half:g}L-.15 {half:g}M.15 {-half:g}L.15 {half:g}"
    return Symbol(name, tuple(pins), (-1, -half, 1, half), fine, core, dots)


def _box(name: str) -> Symbol:
    """A box with so many pins: `box:5` has three at the left and two at the right, from the top.

    Two alone, as of a connector, are both at the right.
    """
    count = int(name.partition(":")[2])
    left = (count + 1) // 2 if count != 2 else 0
    pins, fine, words = [], "", []
    tall = 2 * max(left - 1, 0) if left else 2
    for index in range(count):
        sign, row = (-1, index) if index < left else (1, index - left)
        y = 2 * row - tall // 2 - (tall // 2) % 2
        pins.append(Pin(str(index + 1), 4 * sign, y, sign, 0))
        fine += f"M{4 * sign} {y}L{3 * sign} {y}"
        words.append((2.8 * sign, y, str(index + 1)))
    y0 = min((pin.y for pin in pins), default=0) - 1
    y1 = max((pin.y for pin in pins), default=0) + 1
    fine += f"M-3 {y0}L3 {y0}L3 {y1}L-3 {y1}Z"
    return Symbol(name, tuple(pins), (-3, y0, 3, y1), fine, "", "", tuple(words))


_OTHERS: tuple[Symbol, ...] = (
    Symbol(
        "antenna",
        (Pin("1", -2, 0, -1, 0), Pin("2", 0, 1, 0, 1)),
        (-1, -3, 1, 0.2),
        "M-2 0L0 0L0 -3M-1 -3L0 -1.8L1 -3M0 1L0 .5",
    ),
    Symbol(
        "regulator",
        (Pin("in", -4, 0, -1, 0), Pin("out", 4, 0, 1, 0), Pin("common", 0, 3, 0, 1)),
        (-3, -1.5, 3, 1.5),
        "M-4 0L-3 0M3 0L4 0M0 3L0 1.5M-3 -1.5L3 -1.5L3 1.5L-3 1.5Z",
        words=((-2.8, 0, "in"), (2.8, 0, "out")),
    ),
    Symbol("ground", (Pin("1", 0, 0, 0, -1),), (-1, 0.4, 1, 1.2), "M0 0L0 .5M-.6 .85L.6 .85M-.2 1.2L.2 1.2M-1 .5L1 .5"),
    Symbol("plus", (Pin("1", 0, 0, 0, 1),), (-0.75, -0.8, 0.75, -0.6), "M0 0L0 -.75", "M-.75 -.75L.75 -.75"),
    Symbol("minus", (Pin("1", 0, 0, 0, -1),), (-0.75, 0.6, 0.75, 0.8), "M0 0L0 .75", "M-.75 .75L.75 .75"),
    Symbol("port", (Pin("1", 0, 0, 1, 0),), (-1.5, -0.25, -1, 0.25), "M0 0L-1 0" + _circle(-1.25, 0, 0.25)),
    Symbol("flag", (Pin("1", 0, 0, 1, 0),), (-2.6, -0.5, -1, 0.5), "M0 0L-1 0L-1.5 .5L-2.6 .5L-2.6 -.5L-1.5 -.5L-1 0"),
)

_FIXED = {symbol.name: symbol for symbol in (*_TWO_ENDED, *_DEVICES, *_OTHERS)}
_BY_PREFIX = {
    "triode": _valve,
    "tetrode": _valve,
    "pentode": _valve,
    "potentiometer": _potentiometer,
    "opamp": _amplifier,
    "coil": _tapped_coil,
    "transformer": _transformer,
    "box": _box,
}
RAILS = ("ground", "plus", "minus")


@cache
def symbol(name: str) -> Symbol:
    """A symbol by its name; KeyError if there is none."""
    if name in _FIXED:
        return _FIXED[name]
    return _BY_PREFIX[name.partition(":")[0]](name)


def fixed_names() -> tuple[str, ...]:
    """Names of the symbols that are not made to measure."""
    return tuple(_FIXED)
