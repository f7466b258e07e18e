"""What each role of a shape may bind by itself, before any join is looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from topo.matching.buckets import Bucket
from topo.matching.evaluating import evaluate_truth
from topo.matching.index import Index
from topo.matching.pattern import Join, Pattern, Role, Shape
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import Thing

_TURNED = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}


class Candidates:
    """The things of each role's kinds that its own condition lets pass, in file order; worked out when asked for.

    `mirrored` exchanges n and p kinds. `directed` are roles that are tried both ways round. `only` restricts a role to
    things that hold one of some designators.
    """

    def __init__(
        self,
        index: Index,
        pattern: Pattern,
        shape: Shape,
        mirrored: bool,
        directed: frozenset[str],
        only: Mapping[str, frozenset[str]],
    ) -> None:
        self.index = index
        self.pattern = pattern
        self.mirrored = mirrored
        self.only = only
        self.roles = {role.name: role for role in shape.roles}
        self.directed = directed
        self._things: dict[str, list[Thing]] = {}
        self._allowed: dict[str, frozenset[int]] = {}
        self._doubtful: dict[str, set[int]] = {}

    def bucket(self, name: str) -> Bucket:
        """The relation of a role's kinds, its own condition not looked at."""
        role = self.roles[name]
        kinds = turned_kinds(role.kinds) if self.mirrored else role.kinds
        return self.index.bucket(kinds, role.make, role.tapped, name in self.directed)

    def of(self, name: str) -> list[Thing]:
        """What a role may bind."""
        found = self._things.get(name)
        if found is None:
            role = self.roles[name]
            found = self._things[name] = [thing for thing in self.bucket(name).things if self._may_be(role, thing)]
            self._allowed[name] = frozenset(id(thing) for thing in found)
        return found

    def among(self, name: str, things: Iterable[Thing]) -> list[Thing]:
        """Those of some things that a role may bind."""
        self.of(name)
        allowed = self._allowed[name]
        return [thing for thing in things if id(thing) in allowed]

    def bind(self, state: State, name: str, thing: Thing) -> State:
        """The state with a role bound, and with a doubt noted if the role's own condition is undecided."""
        new = state.with_role(name, thing)
        doubtful = self._doubtful.get(name)
        return new.with_doubt(self.roles[name].when_text) if doubtful and id(thing) in doubtful else new

    def _may_be(self, role: Role, thing: Thing) -> bool:
        if role.name in self.only and not self.only[role.name] & set(thing.parts):
            return False
        if self._is_out_of_band(thing) and not (role.witness and self.pattern.reading.converts):
            return False
        if role.when is None:
            return True
        state = State().with_role(role.name, thing)
        truth = evaluate_truth(role.when, Scope(self.index, self.pattern, state, self.mirrored))
        if truth is None:
            self._doubtful.setdefault(role.name, set()).add(id(thing))
        return truth is not False

    def _is_out_of_band(self, thing: Thing) -> bool:
        """Whether a device belongs to other bands than the index's; what changes the band asks for one of another."""
        views = self.index.views
        if thing.sort != "device" or len(views.signals) < 2:
            return False
        bands = {band for element in thing.elements for band in views.bands_of.get(element, (0,))}
        return self.index.band not in bands


def turned_kinds(kinds: tuple[str, ...]) -> tuple[str, ...]:
    """Kinds with n and p exchanged."""
    return tuple(_TURNED.get(kind, kind) for kind in kinds)


def directed_roles(joins: Iterable[Join]) -> set[str]:
    """Roles of which joins name `end` or `other`, so that both directions have to be tried."""
    return {
        spot.name for join in joins for spot in join.spots if spot.terminal in ("end", "other", "endtap", "othertap")
    }
