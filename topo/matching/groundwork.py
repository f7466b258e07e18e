"""What of a shape does not depend on the circuit: its constraints, how its roles are bound, when its conditions are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from topo.matching.candidates import directed_roles, turned_kinds
from topo.matching.constraints import Constraint, constraints_of
from topo.matching.forms import Form, form_of
from topo.matching.pattern import Condition, Exclusion, Net, Pattern, Role, Shape, Tree
from topo.matching.planning import Step, follows_view

if TYPE_CHECKING:
    from topo.matching.buckets import Bucket
    from topo.matching.index import Index
    from topo.matching.structure import Structure

# So many shapes keep their groundwork: a few libraries of some hundred patterns.
KEPT = 2_000


class NamedLink(NamedTuple):
    """A constraint by its number, with the roles that it names; `optional` are those that may be unbound."""

    number: int
    names: tuple[str, ...]
    optional: tuple[str, ...]


class Sorted(NamedTuple):
    """The roles of a shape by how they are bound: searched for, left to an optional link, optional, many."""

    required: tuple[str, ...]
    linked: tuple[str, ...]
    optional: tuple[str, ...]
    many: tuple[str, ...]


@dataclass
class Groundwork:
    """The groundwork of one shape.

    `core` are the constraints of required roles alone, `core_numbers` their numbers. `early` conditions are checked
    while required roles are bound, `late` ones when all is (`of_all` are the identities of these: their truth may
    change with whatever is bound); of the early ones, `own` speak of one role alone, `common` are the rest. All
    conditions name what their figures speak of. `views_of` are the views in which required joins name a net.
    `directed` are roles of which `end` or `other` is named. Worked out when asked for: `plans` are the steps that bind
    roles, by what is bound before and how the numbers of their candidates compare; `forms` those of conditions by the
    identity of their trees; `groups` the optional roles that hang together, `around` what has to do with some of them.
    """

    roles: dict[str, Role]
    constraints: list[Constraint]
    sorted: Sorted
    core: list[Constraint]
    core_numbers: frozenset[int]
    nets: dict[str, Net]
    coincide: frozenset[frozenset[str]]
    distinct: frozenset[frozenset[str]]
    views_of: dict[str, set[int]]
    where: list[Condition]
    early: list[Condition]
    own: dict[str, list[Condition]]
    common: list[Condition]
    late: list[Condition]
    of_all: frozenset[int]
    directed: frozenset[str]
    figures: frozenset[str]
    plans: dict[tuple[Hashable, ...], tuple[Step, ...]] = field(default_factory=dict)
    keys: dict[tuple[str, bool], tuple[tuple[str, ...], str, bool | None, bool]] = field(default_factory=dict)
    forms: dict[int, Form] = field(default_factory=dict)
    groups: list[list[str]] | None = None
    possible: Structure | None = None
    around: dict[tuple[str, ...], tuple] = field(default_factory=dict)

    def bucket_of(self, index: Index, name: str, mirrored: bool) -> Bucket:
        """The things of a role's kinds, its own condition not looked at."""
        key = self.keys.get((name, mirrored))
        if key is None:
            role = self.roles[name]
            kinds = turned_kinds(role.kinds) if mirrored else role.kinds
            key = self.keys[name, mirrored] = (kinds, role.make, role.tapped, name in self.directed)
        return index.bucket(*key)

    def may_hold(self, index: Index, mirrored: bool) -> bool:
        """Whether an index has things that are joined as required roles are; by it most patterns fall."""
        return self.structure.may_hold(index, self, mirrored)

    def form(self, tree: Tree, names: Sequence[str]) -> Form:
        """The form of one of the shape's conditions, which speaks of these names."""
        found = self.forms.get(id(tree))
        if found is None:
            found = self.forms[id(tree)] = form_of(tree, names, self.roles, self.figures)
        return found

    @cached_property
    def links(self) -> dict[int, list[NamedLink]]:
        """The links of each join, by its place in the shape; none for one that was left out."""
        found: dict[int, list[NamedLink]] = defaultdict(list)
        for item in self.constraints:
            names = tuple(dict.fromkeys([*item.roles, *([item.through] if item.through else [])]))
            optional = tuple([name for name in names if self.roles[name].optional])
            found[item.join].append(NamedLink(item.number, names, optional))
        return found

    @cached_property
    def structure(self) -> Structure:
        """What the joins of required roles ask for by themselves."""
        from topo.matching.structure import Structure

        return Structure(self.sorted.required, self.core, self.nets)


_kept: dict[tuple, tuple[Pattern, Shape, Groundwork]] = {}


def groundwork(
    pattern: Pattern, shape: Shape, dropped: int | None = None, fresh_nets: tuple[str, ...] = ()
) -> Groundwork:
    """The groundwork of a shape without one of its joins, made once; `fresh_nets` may be one with other nets."""
    key = (id(pattern), id(shape), dropped, fresh_nets)
    found = _kept.get(key)
    if found is None:
        if len(_kept) >= KEPT:
            _kept.clear()
        found = _kept[key] = (pattern, shape, _groundwork(pattern, shape, dropped, fresh_nets))
    return found[2]


_merged: dict[tuple[int, int], tuple[Shape, Shape]] = {}


