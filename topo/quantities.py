"""Values in and out: "4k7" becomes 4700.0, 4700.0 becomes "4.7 kΩ". The only place that reads or prints a value.

Letter-for-point marking follows IEC 60062. Prefixes are f p n u m k M G, `M` mega and `m` milli.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal

PREFIXES = {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
_PREFIX_OF = {exponent: "µ" if prefix == "u" else prefix for prefix, exponent in PREFIXES.items()}

_UNIT_WORDS = {
    "ohm": "ohm",
    "ohms": "ohm",
    "r": "ohm",
    "v": "V",
    "a": "A",
    "w": "W",
    "h": "H",
    "f": "F",
    "hz": "Hz",
    "s": "s",
    "%": "%",
    "°c": "°C",
    "degc": "°C",
}
_SHOWN_UNIT = {"ohm": "Ω"}
RATIO = "to 1"
"""The unit of a ratio that people say with the larger figure first or last: 6 to 1, 1 to 6."""
_NEVER_PREFIXED = frozenset(("", "%", "dB", "°", "°C", "x", RATIO))
# Volts, watts, ohms and hertz between 0.1 and 1 are said in the plain unit: 0.65 V, 0.22 Ω (common practice).
_PLAIN_BELOW_ONE = frozenset(("V", "W", "ohm", "Hz"))

_UNIT = r"(?P<unit>(?i:ohms?|hz|degc|°c|[vawhfsr%]))?"
_FIGURE = re.compile(
    rf"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<prefix>[fpnumkMGK])?{_UNIT}", re.ASCII
)
# A list typed in capitals: U, N and P before a unit mean nothing else; a capital M is mega, as everywhere.
_CAPITALS = re.compile(r"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+))\s*(?P<prefix>[UNP])(?P<unit>[FH])", re.ASCII)
_LETTER_FOR_POINT = re.compile(
    rf"(?P<sign>[+-]?)(?P<whole>\d*)(?P<letter>[fpnumkMGKRrVv])(?P<rest>\d+){_UNIT}", re.ASCII
)
LONGEST_VALUE = 64
# Under the smallest prefix there is nothing that a circuit's numbers could mean.
LEAST_SHOWN = 1e-15


class QuantityError(ValueError):
    """A text that is no value; `expected` says what would be one."""

    def __init__(self, message: str, expected: str = "a value such as 4k7, 100n, 2R2, 9V") -> None:
        super().__init__(message)
        self.expected = expected


def plain_signs(text: str) -> str:
    """The text with Ω, µ and μ (and their look-alikes) written as `ohm` and `u`."""
    if text.isascii():
        return text
    return text.replace("Ω", "ohm").replace("\u2126", "ohm").replace("\u00b5", "u").replace("\u03bc", "u")


def split(text: str) -> tuple[float, str]:
    """The number and the unit of a typed value; the unit is "" where none was typed.

    Units are ohm, V, A, W, H, F, Hz, s, % and °C; a percentage comes back as typed (30 for `30%`).

    >>> split("4k7")
    (4700.0, '')
    >>> split("4.7uF")
    (4.7e-06, 'F')
    >>> split("5V6")
    (5.6, 'V')
    >>> split("10UF")
    (1e-05, 'F')

    Raises:
        QuantityError: the text is no value.
    """
    plain = plain_signs(text)
    if len(plain) > LONGEST_VALUE:
        raise QuantityError("a value of more than 64 characters")
    found = _CAPITALS.fullmatch(plain)
    if found:
        return _scaled(found["number"], found["prefix"].lower(), text), found["unit"]
    found = _FIGURE.fullmatch(plain)
    if found:
        number, prefix, unit = found["number"], found["prefix"] or "", found["unit"] or ""
        return _scaled(number, prefix, text), _UNIT_WORDS[unit.lower()] if unit else ""
    found = _LETTER_FOR_POINT.fullmatch(plain)
    if not found:
        raise QuantityError(f"`{text}` is not a value")
    letter, unit = found["letter"], found["unit"] or ""
    number = f"{found['sign']}{found['whole'] or '0'}.{found['rest']}"
    if letter in "RrVv":
        own = _UNIT_WORDS[letter.lower()]
        if unit and _UNIT_WORDS[unit.lower()] != own:
            raise QuantityError(f"`{text}` has two units")
        return _scaled(number, "", text), own
    return _scaled(number, letter, text), _UNIT_WORDS[unit.lower()] if unit else ""


def _scaled(number: str, prefix: str, text: str) -> float:
    """The number times its prefix, rounded once only."""
    exponent = PREFIXES["k" if prefix == "K" else prefix]
    if not exponent:
        value = float(number)
    elif "e" in number or "E" in number:
        value = float(Decimal(number).scaleb(exponent))
    else:
        value = float(f"{number}e{exponent}")
    if not math.isfinite(value):
        raise QuantityError(f"`{text}` is too large")
    return value


def parse(text: str, unit: str = "") -> float:
    """The value of a text in SI units; `unit` is the one that may be typed or left out.

    >>> parse("2R2", "ohm")
    2.2
    >>> parse("30%", "%")
    30.0

    Raises:
        QuantityError: the text is no value, or has another unit.
    """
    value, typed = split(text)
    if typed and typed != unit:
        expected = f"a value in {unit}" if unit else "a number without a unit"
        raise QuantityError(f"`{text}` is in {typed}", expected)
    return value


def show(value: float | None, unit: str = "", digits: int = 3) -> str:
    """A value as people write it: `digits` significant figures, prefix and unit.

    >>> show(4700, "ohm"), show(0.65, "V"), show(0.0029, "A"), show(1e-7, "F")
    ('4.7 kΩ', '0.65 V', '2.9 mA', '100 nF')
    >>> show(199.99999e-3, "A")
    '200 mA'
    >>> show(6.0, "to 1"), show(1 / 6, "to 1")
    ('6 to 1', '1 to 6')
    """
    unit = "ohm" if unit == "Ω" else unit
    if unit == RATIO and value and math.isfinite(value) and abs(value) < 1.0:
        return f"1 to {_fixed(_round(1.0 / value, digits))}"
    shown_unit = _SHOWN_UNIT.get(unit, unit)
    if value is None or math.isnan(value):
        return "not known"
    if math.isinf(value):
        return f"{'-' if value < 0 else ''}∞ {shown_unit}".rstrip()
    rounded = _round(0.0 if abs(value) < LEAST_SHOWN else value, digits)
    if unit in _NEVER_PREFIXED:
        joint = "" if unit in ("°", "") else " "
        return f"{_fixed(rounded)}{joint}{shown_unit}"
    exponent = _engineering_exponent(rounded, unit)
    return f"{_fixed(rounded.scaleb(-exponent))} {_PREFIX_OF[exponent]}{shown_unit}"


def _round(value: float, digits: int) -> Decimal:
    """The value to that many significant figures."""
    exact = Decimal(repr(float(value)))
    if not exact:
        return Decimal(0)
    return round(exact, digits - 1 - exact.adjusted())


def _fixed(number: Decimal) -> str:
    """The number without an exponent and without trailing zeros."""
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _engineering_exponent(number: Decimal, unit: str) -> int:
    """The power of ten of the prefix that suits the number and the unit."""
    if not number:
        return 0
    size = number.adjusted()
    if unit in _PLAIN_BELOW_ONE and size == -1:
        return 0
    exponent = max(-15, min(9, 3 * (size // 3)))
    if unit == "F" and -6 < exponent < 0:
        return -6  # thousands of microfarads are never said in millifarads (common practice)
    if unit == "F" and exponent >= 0:
        return 0
    if unit in ("s", "H") and exponent > 0:
        return 0
    return exponent


def show_range(low: float, high: float, unit: str = "", digits: int = 3) -> str:
    """Two values as a range: "300 Hz to 3.4 kHz"; the unit is said once where the prefix is the same.

    >>> show_range(2, 5, "V")
    '2 to 5 V'
    """
    first, last = show(low, unit, digits), show(high, unit, digits)
    if first == last:
        return first
    head, _, tail = first.partition(" ")
    if tail and last.endswith(f" {tail}"):
        return f"{head} to {last}"
    return f"{first} to {last}"


def show_spread(typical: float, low: float, high: float, unit: str = "", digits: int = 3) -> tuple[str, str]:
    """A figure and its range in the same multiple of the unit; the range is "" where it is no wider than the figure.

    >>> show_spread(0.012, 0.0051, 0.025, "A", 2)
    ('12 mA', '5.1 to 25')
    """
    figure = show(typical, unit, digits)
    ends = [_round(0.0 if abs(value) < LEAST_SHOWN else value, digits) for value in (low, high)]
    exponent = 0 if unit in _NEVER_PREFIXED else _engineering_exponent(_round(typical, digits), unit)
    widest = max(abs(end) for end in ends)
    if typical and widest and widest.adjusted() - exponent > 3:
        return figure, show_range(low, high, unit, digits)
    shown = [_fixed(end.scaleb(-exponent)) for end in ends]
    return figure, "" if shown[0] == shown[1] else " to ".join(shown)


def show_percent(fraction: float, digits: int = 2) -> str:
    """A fraction as a percentage.

    >>> show_percent(0.053)
    '5.3 %'
    """
    return show(fraction * 100, "%", digits)


def rkm(value: float, unit: str = "ohm") -> str:
    """A value in letter-for-point marking (IEC 60062); it reads back to exactly the same number.

    >>> rkm(4700), rkm(2.2), rkm(1e-7, "F"), rkm(47, "ohm"), rkm(5.6, "V")
    ('4k7', '2R2', '100n', '47', '5V6')
    """
    if value < 0 or not math.isfinite(value):
        return repr(float(value))
    exact = Decimal(repr(float(value)))
    exponent = max(-15, min(9, 3 * (exact.adjusted() // 3))) if exact else 0
    if exponent == -3 and exact.adjusted() == -1 and unit in _PLAIN_BELOW_ONE:
        exponent = 0
    letter = {"ohm": "R", "V": "V"}.get(unit, "") if exponent == 0 else _PREFIX_OF[exponent].replace("µ", "u")
    whole, _, rest = _fixed(exact.scaleb(-exponent)).partition(".")
    if letter and rest and len(rest) <= 6:
        text = f"{whole}{letter}{rest}"
    elif not rest:
        text = whole + ("" if letter == "R" else letter)
    else:
        text = f"{whole}.{rest}" + (letter if exponent else "")
    return text if len(text) <= LONGEST_VALUE and split(text)[0] == value else repr(float(value))


def with_unit(value: float, unit: str) -> str:
    """A value as typed with its unit, exactly: "16V", "50mA", "5%"; it reads back to the same number.

    >>> with_unit(0.05, "A"), with_unit(16, "V"), with_unit(5, "%")
    ('50mA', '16V', '5%')
    """
    if unit in ("%", "°C", ""):
        text = f"{_fixed(Decimal(repr(float(value))))}{unit}"
        return text if len(text) <= LONGEST_VALUE else f"{float(value)!r}{unit}"
    exact = Decimal(repr(float(value)))
    exponent = max(-15, min(9, 3 * (exact.adjusted() // 3))) if exact else 0
    if exponent == -3 and exact.adjusted() == -1 and unit in _PLAIN_BELOW_ONE:
        exponent = 0
    prefix = _PREFIX_OF[exponent].replace("µ", "u")
    text = f"{_fixed(exact.scaleb(-exponent))}{prefix}{unit}"
    return text if len(text) <= LONGEST_VALUE else f"{float(value)!r}{unit}"


# Preferred values of IEC 60063, two figures.
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)  # fmt: skip


def is_preferred(value: float) -> bool:
    """Whether a value is in E24 or E96 (IEC 60063) or a round figure of one significant digit."""
    if value <= 0:
        return True
    exact = Decimal(repr(float(value)))
    three = round(exact, 2 - exact.adjusted())
    if three != exact:
        return True  # a measured or calculated value, not one read off a diagram
    mantissa = int(three.scaleb(2 - exact.adjusted()))
    if mantissa % 100 == 0 or mantissa % 50 == 0:
        return True
    return (mantissa % 10 == 0 and mantissa // 10 in E24) or mantissa in _e96()


def _e96() -> frozenset[int]:
    """Three-figure values of E96: the rounded powers of the 96th root of ten (IEC 60063)."""
    return frozenset(round(100 * 10 ** (step / 96)) for step in range(96))


def nearest_preferred(value: float) -> tuple[float, ...]:
    """The preferred values that a misread figure may stand for: its digits exchanged, then its neighbour in E24."""
    exact = Decimal(repr(float(value)))
    exponent = exact.adjusted() - 1
    mantissa = round(exact.scaleb(-exponent))
    swapped = int(str(mantissa)[::-1]) if len(str(mantissa)) == 2 else 0
    near = min(E24, key=lambda figure: abs(figure - mantissa))
    chosen = ([swapped] if swapped in E24 else []) + [near]
    return tuple(float(Decimal(figure).scaleb(exponent)) for figure in dict.fromkeys(chosen))
