"""Which part of one block corresponds to which part of another: role by role."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import permutations

from topo.comparison.outline import Item
from topo.netlist.circuit import Circuit, Part

# More roles than this in one symmetry are compared in the order of the file only.
_MOST_SIDES = 4


@dataclass
class Counterparts:
    """The parts that have a counterpart so far, from A to B and from B to A."""

    to_second: dict[str, str] = field(default_factory=dict)
    to_first: dict[str, str] = field(default_factory=dict)

    def add(self, first: str, second: str) -> bool:
        """Pairs two parts, unless one of them is paired already."""
        if first in self.to_second or second in self.to_first:
            return False
        self.to_second[first] = second
        self.to_first[second] = first
        return True

    def agree(self, first: str, second: str) -> int:
        """1 where two parts are paired already, -1 where one of them is paired with another, 0 where neither is."""
        if self.to_second.get(first) == second:
            return 1
        return -1 if first in self.to_second or second in self.to_first else 0


Pair = tuple[str, str, str, str]
"""Designator in A, designator in B, role in A, role in B."""


def paired(a: Item, b: Item, one: Circuit, two: Circuit, known: Counterparts) -> list[Pair]:
    """Pairs the parts of two blocks that have equal roles, and remembers them; sides of a symmetry as fits best."""
    best: list[Pair] = []
    most = None
    for exchange in _exchanges(a, b):
        pairs = list(_by_role(a, b, exchange, one, two))
        worth = sum(_worth(pair, one, two, known) for pair in pairs) + sum(
            3 * known.agree(x, y) for x, y in _witnesses(a, b, exchange)
        )
        if most is None or worth > most:
            best, most = pairs, worth
    return [pair for pair in best if known.add(pair[0], pair[1])]


def _worth(pair: Pair, one: Circuit, two: Circuit, known: Counterparts) -> float:
    first, second = one.by_ref[pair[0]], two.by_ref[pair[1]]
    alike = first.value == second.value and first.type_name == second.type_name
    return 1 + 3 * known.agree(first.ref, second.ref) + (0.1 if alike else 0)


def _exchanges(a: Item, b: Item) -> Iterator[Mapping[str, str]]:
    """Ways to exchange the roles of B that its symmetry allows, the plain one first: name in B for the name read."""
    sets = b.pattern.symmetry
    size = len(sets[0]) if sets else 0
    if not size or size > _MOST_SIDES:
        yield {}
        return
    for order in permutations(range(size)):
        yield {names[place]: names[other] for names in sets for place, other in enumerate(order)}


def _by_role(a: Item, b: Item, exchange: Mapping[str, str], one: Circuit, two: Circuit) -> Iterator[Pair]:
    """Pairs of parts by the name of the role, then by the stage's devices, by the role's word, and by being the
    only ones of their kind."""
    left = dict(a.roles)
    right = dict(b.roles)
    matched: list[tuple[str, str]] = []

    def take(mine: str, theirs: str) -> None:
        matched.append((mine, theirs))
        del left[mine], right[theirs]

    for role in list(left):
        other = exchange.get(role, role)
        if other in right and _may_pair(left[role], right[other], one, two):
            take(role, other)
    if a.pattern.slug != b.pattern.slug:
        stages = zip(a.pattern.reading.stage, b.pattern.reading.stage, strict=False)
        for mine, theirs in stages:
            if mine in left and exchange.get(theirs, theirs) in right:
                take(mine, exchange.get(theirs, theirs))
        for role in list(left):
            same_word = next((name for name in right if a.word(role) == b.word(name)), None)
            if same_word is not None and _may_pair(left[role], right[same_word], one, two):
                take(role, same_word)
        for role, other in list(_only_ones(left, right, one, two)):
            take(role, other)
    for mine, theirs in matched:
        first, second = _of_kinds(a.roles[mine], one, a.leading), _of_kinds(b.roles[theirs], two, b.leading)
        for x, y in _kind_by_kind(first, second):
            yield x, y, a.word(mine), b.word(theirs)


def paired_leads(a: Item, b: Item, one: Circuit, two: Circuit, known: Counterparts) -> list[Pair]:
    """Pairs parts that only stand in leads of two blocks, by their kind, and remembers them."""
    found: list[Pair] = []
    for ref in a.leads:
        kind = kind_of(one.by_ref[ref])
        other = next((x for x in b.leads if kind_of(two.by_ref[x]) == kind and not known.agree(ref, x)), None)
        if other is not None and known.add(ref, other):
            found.append((ref, other, "in a lead", "in a lead"))
    return found


def _only_ones(
    left: Mapping[str, tuple[str, ...]], right: Mapping[str, tuple[str, ...]], one: Circuit, two: Circuit
) -> Iterator[tuple[str, str]]:
    """Roles whose parts are the only ones of their kind among those that are left, on both sides."""
    mine: dict[str, list[str]] = {}
    theirs: dict[str, list[str]] = {}
    for roles, circuit, kinds in ((left, one, mine), (right, two, theirs)):
        for role, refs in roles.items():
            kinds.setdefault(kind_of(circuit.by_ref[refs[0]]), []).append(role)
    for kind, roles_here in mine.items():
        if len(roles_here) == len(theirs.get(kind, ())) == 1:
            yield roles_here[0], theirs[kind][0]


def _may_pair(first: tuple[str, ...], second: tuple[str, ...], one: Circuit, two: Circuit) -> bool:
    """Whether parts of two roles are of one kind: a resistor and a diode are not, whatever the role's name."""
    return bool({kind_of(one.by_ref[ref]) for ref in first} & {kind_of(two.by_ref[ref]) for ref in second})


def _kind_by_kind(mine: dict[str, list[str]], theirs: dict[str, list[str]]) -> Iterator[tuple[str, str]]:
    """Parts of two roles, those of one kind together."""
    for kind, refs in mine.items():
        yield from zip(refs, theirs.get(kind, ()), strict=False)


def _of_kinds(refs: tuple[str, ...], circuit: Circuit, leading: frozenset[str]) -> dict[str, list[str]]:
    """Parts of one role by kind, those that lead first, then by their values: the order in the file does not matter."""

    def key(ref: str) -> tuple[bool, str, float, str]:
        part = circuit.by_ref[ref]
        return ref not in leading, part.kind, part.value or 0.0, part.type_name or ""

    found: dict[str, list[str]] = {}
    for ref in sorted(refs, key=key):
        found.setdefault(kind_of(circuit.by_ref[ref]), []).append(ref)
    return found


def _witnesses(a: Item, b: Item, exchange: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Parts of corresponding roles that only have to exist."""
    for role, refs in a.witnessed.items():
        other = b.witnessed.get(exchange.get(role, role), ())
        yield from zip(refs, other, strict=False)


_KIN_OF_KINDS = {
    **dict.fromkeys(
        ("npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode"), "amplifying device"
    ),
    **dict.fromkeys(("diode", "rectifier", "led", "zener"), "diode"),
    **dict.fromkeys(("inductor", "choke"), "coil"),
    **dict.fromkeys(("speaker", "headphones", "antenna", "lamp"), "load"),
    "potentiometer": "potentiometer",
}


def kind_of(part: Part) -> str:
    """The kind of a part without its polarity and make: what may do the same work."""
    return _KIN_OF_KINDS.get(part.kind, part.kind)
