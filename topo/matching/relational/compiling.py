"""From a query to nested loops: Python source of fixed templates and numbers, compiled once and kept.

Nothing that a user wrote goes into the source: variables are called by their numbers, relations by their places.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from topo.matching.relational.ordering import Step, ordered
from topo.matching.relational.query import Query
from topo.matching.relational.relation import ColumnRelation, Relation

MOST_LOOPS = 18
"""Python nests twenty blocks at most."""
KEPT_PLANS = 4_000

AnyRelation = Relation | ColumnRelation


class Plan:
    """A query in the order of its steps, compiled; it gives a list of rows, or whether there is one."""

    __slots__ = ("run", "source", "steps")

    def __init__(self, steps: tuple[Step, ...], source: str, run: Callable[..., Any]) -> None:
        self.steps = steps
        self.source = source
        self.run = run

    def __call__(self, relations: Sequence[AnyRelation]) -> Any:
        """The result on the relations of the query's atoms, in their order."""
        return self.run(*[_table(relations[step.atom], step) for step in self.steps])


def _table(relation: AnyRelation, step: Step) -> Any:
    """What a step needs of its relation."""
    if isinstance(relation, ColumnRelation):
        return relation.ranges(step.bound[0]) if step.bound else relation.lists()
    return relation.index(step.bound) if step.bound else relation.rows


_plans: dict[tuple, Plan | None] = {}


def compiled(query: Query, relations: Sequence[AnyRelation], tells: str = "all") -> Plan | None:
    """The plan of a query for relations of such sizes (to a factor of two), compiled at its first use.

    It starts from the smallest relation, and goes on along variables that are bound; of those that are, to the
    smallest.

    Args:
        tells: "all" for a list of rows of the wanted variables, "any" for whether there is one.
    Returns:
        The plan; None for a query that would take more loops than Python can nest.
    """
    forms = tuple([_form(relation) for relation in relations])
    key = (query, tuple([len(relation).bit_length() for relation in relations]), forms, tells)
    if key not in _plans:
        if len(_plans) >= KEPT_PLANS:
            _plans.clear()
        _plans[key] = _Writer(query, forms, tells).plan(ordered(query, relations))
    return _plans[key]


def _form(relation: AnyRelation) -> str:
    if isinstance(relation, ColumnRelation):
        return "columns"
    return "single" if relation.single else "rows"


class _Writer:
    """Writes the source of one plan."""

    def __init__(self, query: Query, forms: tuple[str, ...], tells: str) -> None:
        self.query = query
        self.forms = forms
        self.tells = tells
        self.lines: list[str] = []
        self.depth = 1
        self.loops = 0
        self.bound: set[int] = set()
        self.leave = "return False" if tells == "any" else "return found"

    def plan(self, steps: tuple[Step, ...]) -> Plan | None:
        names = ", ".join(f"t{number}" for number in range(len(steps)))
        self.lines = [f"def run({names}):", " found = []", " none = ()"]
        for number, step in enumerate(steps):
            if self.forms[step.atom] == "columns" and step.bound:
                width = len(self.query.atoms[step.atom].variables)
                self._put(f"s{number}, {', '.join(f'c{number}_{place}' for place in range(width))} = t{number}")
        for number, step in enumerate(steps):
            self._step(number, step)
        if self.loops > MOST_LOOPS:
            return None
        wanted = "".join(f"v{name}, " for name in self.query.wanted)
        self._put("return True" if self.tells == "any" else f"found.append(({wanted}))")
        self.lines.append(f" {self.leave}")
        source = "\n".join(self.lines)
        space: dict[str, Any] = {}
        exec(compile(source, "<plan>", "exec"), space)
        return Plan(steps, source, space["run"])

    def _put(self, line: str) -> None:
        self.lines.append(" " * self.depth + line)

    def _loop(self, line: str) -> None:
        self._put(line)
        self.depth += 1
        self.loops += 1

    @property
    def _stop(self) -> str:
        return "continue" if self.loops else self.leave

    def _step(self, number: int, step: Step) -> None:
        variables, form = self.query.atoms[step.atom].variables, self.forms[step.atom]
        fresh = [name for place, name in enumerate(variables) if place not in step.bound]
        key = ", ".join(f"v{variables[place]}" for place in step.bound)
        key = f"({key})" if len(step.bound) > 1 else key
        checks: list[str] = []
        if form == "columns" and step.bound:
            checks += self._columns(number, step, variables)
        elif step.bound and not fresh:
            self._put(f"if {key} not in t{number}: {self._stop}")
            return
        elif step.bound == (0,) and form == "single":
            self._put(f"r{number} = t{number}.get({key})")
            self._put(f"if r{number} is None: {self._stop}")
            self._put(f"({_targets(variables, step.bound)}) = r{number}[0]")
        else:
            whole = f"zip(*t{number})" if form == "columns" else f"t{number}"
            rows = f"t{number}.get({key}, none)" if step.bound else whole
            self._loop(f"for {_targets(variables, step.bound)} in {rows}:")
        checks += [f"w{place} != v{name}" for place, name in _repeated(variables, step.bound)]
        self.bound.update(fresh)
        new = set(fresh)
        checks += [f"v{a} == v{b}" for a, b in self.query.differ if {a, b} <= self.bound and {a, b} & new]
        checks += [f"v{a} >= v{b}" for a, b in self.query.less if {a, b} <= self.bound and {a, b} & new]
        if checks:
            self._put(f"if {' or '.join(checks)}: {self._stop}")

    def _columns(self, number: int, step: Step, variables: tuple[int, ...]) -> list[str]:
        """A loop over the rows of one number in sorted columns; gives the checks of what else is bound."""
        key = f"v{variables[step.bound[0]]}"
        self._loop(f"for i{number} in range(s{number}[{key}], s{number}[{key} + 1]):")
        checks = []
        for place, name in enumerate(variables):
            cell = f"c{number}_{place}[i{number}]"
            if place in step.bound[1:]:
                checks.append(f"{cell} != v{name}")
            elif place not in step.bound:
                self._put(f"{f'w{place}' if name in variables[:place] else f'v{name}'} = {cell}")
        return checks


def _targets(variables: tuple[int, ...], bound: tuple[int, ...]) -> str:
    """What a row is unpacked to: its free variables, and marks for those that are known or stand in it twice."""
    shown = []
    for place, name in enumerate(variables):
        known = place in bound
        shown.append("_" if known else f"w{place}" if name in variables[:place] else f"v{name}")
    return ", ".join(shown) + ","


def _repeated(variables: tuple[int, ...], bound: tuple[int, ...]) -> list[tuple[int, int]]:
    return [(place, name) for place, name in enumerate(variables) if place not in bound and name in variables[:place]]
