"""What each role of a shape may bind by itself, before any join is looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from topo.matching.buckets import Bucket
from topo.matching.evaluating import evaluate_truth
from topo.matching.index import Index
from topo.matching.pattern import Condition, Join, Pattern, Tree
from topo.matching.scope import Scope
from topo.matching.state import State
from topo.matching.things import Thing

if TYPE_CHECKING:
    from topo.matching.groundwork import Groundwork

_TURNED = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}


class Candidates:
    """The things of each role's kinds that its own condition lets pass, in file order; worked out when asked for.

    `mirrored` exchanges n and p kinds. `only` restricts a role to
    things that hold one of some designators. `conditions` are those of the pattern that speak of one role alone, by it.
    """

    def __init__(
        self,
        index: Index,
        pattern: Pattern,
        ground: Groundwork,
        mirrored: bool,
        only: Mapping[str, frozenset[str]],
        conditions: Mapping[str, Sequence[Condition]],
    ) -> None:
        self.index = index
        self.pattern = pattern
        self.mirrored = mirrored
        self.only = only
        self.conditions = conditions
        self.ground = ground
        self.roles = ground.roles
        self.directed = ground.directed
        self._buckets: dict[str, Bucket] = {}
        self._things: dict[str, list[Thing]] = {}
        self._allowed: dict[str, frozenset[int]] = {}
        self._doubtful: dict[str, dict[int, tuple[str, ...]]] = {}
        self._scope = Scope(index, pattern, State(), mirrored)
        self._scope.spoken = None

    def bucket(self, name: str) -> Bucket:
        """The relation of a role's kinds, its own condition not looked at."""
        found = self._buckets.get(name)
        if found is None:
            found = self._buckets[name] = self.ground.bucket_of(self.index, name, self.mirrored)
        return found

    def of(self, name: str) -> list[Thing]:
        """What a role may bind."""
        found = self._things.get(name)
        if found is None:
            found = self._things[name] = self._passing(name)
        return found

    def count(self, name: str) -> int:
        """How many things a role may bind."""
        return len(self.of(name))

    def is_restricted(self, name: str) -> bool:
        """Whether a role may not bind all things of its kinds."""
        return len(self.of(name)) < len(self.bucket(name).things)

    def among(self, name: str, things: Iterable[Thing]) -> list[Thing]:
        """Those of some things that a role may bind."""
        if not self.is_restricted(name):
            return list(things)
        allowed = self._allowed.get(name)
        if allowed is None:
            allowed = self._allowed[name] = frozenset([thing.row for thing in self.of(name)])
        return [thing for thing in things if thing.row in allowed]

    def bind(self, state: State, name: str, thing: Thing) -> State:
        """The state with a role bound, and with a doubt noted if the role's own condition is undecided."""
        new = state.with_role(name, thing)
        doubtful = self._doubtful.get(name)
        for text in doubtful.get(thing.row, ()) if doubtful else ():
            new = new.with_doubt(text)
        return new

    def _passing(self, name: str) -> list[Thing]:
        """The things of a role's kinds that pass what is asked of it alone."""
        role, things = self.roles[name], self.bucket(name).things
        if name in self.only:
            things = [thing for thing in things if self.only[name] & set(thing.parts)]
        if len(self.index.views.signals) > 1 and not (role.witness and self.pattern.reading.converts):
            things = [thing for thing in things if not self._is_out_of_band(thing)]
        if role.when is not None:
            things = self._true_ones(name, role.when, role.when_text, things)
        for condition in self.conditions.get(name, ()):
            things = self._true_ones(name, condition.tree, condition.text, things)
        return things

    def _true_ones(self, name: str, tree: Tree, text: str, things: Sequence[Thing]) -> list[Thing]:
        """Those of some things for which a condition is not false; doubts are noted."""
        truths = self.index.truths_of(self.ground.form(tree, (name,)), self.mirrored)
        scope, found = self._scope, []
        for thing in things:
            key = (thing,)
            truth = truths.get(key, truths)
            if truth is truths:
                scope.state = State().with_role(name, thing)
                truth = truths[key] = evaluate_truth(tree, scope)
            if truth is None:
                doubts = self._doubtful.setdefault(name, {})
                doubts[thing.row] = (*doubts.get(thing.row, ()), text)
            if truth is not False:
                found.append(thing)
        return found

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
