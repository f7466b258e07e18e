"""From a query to nested loops: Python source of fixed templates and numbers, compiled once and kept.

Nothing that a user wrote goes into the source: variables are called by their numbers, relations by their places.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from topo.matching.relational.query import Query
from topo.matching.relational.relation import Relation

MOST_LOOPS = 18
"""Python nests twenty blocks at most."""
KEPT_PLANS = 4_000


class Step(NamedTuple):
    """An atom, by its place in the query, and the places of its variables that are bound when its turn comes."""

    atom: int
    bound: tuple[int, ...]


class Plan:
    """A query in the order of its steps, compiled; it gives a list of rows, or whether there is one."""

    __slots__ = ("run", "source", "steps")

    def __init__(self, steps: tuple[Step, ...], source: str, run: Callable[..., Any]) -> None:
        self.steps = steps
        self.source = source
        self.run = run

    def __call__(self, relations: Sequence[Relation]) -> Any:
        """The result on the relations of the query's atoms, in their order."""
        tables = []
        for step in self.steps:
            relation = relations[step.atom]
            tables.append(relation.index(step.bound) if step.bound else relation.rows)
        return self.run(*tables)


_plans: dict[tuple, Plan | None] = {}


def compiled(query: Query, relations: Sequence[Relation], tells: str = "all") -> Plan | None:
    """The plan of a query for relations of such sizes, compiled at its first use.

    It starts from the smallest relation, and goes on along variables that are bound; of those that are, to the
    smallest.

    Args:
        tells: "all" for a list of rows of the wanted variables, "any" for whether there is one.
    Returns:
        The plan; None for a query that would take more loops than Python can nest.
    """
    steps = _order(query, relations)
    single = tuple(relation.single for relation in relations)
    key = (query, steps, single, tells)
    if key not in _plans:
        if len(_plans) >= KEPT_PLANS:
            _plans.clear()
        _plans[key] = _compile(query, steps, single, tells)
    return _plans[key]


def _order(query: Query, relations: Sequence[Relation]) -> tuple[Step, ...]:
    left = list(range(len(query.atoms)))
    bound: set[int] = set()
    steps = []
    while left:
        best = min(left, key=lambda atom: _cost(query, atom, len(relations[atom]), bound))
        left.remove(best)
        variables = query.atoms[best].variables
        steps.append(Step(best, tuple(place for place, name in enumerate(variables) if name in bound)))
        bound.update(variables)
    return tuple(steps)


def _cost(query: Query, atom: int, size: int, bound: set[int]) -> tuple[int, int, int]:
    variables = query.atoms[atom].variables
    free = sum(1 for name in variables if name not in bound)
    met = len(variables) - free
    return (0 if not free else 1 if met else 2, free if met else 0, size)


def _compile(query: Query, steps: tuple[Step, ...], single: tuple[bool, ...], tells: str) -> Plan | None:
    names = ", ".join(f"t{number}" for number in range(len(steps)))
    lines = [f"def run({names}):", " found = []", " none = ()"]
    depth, loops = 1, 0
    bound: set[int] = set()
    leave = "return False" if tells == "any" else "return found"
    for number, step in enumerate(steps):
        variables = query.atoms[step.atom].variables
        key = ", ".join(f"v{variables[place]}" for place in step.bound)
        key = f"({key})" if len(step.bound) > 1 else key
        stop = "continue" if loops else leave
        fresh = [name for place, name in enumerate(variables) if place not in step.bound]
        if step.bound and not fresh:
            lines.append(f"{' ' * depth}if {key} not in t{number}: {stop}")
            continue
        targets = _targets(variables, step.bound)
        if step.bound == (0,) and single[step.atom]:
            lines.append(f"{' ' * depth}r{number} = t{number}.get({key})")
            lines.append(f"{' ' * depth}if r{number} is None: {stop}")
            lines.append(f"{' ' * depth}({targets}) = r{number}[0]")
        else:
            rows = f"t{number}.get({key}, none)" if step.bound else f"t{number}"
            lines.append(f"{' ' * depth}for {targets} in {rows}:")
            depth, loops = depth + 1, loops + 1
            stop = "continue"
        checks = [f"w{place} != v{name}" for place, name in _repeated(variables, step.bound)]
        bound.update(fresh)
        checks += [f"v{a} == v{b}" for a, b in query.differ if {a, b} <= bound and {a, b} & set(fresh)]
        checks += [f"v{a} >= v{b}" for a, b in query.less if {a, b} <= bound and {a, b} & set(fresh)]
        if checks:
            lines.append(f"{' ' * depth}if {' or '.join(checks)}: {stop}")
    if loops > MOST_LOOPS:
        return None
    wanted = "".join(f"v{name}, " for name in query.wanted)
    lines.append(f"{' ' * depth}{'return True' if tells == 'any' else f'found.append(({wanted}))'}")
    lines.append(f" {leave}")
    source = "\n".join(lines)
    space: dict[str, Any] = {}
    exec(compile(source, "<plan>", "exec"), space)
    return Plan(steps, source, space["run"])


def _targets(variables: tuple[int, ...], bound: tuple[int, ...]) -> str:
    """What a row is unpacked to: its free variables, and marks for those that are known or stand in it twice."""
    shown = []
    for place, name in enumerate(variables):
        known = place in bound
        shown.append("_" if known else f"w{place}" if name in variables[:place] else f"v{name}")
    return ", ".join(shown) + ","


def _repeated(variables: tuple[int, ...], bound: tuple[int, ...]) -> list[tuple[int, int]]:
    return [(place, name) for place, name in enumerate(variables) if place not in bound and name in variables[:place]]
