"""Claims: matches seen together with what their pattern's file says of how a claim is settled."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from topo.graph.graph import Graph
from topo.matching.match import Device, Match
from topo.matching.shelf import Library
from topo.netlist.circuit import Circuit


@dataclass(frozen=True)
class Claim:
    """A match with the settling rules of its pattern.

    `kind` is "stage", "beside", "leftover" or "takes over". `stage` are the element indices of the devices
    of which it is *the* stage, `devices` those of all devices that it claims, `witnessed` those it only needs to
    exist. `given` are the designators to which it gives a role. `supposes` maps a set of device elements to
    the patterns of which one must be kept for them. `order` is its place in the file. `acts_as_one` says that
    the claim makes one device of several; `compounds` are the elements of such devices that it is the stage of.
    `also` are patterns of the same rank that fit the same devices as well. `anchored` counts the ends of its parts
    that lie on ground or a given rail by wire, not only for direct current. `parts` are all designators that it
    claims, those passed in a lead included. `exits` are the parts on the net from which what it has converted goes on.
    """

    match: Match
    kind: str
    rank: float
    sort: str
    stage: frozenset[int] = frozenset()
    devices: frozenset[int] = frozenset()
    witnessed: frozenset[int] = frozenset()
    given: frozenset[str] = frozenset()
    supposes: tuple[tuple[frozenset[int], tuple[str, ...]], ...] = ()
    order: tuple[int, ...] = ()
    compounds: Mapping[int, frozenset[int]] = field(default_factory=dict)
    acts_as_one: bool = False
    also: tuple[str, ...] = ()
    anchored: int = 0
    parts: frozenset[str] = frozenset()
    exits: frozenset[str] = frozenset()

    @property
    def pattern(self) -> str:
        """The slug of the pattern."""
        return self.match.pattern


def devices_of(match: Match, roles: Iterable[str] | None = None) -> tuple[Device, ...]:
    """Devices bound to the given roles (all roles when None), in the order of the roles."""
    wanted = match.handles if roles is None else roles
    found = [handle for role in wanted for handle in match.handles.get(role, ()) if isinstance(handle, Device)]
    return tuple(dict.fromkeys(found))


def elements_of(devices: Iterable[Device]) -> frozenset[int]:
    """Element indices of all the devices."""
    return frozenset(index for device in devices for index in device.elements)


@lru_cache(maxsize=8)
def _positions(refs: tuple[str, ...]) -> dict[str, int]:
    return {ref: position for position, ref in enumerate(refs)}


def file_positions(circuit: Circuit) -> dict[str, int]:
    """The place of each designator in the file."""
    return _positions(tuple(part.ref for part in circuit.parts))


def claim_of(match: Match, patterns: Library, graph: Graph) -> Claim:
    """The claim that a match makes, by its pattern's `reading` keys; that of a composite holds its components'."""
    pattern = patterns.get(match.pattern)
    rule = pattern.reading
    if match.components:
        return _composite_claim(match, patterns, graph)
    witnesses = {name for name, role in pattern.roles.items() if role.witness}
    own = [role for role in match.handles if role not in witnesses]
    supposes = tuple(
        (elements_of(devices_of(match, [role])), tuple(wanted))
        for role, wanted in rule.supposes
        if devices_of(match, [role])
    )
    stage = devices_of(match, [role for role in rule.stage if role in match.handles])
    given = frozenset(ref for role in own for ref in match.roles.get(role, ()))
    return Claim(
        match=match,
        kind=rule.claim,
        rank=float(rule.rank),
        sort=rule.sort,
        stage=elements_of(stage),
        devices=elements_of(devices_of(match, own)),
        witnessed=elements_of(devices_of(match, witnesses)),
        given=given,
        supposes=supposes,
        order=_order(match, graph),
        acts_as_one=bool(pattern.acts_as),
        anchored=_anchored(given, graph),
        parts=match.claimed,
        exits=_on_net(match, rule.converts[-1:], graph),
        compounds={device.index: frozenset(device.elements) for device in stage if len(device.elements) > 1},
    )


def _on_net(match: Match, names: Iterable[str], graph: Graph) -> frozenset[str]:
    """The parts on some of a match's nets."""
    nodes = [match.nets[name][1] for name in names if name in match.nets]
    return frozenset(ref for node in nodes for index, _ in graph.at_node[node] for ref in graph.elements[index].members)


def _composite_claim(match: Match, patterns: Library, graph: Graph) -> Claim:
    """The claim of a composite: what its components of its own sort hold (of a whole circuit, all of them).

    The devices of the other components are those that it serves.
    """
    rule = patterns.get(match.pattern).reading
    inner = [claim_of(component, patterns, graph) for component in match.components.values()]
    own = [claim for claim in inner if claim.sort == rule.sort] or inner
    if rule.sort == "whole":
        own = inner
    devices = frozenset[int]().union(*(claim.devices for claim in own))
    spoken_of = frozenset[int]().union(*(claim.devices | claim.witnessed for claim in inner))
    return Claim(
        match=match,
        kind=rule.claim,
        rank=float(rule.rank),
        sort=rule.sort,
        devices=devices,
        witnessed=spoken_of - devices,
        given=frozenset[str]().union(*(claim.given for claim in own)),
        order=_order(match, graph),
        parts=frozenset[str]().union(*(claim.parts for claim in own)),
    )


def _order(match: Match, graph: Graph) -> tuple[int, ...]:
    """The places in the file of all that a match claims."""
    positions = file_positions(graph.circuit)
    return tuple(sorted(positions.get(ref, 0) for ref in match.claimed))


def _anchored(given: frozenset[str], graph: Graph) -> int:
    """How many ends of the parts lie on ground or a given rail."""
    elements = {graph.element_of[ref] for ref in given if ref in graph.element_of}
    fixed = {0, *graph.rails}
    return sum(node in fixed for index in elements for node in graph.elements[index].nodes)
