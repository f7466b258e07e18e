"""Compound devices: what patterns with `acts as` find, as devices that serve wherever a single one does."""

from __future__ import annotations

from collections.abc import Iterable

from topo.matching.finding import find_matches
from topo.matching.index import Index
from topo.matching.match import Device, Match
from topo.matching.pattern import Pattern

# A compound of compounds of compounds: deeper ones are not built in practice.
MOST_ROUNDS = 4
MOST_COMPOUNDS = 200


def add_compounds(index: Index, patterns: Iterable[Pattern]) -> None:
    """Adds compounds to the devices of an index, over and over until no new one is found.

    Of the compounds of one pattern, one whose devices are all in a larger one of the same pattern is left out.
    """
    makers = [pattern for pattern in patterns if pattern.acts_as]
    for _ in range(MOST_ROUNDS):
        known = {_key(thing.device) for thing in index.devices}
        found = [
            device
            for pattern in makers
            for match in find_matches(index, pattern)
            if (device := _device(index, pattern, match))
        ]
        fresh = {_key(device): device for device in found if _key(device) not in known}
        if not fresh or len(index.devices) + len(fresh) > MOST_COMPOUNDS:
            break
        for device in fresh.values():
            index.add_device(device)
    _leave_out_parts_of_larger(index)


def _leave_out_parts_of_larger(index: Index) -> None:
    sets = [(thing.device.make, set(thing.elements)) for thing in index.devices]
    kept = [
        thing
        for thing in index.devices
        if thing.device.make == "single"
        or not any(make == thing.device.make and set(thing.elements) < elements for make, elements in sets)
    ]
    if len(kept) < len(index.devices):
        index.replace_devices(kept)


def _key(device: Device) -> tuple:
    """Two compounds of the same devices with the same terminals are one."""
    return tuple(sorted(device.elements)), device.polarity, device.ctl, device.emt, device.col


def _device(index: Index, pattern: Pattern, match: Match) -> Device | None:
    """The device as which a match acts; None where a role that it names is not bound."""
    handles = {
        name: next(
            (handle for handle in match.handles.get(name.partition(".")[0], ()) if isinstance(handle, Device)), None
        )
        for name in pattern.acts_as.values()
    }
    if any(handle is None for handle in handles.values()):
        return None

    def terminal(key: str) -> tuple[int, str]:
        word = pattern.acts_as[key]
        return getattr(handles[word], word.partition(".")[2])

    witnesses = {role.name for role in pattern.roles.values() if role.witness}
    own = [bound for name, bound in match.handles.items() if name not in witnesses]
    members = [handle for bound in own for handle in bound if isinstance(handle, Device)]
    elements = tuple(sorted({element for member in members for element in member.elements}))
    lead = handles[pattern.acts_as["polarity"]]
    assert lead is not None
    parts = index.names_of(elements)
    states = {member.state for member in members}
    return Device(
        index=len(index.devices),
        name="+".join(parts),
        polarity=lead.polarity,
        family=lead.family,
        make=pattern.slug,
        elements=elements,
        parts=parts,
        ctl=terminal("ctl"),
        emt=terminal("emt"),
        col=terminal("col"),
        state=_state(states),
    )


def _state(states: set[str]) -> str:
    """The state of a compound: on if all its devices are, off or saturated if one is."""
    if "" in states:
        return ""
    for word in ("off", "reversed", "saturated"):
        if word in states:
            return word
    return "on"
