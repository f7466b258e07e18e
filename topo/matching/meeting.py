"""Whether two spots of a join meet in a view, and what a net may be bound to.

Two terminals that meet only at 0 (signal view), on a rail or on ground are not joined. A net keeps one class in each
view in which it is named; the classes of different views belong together when they share a node. Where a net is 0 in
the signal view, a terminal is on it only if it also is in a view that tells the net from the rest of 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.matching.index import DC, SIGNAL, WIRE, Index, Reach
from topo.matching.pattern import Net, Spot
from topo.matching.state import State
from topo.matching.things import Thing

RAIL_SORTS = ("rail", "ground", "rail or ground")
VIEWS = (WIRE, DC, SIGNAL)


class Meeting:
    """The rules of joining for one pattern on one index."""

    def __init__(
        self,
        index: Index,
        nets: Mapping[str, Net],
        coincide: frozenset[frozenset[str]],
        distinct: frozenset[frozenset[str]],
        views_of: Mapping[str, set[int]],
    ) -> None:
        self.index = index
        self.nets = nets
        self.coincide = coincide
        self.distinct = distinct
        self.views_of = views_of

    def stand(
        self, state: State, view: int, node: int, pin: tuple[int, str] | None, spot: Spot, weak: bool
    ) -> State | None:
        """The state in which a terminal that is on a node, `pin` by its element and name, meets a spot; None if not.

        `weak` is for joins of optional roles, which do not forbid a net to be 0.
        """
        index = self.index
        cls = index.class_of[view][node]
        if spot.sort == "net":
            return self.bind(state, spot.name, view, cls, node, weak)
        if spot.sort == "literal":
            return state if is_literal(index, view, cls, node, spot.name) else None
        other = state.roles[spot.name]
        assert other is not None
        at = other.terminals.get(spot.terminal)
        if at is None or index.class_of[view][at] != cls or cls in index.rails[view]:
            return None
        return None if other.pins.get(spot.terminal) == pin else state

    def reach(self, state: State, number: int, view: int, thing: Thing, spot: Spot, other: Spot,
              limit: float | None, weak: bool) -> Sequence[State]:  # fmt: skip
        """States in which a terminal, through its lead or not, meets another spot, a terminal of which does the same.

        There are several where a free net may be bound to several classes. What the leads pass is noted by `number`.
        """
        options = self._reached(view, thing, spot.terminal, limit)
        if other.sort == "terminal":
            far = state.roles[other.name]
            assert far is not None
            if thing.pins.get(spot.terminal) == far.pins.get(other.terminal):
                return ()
            found = self._shared(view, options, self._reached(view, far, other.terminal, limit))
            return () if found is None else (state.with_passed(number, found) if found else state,)
        if other.sort == "literal":
            for cls, node, passed in options:
                if is_literal(self.index, view, cls, node, other.name):
                    return (state.with_passed(number, passed) if passed else state,)
            return ()
        met: list[State] = []
        for cls, node, passed in options:
            new = self.bind(state, other.name, view, cls, node, weak)
            if new is not None:
                met.append(new.with_passed(number, passed) if passed else new)
                if new is state:
                    break
        return met

    def _reached(self, view: int, thing: Thing, terminal: str, limit: float | None) -> tuple[Reach, ...]:
        return self.index.reach(view, thing, terminal, limit) if terminal in thing.terminals else ()

    def _shared(self, view: int, some: tuple[Reach, ...], others: tuple[Reach, ...]) -> tuple[int, ...] | None:
        """What two leads pass to meet on a net that is neither 0 nor a rail; None if they do not."""
        rails = self.index.rails[view]
        for cls, _, passed in some:
            if cls not in rails:
                for other_cls, _, other_passed in others:
                    if cls == other_cls:
                        return (*passed, *(item for item in other_passed if item not in passed))
        return None

    def meet_nets(self, state: State, view: int, one: Spot, other: Spot, weak: bool) -> Sequence[State]:
        """States in which two nets, or a net and a literal, are one."""
        if one.sort != "net" or (other.sort == "net" and not self.net_options(state, one.name, view)):
            one, other = other, one
        met: list[State] = []
        for cls, node in self.net_options(state, one.name, view):
            if other.sort == "literal":
                if is_literal(self.index, view, cls, node, other.name):
                    return (state,)
                continue
            first = self.bind(state, one.name, view, cls, node, weak)
            second = None if first is None else self.bind(first, other.name, view, cls, node, weak)
            if second is not None:
                met.append(second)
        return met

    def net_options(self, state: State, name: str, view: int) -> list[tuple[int, int]]:
        """The classes of a view that a net may have, with a node of each: what it is bound to, or what follows."""
        bound = state.nets.get((name, view))
        if bound is not None:
            return [bound]
        classes = self.index.class_of[view]
        found: dict[int, int] = {}
        for other in VIEWS:
            bound = state.nets.get((name, other))
            if bound is not None:
                for node in (bound[1], *self.index.view[other].members[bound[0]]):
                    found.setdefault(classes[node], node)
        return list(found.items())

    # -- nets -----------------------------------------------------------------------------------------------------

    def bind(self, state: State, name: str, view: int, cls: int, node: int, weak: bool) -> State | None:
        """The state with a net on a class of a view; the same state if it already is there, None if it cannot be."""
        net = self.nets[name]
        index = self.index
        if view == SIGNAL and net.sort in RAIL_SORTS:
            if cls != index.zero:
                return None
            view, cls = DC, index.class_of[DC][node]
        bound = state.nets.get((name, view))
        if bound is not None:
            if bound[0] != cls or (
                view == SIGNAL and cls == index.zero and not self._tells_apart(state, net, bound, node)
            ):
                return None
            return state
        if not self._is_of_sort(state, net, view, cls, node, weak) or not self._fits(state, net, view, cls, node):
            return None
        new = state.with_net(name, view, cls, node)
        if net.held and self.index.is_driven(node) and not self.is_still(new, name):
            return None
        return None if self._coincides(new, net, view, cls) else new

    def _tells_apart(self, state: State, net: Net, bound: tuple[int, int], node: int) -> bool:
        """Whether a node at 0 is on a net that is 0 too, by another view."""
        if net.sort in ("any", "zero"):
            return True
        classes = self.index.class_of
        others = [(view, found) for view in (WIRE, DC) if (found := state.nets.get((net.name, view))) is not None]
        if not others:
            return classes[DC][node] == classes[DC][bound[1]]
        return all(classes[view][node] == found[0] for view, found in others)

    def _is_of_sort(self, state: State, net: Net, view: int, cls: int, node: int, weak: bool) -> bool:
        index = self.index
        if net.sort == "any":
            return True
        if net.sort == "zero":
            return index.class_of[SIGNAL][node] == index.zero
        if net.sort == "signal":
            if view == SIGNAL:
                return cls != index.zero or net.held or weak
            return cls not in index.rails[view]
        if net.sort == "ground":
            return cls == index.ground[view]
        return cls in index.rails[view] and (net.sort == "rail or ground" or cls != index.ground[view])

    def _fits(self, state: State, net: Net, view: int, cls: int, node: int) -> bool:
        """Whether a class agrees with what the net is in other views."""
        index = self.index
        for other in VIEWS:
            bound = state.nets.get((net.name, other)) if other != view else None
            if bound is None or index.class_of[other][node] == bound[0]:
                continue
            if SIGNAL in (view, other) and net.sort != "any" and (cls if view == SIGNAL else bound[0]) == index.zero:
                return False
            classes = index.class_of[view]
            if not any(classes[member] == cls for member in index.view[other].members[bound[0]]):
                return False
        return True

    def is_still(self, state: State, name: str) -> bool:
        """Whether a net is 0 in the signal view."""
        classes = self.index.class_of[SIGNAL]
        for view, (cls, node) in state.net(name).items():
            if classes[node] == self.index.zero:
                return True
            if view != SIGNAL and any(
                classes[member] == self.index.zero for member in self.index.view[view].members[cls]
            ):
                return True
        return False

    def _coincides(self, state: State, net: Net, view: int, cls: int) -> bool:
        """Whether a net just bound is one that must be another."""
        for (name, other_view), (other_cls, _) in state.nets.items():
            if other_view == view and other_cls == cls and name != net.name and not self._may_coincide(net.name, name):
                common = self.views_of.get(net.name, {view}) & self.views_of.get(name, {view})
                known = {v for v in VIEWS if (net.name, v) in state.nets and (name, v) in state.nets}
                if common <= known and self.is_one_net(state, net.name, name):
                    return True
        return False

    def _may_coincide(self, one: str, other: str) -> bool:
        pair = frozenset((one, other))
        if pair in self.distinct:
            return False
        return pair in self.coincide or "any" in (self.nets[one].sort, self.nets[other].sort)

    def is_one_net(self, state: State, one: str, other: str) -> bool:
        """Whether two nets are the same class in every view in which both are bound (0 does not count)."""
        same = False
        for view in VIEWS:
            first, second = state.nets.get((one, view)), state.nets.get((other, view))
            if first is None or second is None or (view == SIGNAL and first[0] == second[0] == self.index.zero):
                continue
            if first[0] != second[0]:
                return False
            same = True
        return same

    def all_distinct(self, state: State) -> bool:
        """Whether nets of different names are different nets, where they have to be."""
        names = list(dict.fromkeys(name for name, _ in state.nets))
        return not any(
            self.is_one_net(state, one, other)
            for i, one in enumerate(names)
            for other in names[:i]
            if not self._may_coincide(one, other)
        )


def is_literal(index: Index, view: int, cls: int, node: int, word: str) -> bool:
    """Whether a class of a view, met at a node, is `0`, `gnd`, `rail` or `supply`."""
    if word == "0":
        return index.class_of[SIGNAL][node] == index.zero
    if view == SIGNAL:
        view, cls = DC, index.class_of[DC][node]
    if word == "gnd":
        return cls == index.ground[view]
    if word == "supply":
        return cls in index.given_rails[view]
    return cls in index.rails[view] and cls != index.ground[view]
