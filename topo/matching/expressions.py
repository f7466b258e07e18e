"""Reads the expressions of a pattern by `grammar/expressions.lark` into nested lists. Needed only while compiling.

Forms of the tree: `["number", value, unit]`, `["name", word, ...]` (a dotted name in its words), `["text", word]`,
`["call", function, argument, ...]`, `["minus", a]`, `["not", a]`, `["and", a, ...]`, `["or", a, ...]`,
`["+", a, b]` and likewise `- * / ** < <= > >= == !=`.
"""

from __future__ import annotations

import re
from functools import cache

from topo.errors import InputError, Place, Problem
from topo.matching.pattern import Tree
from topo.resources import lark_parser

LONGEST_EXPRESSION = 400
DEEPEST_EXPRESSION = 24
EXPECTED = "a condition or formula such as `drop(feed) > 2 * drop(diode)`"

PREFIXES = {"f": 1e-15, "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
_QUANTITY = re.compile(
    r"([0-9.]+(?:[eE][+-]?[0-9]+)?)(?:([RkMGmunp])([0-9]+)(?:ohm)?|\s?(%)|\s?([fpnuµμmkMG]?)(ohm|Ω|Hz|V|A|F|H|W|S|s|K|dB)?)$"
)


@cache
def _parser():
    return lark_parser("expressions", "start")


def parse_expression(text: str, place: Place) -> Tree:
    """The tree of an expression.

    Raises:
        InputError: with the column of what could not be read; also for expressions that are too long or too deep.
    """
    from lark import UnexpectedInput

    deepest = depth = 0
    for letter in text:
        depth += {"(": 1, ")": -1}.get(letter, 0)
        deepest = max(deepest, depth)
    runs = max((len(run) for run in re.findall(r"(?:-\s*){2,}|(?:not\s+){2,}|(?:\*\*\s*[^*]){2,}", text)), default=0)
    if len(text) > LONGEST_EXPRESSION or deepest > DEEPEST_EXPRESSION or runs > 40:
        message = (
            f"An expression may have {LONGEST_EXPRESSION} characters and {DEEPEST_EXPRESSION} brackets in another."
        )
        raise InputError((Problem(place, message, code="too-large"),))
    try:
        tree = _parser().parse(text)
    except UnexpectedInput as error:
        found = getattr(error, "column", -1)
        column = found if isinstance(found, int) and found > 0 else len(text) + 1
        where = Place(place.file, place.line, place.column + column - 1)
        problem = Problem(where, f"The expression `{text}` cannot be read.", EXPECTED, source=text, code="expression")
        raise InputError((problem,)) from None
    return _plain(tree.children[0])


def _plain(node) -> Tree:
    """A tree of the parser as nested lists."""
    parts = node.children
    name = node.data
    if name == "quantity":
        return _number(str(parts[0]))
    if name == "name":
        return ["name", str(parts[0]), *(str(part)[1:] for part in parts[1:])]
    if name == "quoted":
        return ["text", str(parts[0])[1:-1]]
    if name == "call":
        arguments = parts[1].children if len(parts) > 1 and parts[1] is not None else []
        return ["call", str(parts[0]), *(_plain(argument) for argument in arguments)]
    if name in ("negate", "minus"):
        return ["not" if name == "negate" else "minus", _plain(parts[0])]
    if name in ("conjunction", "disjunction"):
        return ["and" if name == "conjunction" else "or", *(_plain(part) for part in parts)]
    if name == "power":
        return ["**", _plain(parts[0]), _plain(parts[1])]
    if name == "comparison":
        return _comparisons(parts)
    result = _plain(parts[0])
    for sign, part in zip(parts[1::2], parts[2::2], strict=True):
        result = [str(sign), result, _plain(part)]
    return result


def _comparisons(parts) -> Tree:
    """`a < b < c` means `a < b and b < c`."""
    sides = [_plain(part) for part in parts[0::2]]
    pairs = [[str(sign), sides[i], sides[i + 1]] for i, sign in enumerate(parts[1::2])]
    return pairs[0] if len(pairs) == 1 else ["and", *pairs]


def _number(text: str) -> Tree:
    """A literal with its prefix worked in: `2k`, `4k7`, `50 mV`, `5%`."""
    found = _QUANTITY.match(text)
    if found is None:
        raise ValueError(f"not a quantity: {text}")
    digits, letter, decimals, percent, prefix, unit = found.groups()
    if letter:
        return ["number", float(f"{digits}.{decimals}") * PREFIXES.get(letter, 1.0), "ohm" if letter == "R" else ""]
    if percent:
        return ["number", float(digits) / 100, ""]
    return ["number", float(digits) * PREFIXES.get(prefix or "", 1.0), {"Ω": "ohm"}.get(unit, unit) or ""]


def names_in(tree: Tree) -> list[tuple[str, ...]]:
    """The (dotted) names of a tree, quoted ones as they may be names, in order of their first standing."""
    found: dict[tuple[str, ...], None] = {}

    def walk(node: Tree) -> None:
        if node[0] == "name":
            found.setdefault(tuple(node[1:]))
        elif node[0] == "text":
            found.setdefault((node[1],))
        elif node[0] != "number":
            for part in node[2 if node[0] == "call" else 1 :]:
                walk(part)

    walk(tree)
    return list(found)
