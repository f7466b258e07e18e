"""Composites: patterns made of other patterns, looked for among the claims that are kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from topo.matching.evaluating import evaluate_truth
from topo.matching.index import Index
from topo.matching.match import Evidence, Match
from topo.matching.pattern import Component, Pattern
from topo.matching.scope import Scope
from topo.matching.shelf import Library
from topo.matching.state import State
from topo.views.view import Views

MOST_COMPOSITES = 200
MOST_TRIED = 20_000


class CompositeScope(Scope):
    """A scope in which names are those of components, each with a scope of its own."""

    composite = True

    def __init__(self, index: Index, pattern: Pattern, components: dict[str, Scope | None]) -> None:
        super().__init__(index, pattern, State())
        self.components = components

    def component(self, name: str) -> Scope | None:
        found = self.components.get(name)
        if found is None and name in {component.name for component in self.pattern.made_of}:
            from topo.matching.scope import Unbound

            raise Unbound(name)
        if found is not None:
            found.spoken = self.spoken
        return found


def compose(kept: Iterable[Match], library: Library, views: Views, index: Index | None = None) -> tuple[Match, ...]:
    """The composites over kept matches; composites may be components of others further on in the library.

    Of two composites of one pattern, one whose components are all in the other is left out.
    """
    pool = list(kept)
    index = index or Index(views)
    found: list[Match] = []
    for pattern in library.patterns:
        if pattern.made_of:
            made = list(_composites(pattern, pool, library, index))
            made = [one for one in made if not any(_is_less(one, other) for other in made)]
            found.extend(made)
            pool.extend(made)
    return tuple(found)


def _composites(pattern: Pattern, pool: Sequence[Match], library: Library, index: Index) -> Iterator[Match]:
    seen: set[frozenset] = set()
    for chosen in islice(_choices(pattern.made_of, pool, ()), MOST_TRIED):
        if len(seen) >= MOST_COMPOSITES:
            return
        components = {component.name: match for component, match in chosen if match is not None}
        scopes = {
            component.name: None if match is None else scope_of(match, library, index) for component, match in chosen
        }
        scope = CompositeScope(index, pattern, scopes)
        undecided = []
        for condition in pattern.where:
            truth = evaluate_truth(condition.tree, scope)
            if truth is False:
                break
            if truth is None:
                undecided.append(condition.text)
        else:
            key = frozenset(id(match) for match in components.values())
            if key not in seen:
                seen.add(key)
                yield _match(pattern, components, tuple(undecided))


def _choices(components: Sequence[Component], pool: Sequence[Match], chosen: tuple) -> Iterator[tuple]:
    """Every choice of a match for each component, all different; optional ones are tried bound first."""
    if not components:
        yield chosen
        return
    first, rest = components[0], components[1:]
    for match in pool:
        if match.pattern in first.slugs and all(match is not other for _, other in chosen):
            yield from _choices(rest, pool, (*chosen, (first, match)))
    if first.optional:
        yield from _choices(rest, pool, (*chosen, (first, None)))


def _is_less(one: Match, other: Match) -> bool:
    """Whether the components of one composite are among those of another."""
    mine = {id(match) for match in one.components.values()}
    return mine < {id(match) for match in other.components.values()}


def _match(pattern: Pattern, components: dict[str, Match], undecided: tuple[str, ...]) -> Match:
    roles = {f"{name}.{role}": refs for name, match in components.items() for role, refs in match.roles.items()}
    handles = {f"{name}.{role}": bound for name, match in components.items() for role, bound in match.handles.items()}
    claimed = frozenset(part for match in components.values() for part in match.claimed)
    evidence = tuple(
        Evidence("reading", f"{name} is {match.pattern}", tuple(sorted(match.claimed)))
        for name, match in components.items()
    )
    band = min((match.band for match in components.values()), default=0)
    return Match(pattern.slug, roles, handles, {}, claimed, evidence, undecided, band, components)


def scope_of(match: Match, library: Library, index: Index) -> Scope:
    """The scope in which expressions of a match's pattern are evaluated; `index` is that of the match's band."""
    pattern = library.get(match.pattern)
    if match.components:
        inner: dict[str, Scope | None] = {
            name: scope_of(component, library, index) for name, component in match.components.items()
        }
        return CompositeScope(index, pattern, inner)
    state = State()
    roles = pattern.roles_of(match.variant)
    for name, things in match.things.items():
        if roles[name].many:
            state.many[name] = things
        else:
            state.roles[name] = things[0] if things else None
    for name, views in match.bound_nets.items():
        for view, bound in views.items():
            state.nets[name, view] = bound
    return Scope(index, pattern, state, match.turned_over)
