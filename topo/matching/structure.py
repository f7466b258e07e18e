"""Whether a circuit has what a pattern's joins ask for, told by its joins alone: what fails here is not searched for.

The joins between required roles become a query on the index: a variable for each role, and one for each net or joint
in each view. Only what every match must satisfy is asked, so that a pattern whose query has no answer has no match.
Rails are no keys: a terminal that may not lie on one is in no relation, and one that has to is in a relation of its
own.
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING

from topo.matching.buckets import Bucket
from topo.matching.constraints import Constraint
from topo.matching.index import DC, SIGNAL, Index
from topo.matching.kinds import GENERIC
from topo.matching.meeting import RAIL_SORTS, is_literal
from topo.matching.pattern import Net, Spot
from topo.matching.relational import Atom, Plan, Query, Relation, Walk, compiled, ordered

if TYPE_CHECKING:
    from topo.matching.groundwork import Groundwork

# What a class at a spot has to be: in a relation's key, so of plain words.
Filter = tuple[Hashable, ...]
JOINT: Filter = ("joint",)
# So often a query is walked before it is compiled, and so many keys of relations are kept.
WALKS = 3
KEPT_KEYS = 20_000


class Structure:
    """The query of a shape's required joins; made once for a shape, whatever the circuit.

    `roles` are the roles by their variables, of which each binds something else, unless `apart` says that it need not;
    each atom names the role whose bucket its relation is made of.
    """

    def __init__(
        self, roles: tuple[str, ...], constraints: list[Constraint], nets: dict[str, Net], apart: bool = True
    ) -> None:
        self.nets = nets
        self.numbers = {role: number for number, role in enumerate(roles)}
        self.atoms: list[tuple[str, Key, tuple[int, ...]]] = []
        self._variables: dict[str, int] = dict(self.numbers)
        self._asked: dict[tuple[int, ...], _Asked] = {}
        for item in constraints:
            if not item.may_lack:
                self._add(item)
        pairs = [(a, b) for a in range(len(roles)) for b in range(a)] if apart else []
        named = {variable for _, _, variables in self.atoms for variable in variables}
        differ = tuple((a, b) for a, b in pairs if a in named and b in named)
        self._in_turn = sorted(range(len(self.atoms)), key=lambda place: self.atoms[place][1].is_lead)
        atoms = tuple(Atom(number, self.atoms[place][2]) for number, place in enumerate(self._in_turn))
        self.query = Query(atoms, differ)

    def _variable(self, *name: Hashable) -> int:
        return self._variables.setdefault(" ".join(map(str, name)) + "\n", len(self._variables))

    def _add(self, item: Constraint) -> None:
        """The atoms of one constraint; one between two nets says nothing of a role."""
        sides = [self._side(item, spot, f"{item.number} {place}") for place, spot in enumerate((item.left, item.right))]
        if item.through:
            (left, one), (right, other) = sides
            key = ("ends", item.view, item.direction, left, right)
            ends = [variable for variable in (one, other) if variable is not None]
            self.atoms.append((item.through, _key(key), (self.numbers[item.through], *ends)))
            for spot, (_, variable) in zip((item.left, item.right), sides, strict=True):
                if spot.sort == "terminal":
                    assert variable is not None
                    self._terminal(item, spot, JOINT, variable)
            return
        spots = (item.left, item.right)
        if spots[0].sort == spots[1].sort == "terminal":
            joint = self._variable("joint", item.number)
            for spot in spots:
                self._terminal(item, spot, JOINT, joint)
            return
        for spot, other_spot, place in ((*spots, 1), (*spots[::-1], 0)):
            if spot.sort == "terminal" and other_spot.sort != "terminal":
                wanted, variable = sides[place]
                self._terminal(item, spot, wanted, variable)

    def _side(self, item: Constraint, spot: Spot, place: str) -> tuple[Filter, int | None]:
        """What has to be at a spot, and the variable of the class there; None where it tells nothing."""
        if spot.sort == "terminal":
            return JOINT, self._variable("joint", place)
        if spot.sort == "literal":
            return ("literal", spot.name), None
        net = self.nets[spot.name]
        if net.sort in RAIL_SORTS:
            return ("sort", net.sort), None
        return ("sort", net.sort, net.held), self._variable("net", spot.name, item.view)

    def _terminal(self, item: Constraint, spot: Spot, wanted: Filter, variable: int | None) -> None:
        limit = item.limit if item.lead else None
        key = ("at", item.view, spot.terminal, item.lead, limit, wanted, variable is not None)
        variables = (self.numbers[spot.name],) if variable is None else (self.numbers[spot.name], variable)
        self.atoms.append((spot.name, _key(key), variables))

    def may_hold(self, index: Index, ground: Groundwork, mirrored: bool) -> bool:
        """Whether the query has an answer on an index."""
        relations: list[Relation] = []
        sizes: list[int] = []
        for place in self._in_turn:
            role, words, _ = self.atoms[place]
            relation = relation_of(index, ground.bucket_of(index, role, mirrored), words, mirrored)
            size = len(relation.rows)
            if not size:
                return False
            relations.append(relation)
            sizes.append(size.bit_length() >> 1)
        # The order of a plan depends on how the sizes of its relations compare, roughly: one for each magnitude.
        key = tuple(sizes)
        asked = self._asked.get(key)
        if asked is None:
            asked = self._asked[key] = _Asked(Walk(self.query, ordered(self.query, relations)))
        asked.times += 1
        if asked.times > WALKS and not asked.is_compiled:
            asked.plan, asked.is_compiled = compiled(self.query, relations, "any"), True
        return asked.walk.has_answer(relations) if asked.plan is None else asked.plan(relations)


class _Asked:
    """How the query is answered for relations of some sizes: by a walk at first, by a plan when it is asked often."""

    __slots__ = ("is_compiled", "plan", "times", "walk")

    def __init__(self, walk: Walk) -> None:
        self.walk = walk
        self.times = 0
        self.plan: Plan | None = None
        self.is_compiled = False


class Key:
    """What a relation is made by, known by its identity: it is looked up more often than anything else."""

    __slots__ = ("turned", "words")

    def __init__(self, words: tuple[Hashable, ...]) -> None:
        self.words = words
        self.turned = self

    @property
    def is_lead(self) -> bool:
        """Whether leads have to be walked for it, which takes longer."""
        return self.words[0] == "at" and bool(self.words[3])


_keys: dict[tuple[Hashable, ...], Key] = {}


def _key(words: tuple[Hashable, ...]) -> Key:
    found = _keys.get(words)
    if found is None:
        if len(_keys) >= KEPT_KEYS:
            _keys.clear()
        found = _keys[words] = Key(words)
        if words[0] == "ends" and words[2]:
            other = (*words[:2], "<" if words[2] == ">" else ">", *words[3:])
            found.turned = _keys[other] = Key(other)
            found.turned.turned = found
    return found


def relation_of(index: Index, bucket: Bucket, key: Key, mirrored: bool) -> Relation:
    """The relation of a bucket that a key asks for; made once for an index, whatever the pattern."""
    if mirrored:
        key = key.turned
    found = bucket.relations.get(key)
    if found is None:
        sort, *words = key.words
        if sort == "ends":
            found = Relation(_ends(index, bucket, *words))  # type: ignore[arg-type]
        else:
            found = Relation(_at(index, bucket, *words), single=not key.is_lead)  # type: ignore[arg-type]
        bucket.relations[key] = found
    return found


def _at(
    index: Index, bucket: Bucket, view: int, terminal: str, lead: bool, limit: float | None, wanted: Filter, told: bool
) -> list[tuple[int, ...]]:
    """(row of a thing, class) for each class that a terminal is on, or reaches by its lead, and that is as wanted."""
    classes = index.class_of[view]
    if not lead or terminal not in GENERIC:
        fits = _fitting(index, view, wanted)
        if told:
            return [(row, classes[node]) for row, node in bucket.standing(terminal) if fits[node]]
        return [(row,) for row, node in bucket.standing(terminal) if fits[node]]
    found: dict[tuple[int, ...], None] = {}
    for thing in bucket.things:
        node = thing.terminals.get(terminal)
        if node is None:
            continue
        if thing.sort == "device":
            options = [(cls, at) for cls, at, _ in index.reach(view, thing, terminal, limit)]
        else:
            options = [(classes[node], node)]
        for cls, at in options:
            if _is_wanted(index, view, cls, at, wanted):
                found[(thing.row, cls) if told else (thing.row,)] = None
    return list(found)


def _ends(
    index: Index, bucket: Bucket, view: int, direction: str, left: Filter, right: Filter
) -> list[tuple[int, ...]]:
    """(row of a thing, class at the left, class at the right) for each way in which a thing may lie between."""
    classes = index.class_of[view]
    tells_left, tells_right = (wanted[0] == "joint" or len(wanted) > 2 for wanted in (left, right))
    at_left, at_right = _fitting(index, view, left), _fitting(index, view, right)
    lying = [item for item in bucket.lying(view, direction) if at_left[item[1]] and at_right[item[2]]]
    rows: list[tuple[int, ...]]
    if tells_left and tells_right:
        rows = [(row, classes[a], classes[b]) for row, a, b in lying]
    elif tells_left:
        rows = [(row, classes[a]) for row, a, _ in lying]
    elif tells_right:
        rows = [(row, classes[b]) for row, _, b in lying]
    else:
        rows = [(row,) for row, _, _ in lying]
    return list(dict.fromkeys(rows))


def _fitting(index: Index, view: int, wanted: Filter) -> list[bool]:
    """For each node whether its class in a view is as wanted."""
    return index.told((view, wanted), lambda: _told(index, view, wanted))


def _told(index: Index, view: int, wanted: Filter) -> list[bool]:
    return [_is_wanted(index, view, cls, node, wanted) for node, cls in enumerate(index.class_of[view])]


def _is_wanted(index: Index, view: int, cls: int, node: int, wanted: Filter) -> bool:
    """Whether a class is what a join needs there: the conditions of `Meeting`, but for what other joins bind."""
    if wanted[0] == "joint":
        return cls not in index.rails[view]
    if wanted[0] == "literal":
        return is_literal(index, view, cls, node, str(wanted[1]))
    sort = wanted[1]
    if sort == "any":
        return True
    if sort == "zero":
        return index.class_of[SIGNAL][node] == index.zero
    if sort == "signal":
        if view == SIGNAL:
            return cls != index.zero or bool(wanted[2])
        return cls not in index.rails[view]
    if view == SIGNAL:
        if cls != index.zero:
            return False
        view, cls = DC, index.class_of[DC][node]
    if sort == "ground":
        return cls == index.ground[view]
    return cls in index.rails[view] and (sort == "rail or ground" or cls != index.ground[view])
