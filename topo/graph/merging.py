"""Series and parallel sets: like two-terminal parts become one branch, until nothing more can be merged."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from topo.graph.graph import Composition, Merge

CAPACITORS = ("capacitor", "electrolytic")
COILS = ("inductor", "choke")


@dataclass(eq=False)
class Branch:
    """A two-terminal part, or several merged, between two nets.

    `like` is what it may be merged with (None: nothing). `members` are (position in the file, designator), sorted.
    `polarised` are the positions of the members whose first terminal must stay told from their second.
    """

    kind: str
    like: tuple[object, ...] | None
    ends: list[str]
    made_of: Composition
    members: list[tuple[int, str]]
    polarised: list[int]

    @property
    def name(self) -> str:
        """Its name for people, the same however the members were met."""
        return composed_name(self.made_of, {ref: position for position, ref in self.members})

    def turn(self) -> None:
        """Exchanges the two ends."""
        self.ends.reverse()
        self.made_of = turned(self.made_of)

    def settle(self) -> None:
        """Puts the first end where the first terminal of the leading member lies: a polarised one, or the first."""
        leading = min(self.polarised, default=self.members[0][0])
        ref = next(ref for position, ref in self.members if position == leading)
        if _is_turned(self.made_of, ref):
            self.turn()


def merge_all(branches: list[Branch], others: dict[str, int], kept: Collection[str]) -> list[Merge]:
    """Merges like branches in parallel and in series until nothing changes; `branches` is changed in place.

    Args:
        branches: all two-terminal parts, in file order.
        others: how many terminals of other parts each net holds.
        kept: nets that no series merge may take away (ports, rails, ground).
    Returns:
        A record of each set that was merged or tied, in the order of the result.
    """
    ties: list[Merge] = []
    while True:
        ties += _drop_tied(branches)
        if not (_merge_parallel(branches) or _merge_series(branches, others, kept)):
            break
    for branch in branches:
        branch.settle()
    branches.sort(key=lambda branch: branch.members[0][0])
    merged = [_record(branch) for branch in branches if len(branch.members) > 1]
    return merged + sorted(ties, key=lambda tie: tie.parts)


def _record(branch: Branch) -> Merge:
    rule = branch.made_of.rule
    reason = "like parts about a net that holds nothing else" if rule == "series" else "like parts on the same two nets"
    return Merge(rule, tuple(ref for _, ref in branch.members), branch.name, reason)


def _drop_tied(branches: list[Branch]) -> list[Merge]:
    """Takes out every branch with both ends on one net."""
    tied = [branch for branch in branches if branch.ends[0] == branch.ends[1]]
    branches[:] = [branch for branch in branches if branch.ends[0] != branch.ends[1]]
    return [
        Merge("end tie", tuple(ref for _, ref in branch.members), "", f"both ends are on net {branch.ends[0]}")
        for branch in tied
    ]


def _merge_parallel(branches: list[Branch]) -> bool:
    """Merges all like branches that lie on the same two nets; says whether there were any."""
    groups: dict[object, list[Branch]] = {}
    for branch in branches:
        if branch.like is not None:
            groups.setdefault((branch.like, frozenset(branch.ends)), []).append(branch)
    taken: set[int] = set()
    for group in groups.values():
        for other in group[1:]:
            if other.ends != group[0].ends:
                other.turn()
        if len(group) > 1:
            taken.update(id(branch) for branch in group[1:])
            _absorb(group[0], group, _parallel_set(group))
    branches[:] = [branch for branch in branches if id(branch) not in taken]
    return bool(taken)


def _merge_series(branches: list[Branch], others: dict[str, int], kept: Collection[str]) -> bool:
    """Merges like branches in pairs about nets that hold nothing else; says whether there were any."""
    at_net: dict[str, list[Branch]] = {}
    for branch in branches:
        for net in branch.ends:
            at_net.setdefault(net, []).append(branch)
    taken: set[int] = set()
    for net, held in at_net.items():
        if net in kept or others.get(net) or len(held) != 2:
            continue
        first, second = sorted(held, key=lambda branch: branch.members[0][0])
        if first is second or first.like is None or first.like != second.like:
            continue
        if set(first.ends) == set(second.ends):
            continue
        if first.ends[1] != net:
            first.turn()
        if second.ends[0] != net:
            second.turn()
        far = second.ends[1]
        composed = _series_set(first, second, net)
        first.ends[1] = far
        _absorb(first, [first, second], composed)
        at_net[far][at_net[far].index(second)] = first
        taken.add(id(second))
    branches[:] = [branch for branch in branches if id(branch) not in taken]
    return bool(taken)


def _absorb(first: Branch, group: list[Branch], composed: Composition) -> None:
    first.members = sorted(member for branch in group for member in branch.members)
    first.polarised = sorted(position for branch in group for position in branch.polarised)
    first.kind = next((branch.kind for branch in group if branch.polarised), first.kind)
    first.made_of = composed


def _parallel_set(group: list[Branch]) -> Composition:
    """A parallel set of branches that all run the same way, nested sets made flat."""
    place = {ref: position for branch in group for position, ref in branch.members}
    sets: list[Composition] = []
    for branch in group:
        sets += branch.made_of.sets if branch.made_of.rule == "parallel" else [branch.made_of]
    sets.sort(key=lambda item: min(place[ref] for ref in refs_of(item)))
    return Composition("parallel", _total(group[0].kind, "parallel", sets), sets=tuple(sets))


def _series_set(first: Branch, second: Branch, net: str) -> Composition:
    """A series set from the first branch to the second, nested sets made flat."""
    sets: list[Composition] = []
    inner: list[tuple[str, ...]] = []
    for branch in (first, second):
        if sets:
            inner.append((net,))
        if branch.made_of.rule == "series":
            sets += branch.made_of.sets
            inner += branch.made_of.inner
        else:
            sets.append(branch.made_of)
    return Composition("series", _total(first.kind, "series", sets), sets=tuple(sets), inner=tuple(inner))


def _total(kind: str, rule: str, sets: list[Composition]) -> float | None:
    """The value of a set: conductances of resistors and coils, capacitances add in parallel; the inverse in series."""
    adds = (rule == "series") != (kind in CAPACITORS)
    values = [item.value for item in sets]
    if any(value is None for value in values):
        return None
    known = [value for value in values if value is not None]
    if adds:
        return sum(known)
    return 0.0 if any(value == 0 for value in known) else 1.0 / sum(1.0 / value for value in known)


def refs_of(made_of: Composition) -> list[str]:
    """The designators of all members of a set, from its first end to its second."""
    if made_of.rule == "part":
        return [made_of.ref]
    return [ref for item in made_of.sets for ref in refs_of(item)]


def turned(made_of: Composition) -> Composition:
    """The same set seen from its other end."""
    if made_of.rule == "part":
        return Composition("part", made_of.value, made_of.ref, not made_of.turned)
    sets = tuple(turned(item) for item in made_of.sets)
    if made_of.rule == "series":
        return Composition("series", made_of.value, sets=sets[::-1], inner=made_of.inner[::-1])
    return Composition("parallel", made_of.value, sets=sets)


def composed_name(made_of: Composition, place: dict[str, int]) -> str:
    """`R7+R8`, `C3|C4`, `R1+(R2|R3)`: members in file order whatever the order along the chain."""
    if made_of.rule == "part":
        return made_of.ref
    sets = sorted(made_of.sets, key=lambda item: min(place[ref] for ref in refs_of(item)))
    names = [composed_name(item, place) for item in sets]
    names = [name if item.rule == "part" else f"({name})" for name, item in zip(names, sets, strict=True)]
    return ("+" if made_of.rule == "series" else "|").join(names)


def _is_turned(made_of: Composition, ref: str) -> bool:
    """Whether the member's first terminal lies towards the second end."""
    if made_of.rule == "part":
        return made_of.turned
    return _is_turned(next(item for item in made_of.sets if ref in refs_of(item)), ref)
