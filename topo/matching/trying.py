"""Tries the examples of a pattern: does each match, or not match, as it says; and if not, by what it fails first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from topo.matching.match import Match
from topo.matching.pattern import Pattern
from topo.matching.schema_texts import Example
from topo.matching.shelf import Library


@dataclass(frozen=True)
class Trial:
    """What came of an example: whether it went as it says, and in words why not."""

    slug: str
    example: Example
    passed: bool
    words: str = ""
    matches: tuple[Match, ...] = ()


def try_example(pattern: Pattern, example: Example, library: Library) -> Trial:
    """Solves and views an example's netlist, and looks for the pattern in it."""
    import topo.analysis
    import topo.graph
    import topo.netlist
    import topo.views
    from topo.errors import TopoError

    try:
        circuit = topo.netlist.loads(example.netlist, file=f"{pattern.slug}: {example.words}")
        point = topo.analysis.operating_point(topo.graph.normalise(circuit))
        views = topo.views.views(point.graph, point)
    except TopoError as error:
        return Trial(pattern.slug, example, False, f"the netlist cannot be used: {error}")
    return judge(pattern, example, library, views)


def judge(pattern: Pattern, example: Example, library: Library, views) -> Trial:
    """Whether the pattern is found in an example's views as the example says."""
    from topo.matching.engine import indexes, matches_of

    if pattern.made_of:
        from topo.matching.engine import match_everything

        found = [match for match in match_everything(views, library) if match.pattern == pattern.slug]
        prepared = indexes(views, library)
    else:
        prepared = indexes(views, library)
        found = matches_of(pattern, prepared)
    fitting = [match for match in found if fits(match, example.roles)]
    good = bool(fitting) if example.matches else not found
    words = ""
    if not good and example.matches:
        words = _why_not(pattern, example, prepared, found)
    elif not good:
        shown = "; ".join(shown_roles(match) for match in found)
        words = f"it matches: {shown}"
    state = _state_words(views)
    if words and state:
        words = f"{words}\n      operating point: {state}"
    if example.known_miss:
        return Trial(
            pattern.slug, example, not good, "" if not good else "a known miss now goes as it should", tuple(found)
        )
    return Trial(pattern.slug, example, good, words, tuple(found))


def fits(match: Match, roles: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether a match gives the roles the designators that are wanted, up to what is not said; [] wants it unbound."""
    return all(_is_bound_to(match.roles.get(name, ()), wanted) for name, wanted in roles.items())


def _is_bound_to(got: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    if not wanted:
        return not got
    return {ref.casefold() for ref in wanted} <= {ref.casefold() for ref in got}


def shown_roles(match: Match) -> str:
    """The roles of a match with their designators."""
    return ", ".join(f"{name} {'+'.join(refs)}" for name, refs in match.roles.items())


def _why_not(pattern: Pattern, example: Example, prepared, found: list[Match]) -> str:
    """The join or condition by which the best partial match fails, with the example's roles held to what it says."""
    from topo.matching.search import Search
    from topo.matching.tracing import Trace

    if found:
        exchanged = [match for match in found if _fits_turned(match, pattern, example)]
        hint = " (symmetric roles are named in the order of the file)" if exchanged else ""
        return "it matches, but with other roles: " + "; ".join(shown_roles(match) for match in found) + hint
    only = {name: frozenset(refs) for name, refs in example.roles.items() if refs}
    told: list[tuple[int, str, Trace]] = []
    for index in prepared:
        for mirrored in (False, True) if pattern.turns_over else (False,):
            for shape in pattern.shapes:
                trace = Trace()
                search = Search(index, pattern, shape, mirrored, None, only, trace)
                for _ in search.states():
                    pass
                told.append((trace.reach, shape.variant, trace))
    if not told:
        return "the components that it is made of are not found together"
    _, variant, trace = max(told, key=lambda item: item[0])
    words = trace.words or "nothing is found"
    if variant:
        words = f"variant `{variant}`: {words}"
    if trace.state is not None:
        graph = prepared[0].views.graph
        roles = ", ".join(f"{name} {'+'.join(t.parts)}" for name, t in trace.state.roles.items() if t is not None)
        nets = dict.fromkeys(f"{name} = {graph.nets[bound[1]]}" for (name, _), bound in trace.state.nets.items())
        words += f"\n      so far: {roles or 'nothing'}" + (f"; nets {', '.join(nets)}" if nets else "")
    return words


def _fits_turned(match: Match, pattern: Pattern, example: Example) -> bool:
    from topo.matching.finding import renamings

    return any(
        fits(match, {renamed.get(name, name): refs for name, refs in example.roles.items()})
        for renamed in renamings(pattern.symmetry)
    )


def _state_words(views) -> str:
    """The states of devices and diodes, for one who wonders why an example fails."""
    graph, point = views.graph, views.point
    states = ", ".join(f"{graph.elements[k].name} {state}" for k, state in point.states.items())
    missing = f"; missing: {', '.join(point.missing)}" if point.missing else ""
    return f"{point.status}; {states}{missing}"
