"""Units of expressions: what a formula's result is measured in, and whether like is compared with like."""

from __future__ import annotations

from collections.abc import Callable

from topo.matching.pattern import Tree

# Exponents of volt, ampere and second.
Dimensions = tuple[int, int, int]
PLAIN: Dimensions = (0, 0, 0)
UNITS: dict[str, Dimensions] = {
    "": PLAIN,
    "%": PLAIN,
    "dB": PLAIN,
    "°": PLAIN,
    "to 1": PLAIN,
    "V": (1, 0, 0),
    "A": (0, 1, 0),
    "s": (0, 0, 1),
    "ohm": (1, -1, 0),
    "S": (-1, 1, 0),
    "W": (1, 1, 0),
    "Hz": (0, 0, -1),
    "F": (-1, 1, 1),
    "H": (1, -1, 1),
    "K": PLAIN,
    "°C": PLAIN,
}
_SHOWN = {dimensions: unit for unit, dimensions in reversed(UNITS.items())} | {PLAIN: ""}


class UnitError(ValueError):
    """Two things of different units are added or compared."""


def unit_of(tree: Tree, look_up: Callable[[Tree], Dimensions | None]) -> Dimensions | None:
    """Dimensions of an expression's result; None where they cannot be told or it is a truth.

    `look_up` gives those of names and calls. A bare number takes the unit of what it is compared with.

    Raises:
        UnitError: unlike things are added or compared, in words.
    """
    kind = tree[0]
    if kind == "number":
        return UNITS.get(tree[2], PLAIN) if tree[2] else None
    if kind in ("name", "text", "call"):
        return look_up(tree)
    sides = [unit_of(part, look_up) for part in tree[1:]]
    if kind == "minus":
        return sides[0]
    if kind in ("and", "or", "not"):
        return None
    if kind in ("*", "/"):
        sign = 1 if kind == "*" else -1
        left, right = (_plain_if_number(side, part) for side, part in zip(sides, tree[1:], strict=True))
        if left is None or right is None:
            return None
        return (left[0] + sign * right[0], left[1] + sign * right[1], left[2] + sign * right[2])
    if kind == "**":
        exponent = tree[2][1] if tree[2][0] == "number" else None
        if sides[0] is None or not isinstance(exponent, float) or not exponent.is_integer():
            return None
        return (int(sides[0][0] * exponent), int(sides[0][1] * exponent), int(sides[0][2] * exponent))
    if sides[0] is not None and sides[1] is not None and sides[0] != sides[1]:
        verb = {"+": "added to", "-": "subtracted from"}.get(kind, "compared with")
        raise UnitError(f"{said(sides[0])} {verb} {said(sides[1])}")
    return None if kind in ("<", "<=", ">", ">=", "==", "!=") else sides[0] or sides[1]


def _plain_if_number(side: Dimensions | None, part: Tree) -> Dimensions | None:
    return PLAIN if side is None and part[0] in ("number", "minus") else side


def shown_unit(dimensions: Dimensions | None) -> str | None:
    """The unit to print, "" for a plain number; None where there is no name for it."""
    return "" if dimensions is None else _SHOWN.get(dimensions)


def said(dimensions: Dimensions) -> str:
    """Dimensions in words for a message."""
    unit = _SHOWN.get(dimensions)
    return "a quantity without a unit" if unit == "" else f"a quantity in {unit or 'an unusual unit'}"
