"""Evaluates expressions: numbers or None, truths in three values (True, False, None for undecided).

A tree is made into nested functions of a scope when it is first asked for, and these are kept: a condition is asked of
every way in which a pattern may lie in a circuit.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Sequence
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
# Two computed numbers within this share of one another are equal.
SAME_SHARE = 1e-6
# So many trees keep their functions: a few libraries of some thousand expressions.
KEPT = 20_000

Evaluator = Callable[[Scope], Any]
"""A tree as a function: gives what `evaluate_tree` does, and raises what it does."""


class Result(NamedTuple):
    """A number, truth or words; None where it is not known. `parts` are the designators that it rests on, `assumed`
    says that the value or a parameter of one of them was assumed."""

    value: Any
    parts: tuple[str, ...] = ()
    assumed: bool = False


def evaluate_result(tree: Tree, scope: Scope) -> Result:
    """The value of an expression and what it rests on; None where something is unbound or not known."""
    before = scope.spoken or {}
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
    return evaluator(tree)(scope)


_kept: dict[int, tuple[Tree, Evaluator]] = {}


def evaluator(tree: Tree) -> Evaluator:
    """The function of a tree."""
    found = _kept.get(id(tree))
    if found is None or found[0] is not tree:
        if len(_kept) >= KEPT:
            _kept.clear()
        found = _kept[id(tree)] = (tree, _made(tree))
    return found[1]


def _made(tree: Tree) -> Evaluator:
    kind = tree[0]
    if kind == "number":
        number = tree[1]
        return lambda scope: number
    if kind == "call":
        return _call(tree)
    if kind in ("name", "text"):
        return lambda scope: _number_of_name(tree, scope)
    if kind in ("and", "or"):
        return _junction([evaluator(part) for part in tree[1:]], kind == "and")
    if kind == "not":
        return _negation(evaluator(tree[1]))
    if kind == "minus":
        inner = evaluator(tree[1])
        return lambda scope: _spread(operator.neg, inner(scope))
    left, right = evaluator(tree[1]), evaluator(tree[2])
    if kind in _COMPARISONS:
        return _comparison(kind, left, right)
    return lambda scope: _pairwise(lambda a, b: _arithmetic(kind, a, b), left(scope), right(scope))


def _truth(value: Any) -> bool | None:
    return _every(value) if isinstance(value, list) else value


def _every(values: list[Any]) -> bool | None:
    """Whether all are true: false if one is false, undecided if one is."""
    if any(value is False for value in values):
        return False
    return None if any(value is None for value in values) else True


def _negation(inner: Evaluator) -> Evaluator:
    def negation(scope: Scope) -> bool | None:
        found = _truth(inner(scope))
        return None if found is None else not found

    return negation


def _junction(parts: Sequence[Evaluator], conjunction: bool) -> Evaluator:
    """`and` and `or` from left to right; what decides stops it."""

    def junction(scope: Scope) -> bool | None:
        undecided = False
        for part in parts:
            found = _truth(part(scope))
            if found is None:
                undecided = True
            elif bool(found) is not conjunction:
                return not conjunction
        return None if undecided else conjunction

    return junction


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


def _are_near(a: float, b: float) -> bool:
    return abs(a - b) <= SAME_SHARE * max(abs(a), abs(b))


def _comparison(sign: str, left: Evaluator, right: Evaluator) -> Evaluator:
    make = _COMPARISONS[sign]

    def comparison(scope: Scope) -> Any:
        found = _pairwise(make, left(scope), right(scope))
        return _every(found) if isinstance(found, list) else found

    return comparison


_COMPARISONS: dict[str, Callable[[Any, Any], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": _are_near,
    "!=": lambda a, b: not _are_near(a, b),
}


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


def _call(tree: Tree) -> Evaluator:
    name, arguments = tree[1], tree[2:]
    if name == "bound":
        words, take = arguments[0][1:], _binder(arguments[0])
        return lambda scope: _is_bound(words, take, scope)
    if name in ("same", "overlap", "different"):
        one, other = (_binder(argument) for argument in arguments[:2])
        return lambda scope: _compare_components(name, _parts_of(one(scope)), _parts_of(other(scope)))
    entry = TABLE[name]
    last = len(entry.arguments) - 1
    sorts = [entry.arguments[min(position, last)] for position in range(len(arguments))]
    takers = [_taker(sort, argument) for sort, argument in zip(sorts, arguments, strict=True)]
    function, whole = entry.call, entry.whole

    def call(scope: Scope) -> Any:
        inner = _home(sorts, arguments, scope) if scope.composite else scope
        values = [take(scope) for take in takers]
        return function(inner, *values) if whole else _over_members(function, inner, values)

    return call


def _taker(sort: str, argument: Tree) -> Evaluator:
    """What takes the value of one argument from a scope."""
    if sort == "number":
        return evaluator(argument)
    if sort == "text":
        word = argument[1]
        return lambda scope: word
    return _binder(argument)


def _home(sorts: Sequence[str], arguments: Sequence[Tree], scope: Scope) -> Scope:
    """The scope in which the last bound argument of a call is bound, among components of composites."""
    home = scope
    for sort, argument in zip(sorts, arguments, strict=True):
        if sort not in ("number", "text"):
            home = _scope_of(argument, scope)
    return home


def _scope_of(argument: Tree, scope: Scope) -> Scope:
    if argument[0] not in ("name", "text") or len(argument) < 3:
        return scope
    component = scope.component(argument[1])
    return scope if component is None else _scope_of(["name", *argument[2:]], component)


def _over_members(call: Callable[..., Any], scope: Scope, values: list[Any]) -> Any:
    """A function applied to each member of a role that binds many; truths must hold for every one."""
    missing = False
    for position, value in enumerate(values):
        if value is None:
            missing = True
        elif value.__class__ is list:
            found = [_over_members(call, scope, [*values[:position], item, *values[position + 1 :]]) for item in value]
            return _every(found) if found and all(item is None or isinstance(item, bool) for item in found) else found
    if missing:
        return None
    try:
        return call(scope, *values)
    except (KeyError, IndexError, ZeroDivisionError, OverflowError, AttributeError):
        return None


def _binder(argument: Tree) -> Evaluator:
    """What takes a role's things (one, or a list), a terminal, or a net from a scope."""
    if argument[0] not in ("name", "text"):
        return evaluator(argument)
    words = argument[1:]
    name = words[0]
    if len(words) == 1:

        def take(scope: Scope) -> Any:
            state = scope.state
            thing = state.roles.get(name)
            if thing is not None and scope.spoken is None:
                return thing
            if thing is None and name not in state.many and not scope.is_role(name):
                return scope.net(name)
            things = scope.things(name)
            return things[0] if thing is not None else list(things)

        return take
    terminal = words[1]
    within = _binder(["name", *words[1:]])

    def take_pin(scope: Scope) -> Any:
        component = scope.component(name) if scope.composite else None
        if component is not None:
            return within(component)
        things = scope.things(name)
        pins = [Pin(thing, terminal) for thing in things if terminal in thing.terminals]
        if not pins:
            raise Unbound(".".join(words))
        return pins if scope.is_many(name) else pins[0]

    return take_pin


def _is_bound(words: Tree, take: Evaluator, scope: Scope) -> bool:
    try:
        component = scope.component(words[0])
        if len(words) == 1 and isinstance(component, Scope):
            return True
        take(scope)
    except Unbound:
        return False
    return True


def _parts_of(bound: Any) -> set[str]:
    items = bound if isinstance(bound, list) else [bound]
    found: set[str] = set()
    for item in items:
        if isinstance(item, Thing):
            found |= set(item.parts)
        elif isinstance(item, Pin | NetRef):
            found.add(f"{item.node}.")
    return found


def _compare_components(name: str, one: set[str], other: set[str]) -> bool:
    """Whether two roles of components are the same parts, share some, or share none."""
    if name == "same":
        return one == other
    return bool(one & other) if name == "overlap" else not one & other
