"""Whether a circuit has what a pattern's joins ask for, told by its joins alone: what fails here is not searched for.

The joins between required roles become a query on the index: a variable for each role, and one for each net or joint
in each view. Only what every match must satisfy is asked, so that a pattern whose query has no answer has no match.
Rails are no keys: a terminal that may not lie on one is in no relation, and one that has to is in a relation of its
own.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from topo.matching.buckets import Bucket
from topo.matching.candidates import Candidates
from topo.matching.constraints import Constraint
from topo.matching.holding import DIRECTED
from topo.matching.index import DC, SIGNAL, Index
from topo.matching.kinds import GENERIC
from topo.matching.meeting import RAIL_SORTS, is_literal
from topo.matching.pattern import Net, Spot
from topo.matching.relational import Atom, Plan, Query, Relation, compiled
from topo.matching.things import Thing

# What a class at a spot has to be: in a relation's key, so of plain words.
Filter = tuple[Hashable, ...]
JOINT: Filter = ("joint",)


class Structure:
    """The query of a shape's required joins; made once for a shape, whatever the circuit.

    `roles` are the roles by their variables; `unary` are roles that need a relation of one column, each atom names the
    role whose bucket its relation is made of.
    """

    def __init__(self, roles: tuple[str, ...], constraints: list[Constraint], nets: dict[str, Net]) -> None:
        self.nets = nets
        self.numbers = {role: number for number, role in enumerate(roles)}
        self.atoms: list[tuple[str, tuple[Hashable, ...], tuple[int, ...]]] = []
        self._variables = dict(self.numbers)
        self._plans: dict[tuple[int, ...], Plan | None] = {}
        for item in constraints:
            if not item.may_lack:
                self._add(item)
        pairs = [(a, b) for a in range(len(roles)) for b in range(a)]
        named = {variable for _, _, variables in self.atoms for variable in variables}
        self.differ = tuple((a, b) for a, b in pairs if a in named and b in named)

    def _variable(self, *name: Hashable) -> int:
        return self._variables.setdefault(" ".join(map(str, name)) + "\n", len(self._variables))

    def _add(self, item: Constraint) -> None:
        """The atoms of one constraint; one between two nets says nothing of a role."""
        sides = [self._side(item, spot, f"{item.number} {place}") for place, spot in enumerate((item.left, item.right))]
        if item.through:
            (left, one), (right, other) = sides
            key = ("ends", item.view, item.direction, left, right)
            ends = [variable for variable in (one, other) if variable is not None]
            self.atoms.append((item.through, key, (self.numbers[item.through], *ends)))
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
        self.atoms.append((spot.name, key, variables))

    def may_hold(self, index: Index, candidates: Candidates) -> bool:
        """Whether the query has an answer on an index."""
        relations = []
        for role, key, _ in self.atoms:
            relation = relation_of(index, candidates.bucket(role), key, candidates.mirrored)
            if not len(relation):
                return False
            relations.append(relation)
        # The order of a plan depends on how the sizes of its relations compare, roughly: one for each magnitude.
        sizes = tuple([len(relation).bit_length() for relation in relations])
        if sizes not in self._plans:
            atoms = tuple(Atom(number, variables) for number, (_, _, variables) in enumerate(self.atoms))
            self._plans[sizes] = compiled(Query(atoms, self.differ), relations, "any")
        plan = self._plans[sizes]
        return True if plan is None else plan(relations)


def relation_of(index: Index, bucket: Bucket, key: tuple[Hashable, ...], mirrored: bool) -> Relation:
    """The relation of a bucket that a key asks for; made once for an index, whatever the pattern."""
    if key[0] == "ends" and key[2] and mirrored:
        key = (*key[:2], "<" if key[2] == ">" else ">", *key[3:])
    found = bucket.relations.get(key)
    if found is None:
        if key[0] == "ends":
            found = Relation(list(dict.fromkeys(_ends(index, bucket, *key[1:]))))  # type: ignore[arg-type]
        else:
            rows = list(dict.fromkeys(_at(index, bucket, *key[1:])))  # type: ignore[arg-type]
            found = Relation(rows, single=not key[3])
        bucket.relations[key] = found
    return found


def _at(
    index: Index, bucket: Bucket, view: int, terminal: str, lead: bool, limit: float | None, wanted: Filter, told: bool
) -> Iterator[tuple[int, ...]]:
    """(row of a thing, class) for each class that a terminal is on, or reaches by its lead, and that is as wanted."""
    classes = index.class_of[view]
    for thing in bucket.things:
        node = thing.terminals.get(terminal)
        if node is None:
            continue
        if lead and thing.sort == "device" and terminal in GENERIC:
            options = [(cls, at) for cls, at, _ in index.reach(view, thing, terminal, limit)]
        else:
            options = [(classes[node], node)]
        for cls, at in options:
            if _is_wanted(index, view, cls, at, wanted):
                yield (thing.row, cls) if told else (thing.row,)


def _ends(
    index: Index, bucket: Bucket, view: int, direction: str, left: Filter, right: Filter
) -> Iterator[tuple[int, ...]]:
    """(row of a thing, class at the left, class at the right) for each way in which a thing may lie between."""
    classes = index.class_of[view]
    tells_left, tells_right = (wanted[0] == "joint" or len(wanted) > 2 for wanted in (left, right))
    for thing in bucket.things:
        terminals = thing.terminals
        if "2" not in terminals or index.is_gone(view, thing):
            continue
        for first, second in _ways(thing, direction):
            a, b = terminals[first], terminals[second]
            one, other = classes[a], classes[b]
            if _is_wanted(index, view, one, a, left) and _is_wanted(index, view, other, b, right):
                ends = (one, other) if tells_left and tells_right else (one,) if tells_left else (other,)
                yield (thing.row, *ends) if tells_left or tells_right else (thing.row,)


def _ways(thing: Thing, direction: str) -> tuple[tuple[str, str], ...]:
    if direction and thing.kind in DIRECTED:
        return (("a", "k"),) if direction == ">" else (("k", "a"),)
    return (("1", "2"), ("2", "1"))


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
