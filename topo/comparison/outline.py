"""The outline of a reading: its blocks with the devices about which each stands, and the stages in signal order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from topo.matching.match import Device
from topo.matching.pattern import Pattern
from topo.matching.shelf import Library
from topo.reading.reading import Block, Reading

# Sorts whose blocks carry the signal through devices of their own.
STAGE_SORTS = frozenset({"stage", "driver", "splitter", "output", "whole"})


@dataclass(frozen=True)
class Item:
    """A block that is made of parts, not of other blocks.

    `about` are the devices that it serves, holds or speaks of; where it speaks of none, those on its nets. `roles` are
    its own parts by role, in the order of the pattern, `leads` parts that it claims and gives no role. `witnessed` are
    roles of which a part must only exist. `is_stage` says that it is on the spine. `leading` are, of devices of several
    transistors, those that take the signal.
    """

    block: Block
    pattern: Pattern
    about: frozenset[str]
    roles: Mapping[str, tuple[str, ...]]
    witnessed: Mapping[str, tuple[str, ...]]
    leads: tuple[str, ...]
    is_stage: bool
    leading: frozenset[str] = frozenset()

    @property
    def kin(self) -> str:
        """What it has in common with its kin; the pattern's own slug where it has none."""
        return self.pattern.kin or self.pattern.slug

    @property
    def parts(self) -> tuple[str, ...]:
        """Its own parts, those with roles first."""
        with_roles = [ref for refs in self.roles.values() for ref in refs]
        return tuple(dict.fromkeys([*with_roles, *self.leads]))

    def word(self, role: str) -> str:
        """What texts call a role in the variant that matched."""
        found = self.pattern.roles_of(self.block.match.variant).get(role)
        return found.word or role if found is not None else role


@dataclass(frozen=True)
class Outline:
    """The items of a reading in the order of its blocks; `spine` are those that carry the signal, in its order.

    `wholes` are the names of what the circuit is as a whole: (pattern, name).
    """

    reading: Reading
    items: tuple[Item, ...]
    spine: tuple[Item, ...]
    wholes: tuple[tuple[Pattern, str], ...] = ()
    on_nets: Mapping[str, frozenset[str]] = field(default_factory=dict)


def outline(reading: Reading, library: Library) -> Outline:
    """The outline of a reading."""
    nets = device_nets(reading)
    items, wholes = [], []
    for block in reading.blocks:
        pattern = library.get(block.pattern)
        if block.match.components:
            if block.sort == "whole":
                wholes.append((pattern, block.name))
            continue
        items.append(_item(block, pattern, reading, nets))
    taken = [item for item in items if item.pattern.reading.claim == "takes over"]
    owned = {ref for item in taken for ref in item.block.devices}
    spine = [item for item in items if item.is_stage and (item in taken or not set(item.block.devices) & owned)]
    driven = {ref for item in spine if item.block.sort == "output" for ref in item.block.devices}
    # A splitting that the output devices do themselves is a side of the output.
    spine = [item for item in spine if item.block.sort != "splitter" or not set(item.block.devices) <= driven]
    return Outline(reading, tuple(items), tuple(_in_order(spine, reading)), tuple(wholes), nets)


def _in_order(spine: list[Item], reading: Reading) -> list[Item]:
    """Stages by their place on the signal path; those beside it behind, in the order of the reading."""
    place = {ref: number for number, step in enumerate(reading.path) for ref in step.refs}
    far = len(reading.path)

    def key(item: Item) -> tuple[int, int]:
        return min((place.get(ref, far) for ref in stage_parts(item, reading)), default=far), item.block.number

    return sorted(spine, key=key)


def stage_parts(item: Item, reading: Reading) -> tuple[str, ...]:
    """What makes an item a stage: its devices, or operational amplifiers among its parts."""
    amplifiers = [ref for ref in item.parts if reading.circuit.by_ref[ref].kind == "opamp"]
    return item.block.devices or tuple(amplifiers)


def _item(block: Block, pattern: Pattern, reading: Reading, nets: Mapping[str, frozenset[str]]) -> Item:
    roles = pattern.roles_of(block.match.variant)
    own = {name: refs for name, refs in block.roles.items() if refs and not (name in roles and roles[name].witness)}
    seen = {name: refs for name, refs in block.roles.items() if refs and name in roles and roles[name].witness}
    given = {ref for refs in own.values() for ref in refs}
    leads = tuple(ref for ref in block.parts if ref not in given)
    item = Item(block, pattern, frozenset(), own, seen, leads, False)
    about = {*block.devices, *block.serves, *_devices_bound(block, reading)}
    if not about:
        about = {device for ref in item.parts for device in nets.get(ref, ())}
    is_stage = block.sort in STAGE_SORTS and bool(stage_parts(item, reading))
    return Item(block, pattern, frozenset(about), own, seen, leads, is_stage, _leading(block, reading))


def _leading(block: Block, reading: Reading) -> frozenset[str]:
    """Designators of the devices that hold the control electrode of the devices of a block."""
    elements = reading.views.graph.elements
    devices = [thing for row in block.match.handles.values() for thing in row if isinstance(thing, Device)]
    return frozenset(ref for device in devices for ref in elements[device.ctl[0]].members)


def _devices_bound(block: Block, reading: Reading) -> set[str]:
    """Designators of the devices bound to roles of a block, those of which only the existence counts included."""
    elements = reading.views.graph.elements
    return {
        ref
        for row in block.match.handles.values()
        for thing in row
        if isinstance(thing, Device)
        for index in thing.elements
        for ref in elements[index].members
    }


def device_nets(reading: Reading) -> dict[str, frozenset[str]]:
    """For each part, the active devices that share a net with it; ground and rails join nothing."""
    from topo.matching.kinds import DEVICES

    graph = reading.views.graph
    fixed = {0, *graph.rails}
    here: dict[int, set[str]] = {}
    touched: dict[str, set[int]] = {}
    for part in reading.circuit.parts:
        nodes = {graph.node_of[t.net] for t in part.terminals if t.net in graph.node_of} - fixed
        touched[part.ref] = nodes
        if part.kind in DEVICES or part.kind == "opamp":
            for node in nodes:
                here.setdefault(node, set()).add(part.ref)
    return {
        ref: frozenset(d for node in nodes for d in here.get(node, ()) if d != ref) for ref, nodes in touched.items()
    }
