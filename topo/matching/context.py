"""Evaluates the figures and expressions of a match that was found, against the circuit that it was found in."""

from __future__ import annotations

from typing import NamedTuple

from topo.matching.composites import scope_of
from topo.matching.evaluating import Result, evaluate_result
from topo.matching.index import Index
from topo.matching.match import Match
from topo.matching.pattern import Tree
from topo.matching.scope import Scope
from topo.matching.shelf import Library
from topo.views.view import Views


class FigureValue(NamedTuple):
    """A figure of a match: value in SI units (None where not known), unit, and status "calculated", "assumed" (it rests
    on an assumed value) or "not known". `parts` are the designators that it was computed from."""

    name: str
    value: float | None
    unit: str
    status: str
    parts: tuple[str, ...] = ()


class Context:
    """The circuit in which matches are evaluated, with the library that they come from."""

    def __init__(self, views: Views, library: Library) -> None:
        self.views = views
        self.library = library
        self._indexes: dict[int, Index] = {}

    def index(self, band: int) -> Index:
        """The index of a band."""
        found = self._indexes.get(band)
        if found is None:
            first = self._indexes.get(0)
            found = Index(self.views) if first is None else first.of_band(band)
            self._indexes[band if first is not None else 0] = found
            if first is None and band:
                return self.index(band)
        return found

    def scope(self, match: Match) -> Scope:
        """What expressions of a match may look at."""
        return scope_of(match, self.library, self.index(match.band))


def evaluate(expression: Tree | str, match: Match, context: Context) -> Result:
    """The value of an expression (a tree, or its text) in a match, what it rests on, and whether that was assumed.

    Raises:
        InputError: the text cannot be read.
    """
    if isinstance(expression, str):
        from topo.errors import Place
        from topo.matching.expressions import parse_expression

        expression = parse_expression(expression, Place("<expression>", 1, 1))
    return evaluate_result(expression, context.scope(match))


def figures(match: Match, context: Context) -> tuple[FigureValue, ...]:
    """All figures of a match's pattern, in its order."""
    scope = context.scope(match)
    found = []
    for figure in context.library.get(match.pattern).figures:
        result = evaluate_result(figure.tree, scope)
        found.append(_figure_value(figure.name, figure.unit, result))
    return tuple(found)


def _figure_value(name: str, unit: str, result: Result) -> FigureValue:
    value = result.value
    if isinstance(value, list):
        value = value[0] if len(value) == 1 else None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return FigureValue(name, None, unit, "not known", result.parts)
    return FigureValue(name, float(value), unit, "assumed" if result.assumed else "calculated", result.parts)
