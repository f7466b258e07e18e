"""Which parts of a push-pull circuit are mirror images of each other, found from its pairs of devices outwards."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from topo.drawing.schematic.items import Rail
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS

_OPPOSITES = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}


@dataclass
class Symmetry:
    """One mirror line: `twin` maps designators both ways, `upper` are those drawn above, `middle` lie on the line.

    `swapped` are the lower parts whose first terminal answers to the upper's second. `sideways` says that the line
    stands upright: the "upper" parts are the left ones.
    """

    twin: dict[str, str] = field(default_factory=dict)
    upper: dict[str, None] = field(default_factory=dict)
    middle: dict[str, None] = field(default_factory=dict)
    swapped: dict[str, None] = field(default_factory=dict)
    nets: dict[str, str] = field(default_factory=dict)
    sideways: bool = False
    apart: Collection[frozenset[str]] = ()


def symmetries(
    circuit: Circuit,
    rails: Mapping[str, Rail],
    pairs: Iterable[tuple[str, str]],
    apart: Collection[frozenset[str]] = (),
) -> list[Symmetry]:
    """The mirror lines about some pairs of devices, in the order of the pairs; no part is in two of them.

    Two parts that are `apart` are no images of each other about a level line.
    """
    found: list[Symmetry] = []
    taken: set[str] = set()
    by_net: dict[str, list[Part]] = {}
    for part in circuit.parts:
        for net in dict.fromkeys(terminal.net for terminal in part.terminals):
            if net not in rails:
                by_net.setdefault(net, []).append(part)
    for upper, lower in (*pairs, *_about_windings(circuit)):
        if upper in taken or lower in taken or upper not in circuit.by_ref or lower not in circuit.by_ref:
            continue
        one, two = circuit.by_ref[upper], circuit.by_ref[lower]
        if two.kind not in (one.kind, _OPPOSITES.get(one.kind)) or frozenset((upper, lower)) in apart:
            continue
        into = next((item for item in found if _linked(one, two, item)), None)
        symmetry = into or Symmetry(apart=apart)
        if not _pair(symmetry, one, two, [t.name for t in two.terminals], rails):
            continue
        if into is None:
            found.append(symmetry)
        _spread(symmetry, by_net, rails, taken)
        taken.update((*symmetry.twin, *symmetry.middle))
    for one, two in _side_by_side(circuit, rails, by_net, taken):
        symmetry = Symmetry(sideways=True)
        symmetry.twin.update({one.ref: two.ref, two.ref: one.ref})
        symmetry.upper[one.ref] = None
        for a, b in zip(one.terminals, two.terminals, strict=True):
            if a.net not in rails and b.net not in rails:
                symmetry.nets.setdefault(a.net, b.net)
                symmetry.nets.setdefault(b.net, a.net)
        _spread(symmetry, by_net, rails, taken)
        symmetry.middle.clear()
        taken.update(symmetry.twin)
        found.append(symmetry)
    return found


def _about_windings(circuit: Circuit) -> list[tuple[str, str]]:
    """Pairs of like devices whose collectors are at the ends of one tapped winding."""
    found = []
    for part in circuit.parts:
        for winding in part.windings:
            if len(winding.terminals) == 3:
                ends = [part.net(winding.terminals[index]) for index in (0, 2)]
                one, two = (
                    [p for p in circuit.parts if p.kind in ELECTRODES and p.net(ELECTRODES[p.kind][2]) == end]
                    for end in ends
                )
                if len(one) == len(two) == 1 and ends[0] != ends[1] and one[0].kind == two[0].kind:
                    found.append((one[0].ref, two[0].ref))
    return found


def _side_by_side(circuit: Circuit, rails: Mapping[str, Rail], by_net: Mapping[str, list[Part]], taken: set[str]):
    """Pairs of like devices that share a tail, directly or through resistors."""
    devices = [part for part in circuit.parts if part.kind in ELECTRODES and part.ref not in taken]
    used: set[str] = set()
    for index, one in enumerate(devices):
        for two in devices[index + 1 :]:
            if one.ref in used or two.ref in used or one.kind != two.kind:
                continue
            if _share_tail(one, two, rails, by_net):
                used.update((one.ref, two.ref))
                yield one, two


def _share_tail(one: Part, two: Part, rails: Mapping[str, Rail], by_net: Mapping[str, list[Part]]) -> bool:
    ctl, emt, _ = ELECTRODES[one.kind]
    a, b = one.net(emt), two.net(emt)
    if a in rails or b in rails or one.net(ctl) == two.net(ctl):
        return False
    if a == b:
        return True
    far_a, far_b = _beyond(a, "resistor", by_net), _beyond(b, "resistor", by_net)
    return any(net not in rails and net not in (a, b) for net in far_a if net in far_b)


def _beyond(net: str, kind: str, by_net: Mapping[str, list[Part]]) -> list[str]:
    """The nets that a part of a kind joins a net to."""
    parts = [part for part in by_net.get(net, ()) if part.kind == kind]
    return [terminal.net for part in parts for terminal in part.terminals if terminal.net != net]


def _linked(one: Part, two: Part, symmetry: Symmetry) -> bool:
    """Whether a pair meets the nets of a mirror line in mirrored places."""
    return any(
        symmetry.nets.get(a.net) == b.net and a.net != b.net for a, b in zip(one.terminals, two.terminals, strict=False)
    )


def _fits(symmetry: Symmetry, a: str, b: str, rails: Mapping[str, Rail]) -> bool:
    if a in rails or b in rails:
        return a in rails and b in rails
    return symmetry.nets.get(a, b) == b and symmetry.nets.get(b, a) == a


def _on_one_supply(couples: Iterable[tuple[str, str]], rails: Mapping[str, Rail]) -> bool:
    """Whether two parts hang on the same supply: as images, one of them would hang upwards from it."""
    return any(a == b and a in rails and rails[a].symbol != "ground" for a, b in couples)


def _pair(symmetry: Symmetry, one: Part, two: Part, order: list[str], rails: Mapping[str, Rail]) -> bool:
    """Note two parts as twins, terminals by `order`; False if that contradicts what is known."""
    couples = [(a.net, two.net(b)) for a, b in zip(one.terminals, order, strict=True)]
    if not all(_fits(symmetry, a, b, rails) for a, b in couples):
        return False
    for a, b in couples:
        if a not in rails:
            symmetry.nets[a] = b
            symmetry.nets[b] = a
    symmetry.twin[one.ref] = two.ref
    symmetry.twin[two.ref] = one.ref
    symmetry.upper[one.ref] = None
    if [terminal.name for terminal in one.terminals] != order:
        symmetry.swapped[two.ref] = None
    return True


def _spread(symmetry: Symmetry, by_net: Mapping[str, list[Part]], rails: Mapping[str, Rail], taken: set[str]) -> None:
    """Go on from mirrored nets to the parts on them, until nothing is added."""
    changed = True
    while changed:
        changed = False
        for net in list(symmetry.nets):
            image = symmetry.nets[net]
            for part in by_net.get(net, ()):
                if part.ref in symmetry.twin or part.ref in symmetry.middle or part.ref in taken:
                    continue
                if _lies_across(part, symmetry, rails):
                    symmetry.middle[part.ref] = None
                    changed = True
                elif net != image:
                    upward = _is_upper(symmetry, net)
                    changed |= _find_twin(symmetry, part, net, image, by_net, rails, taken, upward)


def _is_upper(symmetry: Symmetry, net: str) -> bool:
    """Whether a net is on the upper side: it was noted before its image."""
    order = list(symmetry.nets)
    return order.index(net) < order.index(symmetry.nets[net])


def _lies_across(part: Part, symmetry: Symmetry, rails: Mapping[str, Rail]) -> bool:
    """Whether a part is its own mirror image: a winding with both ends, or a part between a net and its image."""
    if part.windings:
        for winding in part.windings:
            nets = [part.net(name) for name in winding.terminals]
            if symmetry.nets.get(nets[0]) == nets[-1] != nets[0]:
                for one in part.windings:
                    own = [part.net(name) for name in one.terminals]
                    for a, b in zip(own, reversed(own), strict=True):
                        if len(own) > 2 and a not in rails and b not in rails and a not in symmetry.nets:
                            symmetry.nets[a] = b
                            symmetry.nets.setdefault(b, a)
                return True
        return False
    if len(part.terminals) != 2:
        return False
    a, b = (terminal.net for terminal in part.terminals)
    return a != b and symmetry.nets.get(a) == b


def _find_twin(symmetry, part: Part, net: str, image: str, by_net, rails, taken, upward: bool) -> bool:
    if part.windings:
        return False
    found = []
    for other in by_net.get(image, ()):
        kinds = (part.kind, _OPPOSITES.get(part.kind)) if part.kind in GROUPS["amplifying"] else (part.kind,)
        if other.ref == part.ref or other.ref in symmetry.twin or other.ref in taken or other.kind not in kinds:
            continue
        if frozenset((part.ref, other.ref)) in symmetry.apart:
            continue
        if other.value != part.value or len(other.terminals) != len(part.terminals):
            continue
        names = [terminal.name for terminal in other.terminals]
        orders = [names] if len(names) != 2 else [names, names[::-1]]
        for order in orders:
            couples = [(a.net, other.net(b)) for a, b in zip(part.terminals, order, strict=True)]
            if len(names) == 2 and not symmetry.sideways and _on_one_supply(couples, rails):
                continue
            if (net, image) in couples and all(_fits(symmetry, a, b, rails) for a, b in couples):
                found.append((other, order))
                break
    if len(found) != 1:
        return False
    other, order = found[0]
    if upward:
        return _pair(symmetry, part, other, order, rails)
    return False