def is_possible(ground: Groundwork, group: Exclusion, index: Index, mirrored: bool) -> bool:
    """Whether an index has things joined as a group of `not` says, wherever; `ground` is that of `with_exclusion`.

    Only what must be so is asked: nets of the shape itself are bound already, to whatever class, and a role of the
    group may be what a winding or a witness is.
    """
    if ground.possible is None:
        own = {net.name for net in group.nets}
        nets = {name: net if name in own else net._replace(sort="any") for name, net in ground.nets.items()}
        from topo.matching.structure import Structure

        ground.possible = Structure(ground.sorted.required, ground.core, nets, apart=False)
    structure = ground.possible
    return index.told((structure, mirrored), lambda: structure.may_hold(index, ground, mirrored))


def with_exclusion(shape: Shape, number: int) -> Shape:
    """The roles and nets of a shape together with those of one of its groups of `not`, and that group's joins."""
    found = _merged.get((id(shape), number))
    if found is None:
        if len(_merged) >= KEPT:
            _merged.clear()
        group = shape.exclusions[number]
        roles, nets = (*shape.roles, *group.roles), (*shape.nets, *group.nets)
        found = _merged[id(shape), number] = (shape, Shape("", roles, nets, group.joins, group.where, ()))
    return found[1]


def _groundwork(pattern: Pattern, shape: Shape, dropped: int | None, fresh_nets: tuple[str, ...]) -> Groundwork:
    constraints = constraints_of(shape.joins, dropped)
    order = _sort_roles(shape, constraints)
    loose = {*order.many, *order.optional}
    core = [item for item in constraints if not loose & {*item.roles, item.through}]
    nets, pairs = _nets_and_pairs(shape, constraints)
    pairs += [frozenset((fresh, other)) for fresh in fresh_nets for other in nets]
    pairs += [frozenset(pair) for pair in pattern.coincide]
    views_of: dict[str, set[int]] = {}
    for item in core:
        for net in item.nets:
            views_of.setdefault(net, set()).add(follows_view(nets[net], item.view))
    figures = {figure.name: figure.names for figure in pattern.figures}
    where = [_with_names_of_figures(item, figures) for item in shape.where]
    early: list[Condition] = []
    own: dict[str, list[Condition]] = {}
    common: list[Condition] = []
    late: list[Condition] = []
    directed = directed_roles(shape.joins)
    for condition in where:
        names, shown = set(condition.names), repr(condition.tree)
        if "'end'" in shown or "'other'" in shown:
            directed |= names
        if _asks_what_is_bound(shown) or names & set(order.many):
            late.append(condition)
        elif not names & loose:
            early.append(condition)
            (only,) = names if len(names) == 1 else ("",)
            (own.setdefault(only, []) if only in order.required else common).append(condition)
    return Groundwork(
        roles={role.name: role for role in shape.roles},
        constraints=constraints,
        sorted=order,
        core=core,
        core_numbers=frozenset(item.number for item in core),
        nets=nets,
        coincide=frozenset(pairs),
        distinct=frozenset(frozenset(pair) for pair in pattern.distinct),
        views_of=views_of,
        where=where,
        early=early,
        own=own,
        common=common,
        late=late,
        of_all=frozenset(id(condition) for condition in late),
        directed=frozenset(directed),
        figures=frozenset(figures),
    )


def _sort_roles(shape: Shape, constraints: list[Constraint]) -> Sorted:
    linked = {item.through for item in constraints if item.may_lack}
    many = tuple(role.name for role in shape.roles if role.many)
    optional = tuple(role.name for role in shape.roles if role.optional and not role.many and role.name not in linked)
    apart = {*many, *optional, *linked}
    required = tuple(role.name for role in shape.roles if role.name not in apart)
    return Sorted(required, tuple(role.name for role in shape.roles if role.name in linked), optional, many)


def _nets_and_pairs(shape: Shape, constraints: list[Constraint]) -> tuple[dict[str, Net], list[frozenset[str]]]:
    """The nets of a shape, and those that are one net where an optional part between them is absent.

    A net beside such a part may then be whatever the net or word on its other side is.
    """
    nets = {net.name: net for net in shape.nets}
    pairs = []
    for item in (item for item in constraints if item.may_lack):
        for one, other in ((item.left, item.right), (item.right, item.left)):
            if one.sort != "net" or nets[one.name].sort != "signal":
                continue
            if other.sort == "literal" or (other.sort == "net" and nets[other.name].sort != "signal"):
                nets[one.name] = nets[one.name]._replace(sort="any")
        if item.left.sort == item.right.sort == "net":
            pairs.append(frozenset((item.left.name, item.right.name)))
    return nets, pairs


def _with_names_of_figures(condition: Condition, figures: Mapping[str, tuple[str, ...]]) -> Condition:
    """A condition that also names what the figures in it speak of."""
    if not any(name in figures for name in condition.names):
        return condition
    names: dict[str, None] = {}
    queue = list(condition.names)
    while queue:
        name = queue.pop(0)
        if name not in names:
            names[name] = None
            queue.extend(figures.get(name, ()))
    return condition._replace(names=tuple(name for name in names if name not in figures))


def _asks_what_is_bound(shown: str) -> bool:
    """Whether a condition asks what is bound, or what else there is, and so has to be checked when all is bound."""
    return "'bound'" in shown or "'alone'" in shown
