"""Evaluates expressions: numbers or None, truths in three values (True, False, None for undecided)."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from typing import Any, NamedTuple

from topo.matching.functions import TABLE
from topo.matching.pattern import Tree
from topo.matching.scope import Scope, Unbound
from topo.matching.things import NetRef, Pin, Thing

DEEPEST_FIGURES = 12
LARGEST_POWER = 64.0

_ARITHMETIC: dict[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "**": operator.pow,
}
_COMPARISONS: dict[str, Callable[[Any, Any], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
}
# Two computed numbers within this share of one another are equal.
SAME_SHARE = 1e-6


class Result(NamedTuple):
    """A number, truth or words; None where it is not known. `parts` are the designators that it rests on, `assumed`
    says that the value or a parameter of one of them was assumed."""

    value: Any
    parts: tuple[str, ...] = ()
    assumed: bool = False


def evaluate_result(tree: Tree, scope: Scope) -> Result:
    """The value of an expression and what it rests on; None where something is unbound or not known."""
    before = scope.spoken
    scope.spoken = {}
    try:
        value = evaluate_tree(tree, scope)
    except Unbound:
        value = None
    parts = tuple(scope.spoken)
    scope.spoken = before | scope.spoken
    return Result(value, parts, any(part in scope.point.assumed for part in parts))


def evaluate_truth(tree: Tree, scope: Scope) -> bool | None:
    """The truth of a condition: true where it speaks of something unbound, None where it cannot be decided."""
    try:
        found = evaluate_tree(tree, scope)
    except Unbound:
        return True
    if isinstance(found, list):
        return _every(found)
    return None if found is None else bool(found)


def evaluate_tree(tree: Tree, scope: Scope) -> Any:
    """The value of a tree: a number, truth, words, a list of numbers (for a role that binds many), or None.

    Raises:
        Unbound: it speaks of a role or net to which nothing is bound.
    """
    kind = tree[0]
    if kind == "number":
        return tree[1]
    if kind == "call":
        return _call(tree, scope)
    if kind in ("name", "text"):
        return _number_of_name(tree, scope)
    if kind in ("and", "or"):
        return _junction(tree, scope, kind == "and")
    if kind == "not":
        found = _truth(evaluate_tree(tree[1], scope))
        return None if found is None else not found
    if kind == "minus":
        return _spread(lambda value: -value, evaluate_tree(tree[1], scope))
    left, right = evaluate_tree(tree[1], scope), evaluate_tree(tree[2], scope)
    if kind in _COMPARISONS:
        return _compare(kind, left, right)
    return _pairwise(lambda a, b: _arithmetic(kind, a, b), left, right)


def _truth(value: Any) -> bool | None:
    return _every(value) if isinstance(value, list) else value


def _every(values: list[Any]) -> bool | None:
    """Whether all are true: false if one is false, undecided if one is."""
    if any(value is False for value in values):
        return False
    return None if any(value is None for value in values) else True


def _junction(tree: Tree, scope: Scope, conjunction: bool) -> bool | None:
    """`and` and `or` from left to right; what decides stops it."""
    undecided = False
    for part in tree[1:]:
        found = _truth(evaluate_tree(part, scope))
        if found is None:
            undecided = True
        elif bool(found) is not conjunction:
            return not conjunction
    return None if undecided else conjunction


def _spread(make: Callable[[float], Any], value: Any) -> Any:
    if isinstance(value, list):
        return [None if item is None else make(item) for item in value]
    return None if value is None else make(value)


def _pairwise(make: Callable[[float, float], Any], left: Any, right: Any) -> Any:
    if isinstance(left, list) and isinstance(right, list):
        return [_both(make, a, b) for a, b in zip(left, right, strict=False)]
    if isinstance(left, list):
        return [_both(make, item, right) for item in left]
    if isinstance(right, list):
        return [_both(make, left, item) for item in right]
    return _both(make, left, right)


def _both(make: Callable[[float, float], Any], left: Any, right: Any) -> Any:
    return None if left is None or right is None else make(left, right)


def _arithmetic(sign: str, left: float, right: float) -> float | None:
    if sign == "**" and abs(right) > LARGEST_POWER:
        return None
    try:
        found = _ARITHMETIC[sign](left, right)
    except (ZeroDivisionError, OverflowError):
        return None
    return found if isinstance(found, float | int) and math.isfinite(found) else None


def _compare(sign: str, left: Any, right: Any) -> Any:
    def make(a: float, b: float) -> bool:
        if sign in ("==", "!="):
            near = abs(a - b) <= SAME_SHARE * max(abs(a), abs(b))
            return near if sign == "==" else not near
        return _COMPARISONS[sign](a, b)

    found = _pairwise(make, left, right)
    return _every(found) if isinstance(found, list) else found


def _number_of_name(tree: Tree, scope: Scope) -> Any:
    """A figure, or a constant of the circuit."""
    name = tree[1]
    if tree[0] == "name" and name == "band" and len(tree) == 3:
        return scope.band_edge(tree[2])
    figure = scope.figure(name)
    if figure is not None:
        scope.depth += 1
        try:
            return None if scope.depth > DEEPEST_FIGURES else evaluate_tree(figure.tree, scope)
        finally:
            scope.depth -= 1
    if name == "VT":
        return scope.thermal_voltage
    if name == "pi":
        return math.pi
    if name == "temperature":
        return float(scope.graph.circuit.temperature)
    raise Unbound(name)


# -- calls --------------------------------------------------------------------------------------------------------


def _call(tree: Tree, scope: Scope) -> Any:
    name, arguments = tree[1], tree[2:]
    if name == "bound":
        return _is_bound(arguments[0], scope)
    if name in ("same", "overlap", "different"):
        return _compare_components(name, arguments, scope)
    entry = TABLE[name]
    values: list[Any] = []
    inner = scope
    for position, argument in enumerate(arguments):
        sort = entry.arguments[min(position, len(entry.arguments) - 1)]
        if sort == "number":
            values.append(evaluate_tree(argument, scope))
        elif sort == "text":
            values.append(argument[1])
        else:
            bound, inner = _bound(argument, scope)
            values.append(bound)
    if entry.whole:
        return entry.call(inner, *values)
    return _over_members(entry.call, inner, values)


def _over_members(call: Callable[..., Any], scope: Scope, values: list[Any]) -> Any:
    """A function applied to each member of a role that binds many; truths must hold for every one."""
    for position, value in enumerate(values):
        if isinstance(value, list | tuple):
            found = [_over_members(call, scope, [*values[:position], item, *values[position + 1 :]]) for item in value]
            return _every(found) if found and all(item is None or isinstance(item, bool) for item in found) else found
    if any(value is None for value in values):
        return None
    try:
        return call(scope, *values)
    except (KeyError, IndexError, ZeroDivisionError, OverflowError, AttributeError):
        return None


def _bound(argument: Tree, scope: Scope) -> tuple[Any, Scope]:
    """A role's things (one, or a tuple), a terminal, or a net; and the scope in which it is bound."""
    if argument[0] not in ("name", "text"):
        return evaluate_tree(argument, scope), scope
    words = argument[1:]
    component = scope.component(words[0])
    if component is not None and len(words) > 1:
        return _bound(["name", *words[1:]], component)
    if not scope.is_role(words[0]) and len(words) == 1:
        return scope.net(words[0]), scope
    things = scope.things(words[0])
    if len(words) > 1:
        pins = tuple(Pin(thing, words[1]) for thing in things if words[1] in thing.terminals)
        if not pins:
            raise Unbound(".".join(words))
        return (list(pins) if scope.is_many(words[0]) else pins[0]), scope
    return (list(things) if scope.is_many(words[0]) else things[0]), scope


def _is_bound(argument: Tree, scope: Scope) -> bool:
    try:
        words = argument[1:]
        component = scope.component(words[0])
        if len(words) == 1 and isinstance(component, Scope):
            return True
        _bound(argument, scope)
    except Unbound:
        return False
    return True


def _parts_of(argument: Tree, scope: Scope) -> set[str]:
    bound, _ = _bound(argument, scope)
    items = bound if isinstance(bound, list | tuple) else [bound]
    found: set[str] = set()
    for item in items:
        if isinstance(item, Thing):
            found |= set(item.parts)
        elif isinstance(item, Pin | NetRef):
            found.add(f"{item.node}.")
    return found


def _compare_components(name: str, arguments: list[Tree], scope: Scope) -> bool:
    """Whether two roles of components are the same parts, share some, or share none."""
    one, other = _parts_of(arguments[0], scope), _parts_of(arguments[1], scope)
    if name == "same":
        return one == other
    return bool(one & other) if name == "overlap" else not one & other
