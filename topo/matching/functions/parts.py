"""What is known of parts as typed: turns, cores, types, kinds, words for their terminals."""

from __future__ import annotations

import math

from topo.matching.functions.electrical import thing_of
from topo.matching.functions.registry import function
from topo.matching.kinds import GENERIC
from topo.matching.things import Pin, Thing

WORDS = {
    "bipolar": {"ctl": "base", "emt": "emitter", "col": "collector"},
    "fet": {"ctl": "gate", "emt": "source", "col": "drain"},
    "valve": {"ctl": "grid", "emt": "cathode", "col": "anode"},
}


@function("turns(winding)", unit="")
def turns(scope, thing: Thing) -> float | None:
    """Relative turns of a whole winding."""
    found = thing.handle.turns  # type: ignore[attr-defined]
    return None if any(math.isnan(item) for item in found) else float(sum(found))


@function("turns_half(winding)", unit="")
def turns_half(scope, thing: Thing) -> float | None:
    """Relative turns from the start of a tapped winding to its tap."""
    found = thing.handle.turns  # type: ignore[attr-defined]
    if len(found) < 2 or any(math.isnan(item) for item in found):
        return None
    return float(sum(found[: len(found) // 2]))


@function("tap_share(terminal)", unit="")
def tap_share(scope, pin: Pin) -> float | None:
    """Share of the turns from the middle tap to a winding's end that lie between the middle tap and an inner tap.

    `pin` is `endtap` or `othertap`; of a winding with one tap, `tap`, and the share is that of the turns from `other`
    to it.
    """
    winding = pin.thing.handle
    found = tuple(reversed(winding.turns)) if pin.thing.turned else winding.turns  # type: ignore[attr-defined]
    if any(math.isnan(item) for item in found):
        return None
    if pin.terminal == "tap" and len(found) == 2:
        return found[1] / sum(found)
    half = found[: len(found) // 2] if pin.terminal == "endtap" else found[: (len(found) - 1) // 2 : -1]
    return None if len(half) < 2 else sum(half[1:]) / sum(half)


@function("ratio(winding, winding)", unit="")
def ratio(scope, one: Thing, other: Thing) -> float | None:
    """Turns of one whole winding to those of another."""
    first, second = turns(scope, one), turns(scope, other)
    return None if first is None or not second else first / second


@function("same_core(winding, winding)")
def same_core(scope, one: Thing, other: Thing) -> bool:
    return one.elements[0] == other.elements[0]


@function("same_part(any, any)")
def same_part(scope, one, other) -> bool | None:
    first, second = thing_of(one), thing_of(other)
    return None if first is None or second is None else bool(set(first.parts) & set(second.parts))


@function("same_type(device, device)")
def same_type(scope, one: Thing, other: Thing) -> bool:
    """Whether two devices are of one type: the same type name and kind, or the same parameters."""
    first, second = (scope.graph.elements[thing.device.col[0]] for thing in (one, other))
    if first.kind != second.kind:
        return False
    names = first.part.type_name, second.part.type_name
    return names[0] == names[1] if any(names) else dict(first.params) == dict(second.params)


@function("same_make(device, device)")
def same_make(scope, one: Thing, other: Thing) -> bool:
    """Whether both are single devices, or compounds of one pattern."""
    return one.device.make == other.device.make


@function("same_polarity(device, device)")
def same_polarity(scope, one: Thing, other: Thing) -> bool:
    return one.device.polarity == other.device.polarity


@function("opposite_polarity(device, device)")
def opposite_polarity(scope, one: Thing, other: Thing) -> bool:
    """Whether one is of n and the other of p polarity; never with valves, which have but one."""
    valve = "valve" in (one.device.family, other.device.family)
    return not valve and one.device.polarity != other.device.polarity


@function("same_family(device, device)")
def same_family(scope, one: Thing, other: Thing) -> bool:
    return one.device.family == other.device.family


@function("is_n(device)")
def is_n(scope, thing: Thing) -> bool:
    """Whether a device is of n polarity (p where the pattern is turned over)."""
    return (thing.device.polarity == "n") != scope.mirrored


@function("is_kind(role, text)")
def is_kind(scope, thing: Thing, word: str) -> bool:
    """Whether a part is of a kind of the netlist language, or of a group of kinds.

    A potentiometer with its wiper joined to an end is a potentiometer and a resistor; one half of a potentiometer is
    a resistor only.
    """
    from topo.matching.kinds import BRANCH_GROUPS, DEVICE_GROUPS

    whole = [element for k in thing.elements if (element := scope.graph.elements[k]).kind != "potentiometer"]
    kinds = {thing.kind, *(scope.graph.circuit.part(ref).kind for element in whole for ref in element.members)}
    return word in kinds or bool(kinds & set(DEVICE_GROUPS.get(word, BRANCH_GROUPS.get(word, ()))))


@function("metered(role)")
def metered(scope, thing: Thing) -> bool:
    """Whether a meter has a terminal on a net on which the part, as typed, has one; ground and rails do not count."""
    circuit = scope.graph.circuit
    still = {circuit.ground, *(rail.net for rail in circuit.supplies)}
    own = {t.net for ref in thing.parts for t in circuit.part(ref).terminals} - still
    return any(part.kind == "meter" and own & {t.net for t in part.terminals} for part in circuit.parts)


@function("is_tapped(winding)")
def is_tapped(scope, thing: Thing) -> bool:
    return "tap" in thing.terminals


@function("given(any)")
def given(scope, bound) -> bool | None:
    """Whether a part's value was given and not assumed."""
    thing = thing_of(bound)
    if thing is None:
        return None
    assumed = scope.point.assumed
    has_value = thing.sort != "branch" or thing.value is not None
    return has_value and not any(part in assumed for part in thing.parts)


@function("word(terminal)", unit="words")
def word(scope, pin: Pin) -> str:
    """What the terminal of a device is called: base, gate, grid, ..."""
    if pin.thing.sort != "device":
        return pin.terminal
    return WORDS[pin.thing.device.family].get(GENERIC.get(pin.terminal, ""), pin.terminal)
