"""The index of a circuit's views for matching: things by kind, and per-class tables from nets to things."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from functools import cached_property
from itertools import pairwise
from typing import Any

from topo.graph.graph import Element
from topo.matching.buckets import Bucket
from topo.matching.devices import single_devices
from topo.matching.forms import Form
from topo.matching.kinds import (
    ANY_TWO_TERMINAL,
    BRANCH_GROUPS,
    DEVICE_GROUPS,
    DIODES,
    ELECTRODES,
    GENERIC,
    WHOLE,
)
from topo.matching.match import Device
from topo.matching.things import Thing
from topo.views.leads import leads
from topo.views.view import Branch, View, Views

WIRE, DC, SIGNAL = 0, 1, 2
VIEW_NUMBERS = {"wire": WIRE, "dc": DC, "signal": SIGNAL}
VIEW_NAMES = ("wire", "dc", "signal")

# A lead's far end: class, node, and the elements passed on the way.
Reach = tuple[int, int, tuple[int, ...]]


class Index:
    """Things and tables of one circuit. One signal view at a time: `of_band` gives the index of another band."""

    def __init__(self, views: Views, band: int = 0, other: Index | None = None) -> None:
        self.views = views
        self.band = band
        self.view: tuple[View, View, View] = (views.wire, views.dc, views.signals[band])
        self.class_of = tuple(view.class_of for view in self.view)
        self.zero = self.view[SIGNAL].zero
        self.rails = (views.wire.rails, views.dc.rails, frozenset((self.zero,)))
        self.ground = tuple(classes[0] for classes in self.class_of)
        self.given_rails = tuple(frozenset(classes[node] for node in views.graph.rails) for classes in self.class_of)
        self._buckets: dict[tuple, Bucket] = {}
        self._truths: dict[tuple[Form, bool], dict] = {}
        self._told: dict[Hashable, Any] = {}
        self._reach: dict[tuple, tuple[Reach, ...]] = {}
        if other is None:
            self._atoms: dict[tuple, int] = {}
            self._rows = [0]
            self.devices: list[Thing] = [self._device(device) for device in single_devices(views)]
        else:
            self._atoms = other._atoms
            self._rows = other._rows
            self.devices = list(other.devices)

    def of_band(self, band: int) -> Index:
        """The same circuit and devices with the signal view of another band."""
        return Index(self.views, band, self)

    # -- things ---------------------------------------------------------------------------------------------------

    def _atom(self, *key) -> int:
        """The bit of an element, of one half of it, or of a winding."""
        return self._atoms.setdefault(key, 1 << len(self._atoms))

    def _device(self, device: Device) -> Thing:
        elements = self.views.graph.elements
        pins = {"ctl": device.ctl, "emt": device.emt, "col": device.col}
        first = elements[device.elements[0]]
        if device.make == "single":
            pins |= {name: (first.index, name) for name in first.terminals if name not in ("ctl", "emt", "col")}
        else:
            main = elements[device.col[0]]
            pins |= dict(zip(ELECTRODES[main.kind], (device.ctl, device.emt, device.col), strict=True))
        terminals = {name: elements[element].node(terminal) for name, (element, terminal) in pins.items()}
        kind = first.kind if device.make == "single" else self._acting_kind(device)
        atoms = 0
        for element in device.elements:
            atoms |= self._atom(element)
        key = ("device", device.make, device.elements, device.ctl, device.emt, device.col)
        return Thing(
            device.elements[0], "device", kind, device, device.elements, device.parts, pins, terminals, atoms, key
        )

    def _acting_kind(self, device: Device) -> str:
        """The kind that a compound acts as, by its family and polarity."""
        kinds = [self.views.graph.elements[element].kind for element in device.elements]
        if device.family == "bipolar":
            return "npn" if device.polarity == "n" else "pnp"
        pair = {"nmos": "pmos", "pmos": "nmos", "njfet": "pjfet", "pjfet": "njfet"}
        kind = kinds[0]
        return kind if (kind[0] == "p") == (device.polarity == "p") else pair.get(kind, kind)

    def add_device(self, device: Device) -> None:
        """Takes a compound in."""
        self.devices.append(self._device(device))
        self._buckets.clear()

    def replace_devices(self, devices: list[Thing]) -> None:
        """Keeps only these devices."""
        self.devices = devices
        self._buckets.clear()

    @cached_property
    def branches(self) -> list[Thing]:
        """Two-terminal things: single elements, halves of potentiometers, and the chains of each view."""
        found: dict[tuple, Thing] = {}
        for view in (*self.view[:2], self.view[SIGNAL]):
            for branch in (*view.branches, *view.gone):
                key = ("branch", branch.elements, branch.part_of, frozenset(branch.nodes))
                if key not in found:
                    found[key] = self._branch(branch, key)
        return sorted(found.values(), key=lambda thing: (thing.elements[0], len(thing.elements), thing.elements))

    def _branch(self, branch: Branch, key: tuple) -> Thing:
        elements = self.views.graph.elements
        ends = ((branch.elements[0], branch.terminals[0]), (branch.elements[-1], branch.terminals[1]))
        pins = {"1": ends[0], "2": ends[1]}
        if branch.kind in DIODES:
            pins |= {"a": ends[0], "k": ends[1]}
        elif branch.kind in ("capacitor", "battery", "source", "current"):
            pins |= {"+": ends[0], "-": ends[1]}
        terminals = {name: branch.nodes[0 if pin is ends[0] else 1] for name, pin in pins.items()}
        atoms = 0
        for element in branch.elements:
            halves = elements[element].kind == "potentiometer" and branch.part_of is not None
            atoms |= self._atom(element, *branch.part_of[1:]) if halves and branch.part_of else self._atom(element)
        parts = tuple(dict.fromkeys(ref for element in branch.elements for ref in elements[element].members))
        number = branch.elements[0]
        return Thing(
            number, "branch", branch.kind, branch, branch.elements, parts, pins, terminals, atoms, key, branch.value
        )

    @cached_property
    def windings(self) -> list[Thing]:
        """Windings of transformers and tapped coils, each in both directions of `end` and `other`."""
        elements = self.views.graph.elements
        found: list[Thing] = []
        for winding in self.views.graph.windings:
            element = elements[winding.element]
            if element.kind != "transformer" and len(winding.nodes) < 3:
                continue
            names = self._winding_terminals(winding, element)
            inner = winding.nodes[1:-1]
            start, finish = (element.index, names[0]), (element.index, names[-1])
            for turned in (False, True):
                pins = {"start": start, "finish": finish, "1": start, "2": finish}
                pins |= {"end": finish, "other": start} if turned else {"end": start, "other": finish}
                if len(inner) % 2:
                    pins["tap"] = (element.index, names[len(names) // 2])
                if len(inner) > 2:
                    first, last = (element.index, names[1]), (element.index, names[-2])
                    pins |= {"endtap": last, "othertap": first} if turned else {"endtap": first, "othertap": last}
                where = dict(zip(names, winding.nodes, strict=True))
                terminals = {name: where[pin[1]] for name, pin in pins.items()}
                atoms = self._atom(element.index, "winding", winding.index)
                key = ("winding", winding.index)
                found.append(
                    Thing(
                        element.index,
                        "winding",
                        "winding",
                        winding,
                        (element.index,),
                        element.members,
                        pins,
                        terminals,
                        atoms,
                        key,
                        None,
                        turned,
                    )
                )
        return found

    def _winding_terminals(self, winding, element) -> tuple[str, ...]:
        """The element's terminal names along a winding."""
        for typed in element.part.windings:
            if typed.name == winding.name:
                return tuple(typed.terminals)
        names = [name for name, node in zip(element.terminals, element.nodes, strict=True) if node in winding.nodes]
        return tuple(names[: len(winding.nodes)])

    @cached_property
    def whole_parts(self) -> list[Thing]:
        """Parts with more than two terminals that are no devices; potentiometers in both directions."""
        found: list[Thing] = []
        for element in self.views.graph.elements:
            if element.kind not in WHOLE or element.kind == "transformer":
                continue
            own = {name: (element.index, name) for name in element.terminals}
            atoms = self._atom(element.index)
            if element.kind == "potentiometer" and len(element.terminals) == 3:
                atoms |= self._atom(element.index, *element.terminals[:2])
                atoms |= self._atom(element.index, *element.terminals[1:])
            for turned, named in enumerate(self._ends(element)):
                pins = own | {name: (element.index, terminal) for name, terminal in named.items()}
                terminals = {name: element.node(pin[1]) for name, pin in pins.items()}
                found.append(
                    Thing(
                        element.index,
                        "part",
                        element.kind,
                        element,
                        (element.index,),
                        element.members,
                        pins,
                        terminals,
                        atoms,
                        ("part", element.index),
                        element.value,
                        turned,
                    )
                )
        return found

    def _ends(self, element: Element) -> list[dict[str, str]]:
        """What `end`, `other` and the like are of a whole part, in each way round: of a potentiometer its track, of a
        relay its coil, of an opaque part with two terminals off ground and rails these two, of an integrated circuit
        each terminal off ground and rails."""
        if element.kind == "potentiometer" and len(element.terminals) == 3:
            first, wiper, last = element.terminals
            track = {"end1": first, "w": wiper, "end2": last}
            return [track | {"end": first, "other": last}, track | {"end": last, "other": first}]
        if element.kind == "relay":
            first, last = element.terminals[:2]
            return [{"end": first, "other": last}, {"end": last, "other": first}]
        fixed = {0, *self.views.graph.rails}
        off = [name for name, node in zip(element.terminals, element.nodes, strict=True) if node]
        free = [name for name in off if element.node(name) not in fixed]
        if element.kind == "other" and len(off) == len(free) == len({element.node(name) for name in free}) == 2:
            return [{"end": free[0], "other": free[1]}, {"end": free[1], "other": free[0]}]
        return [{"end": name} for name in free] if element.kind == "ic" and free else [{}]

    def _junction(self, thing: Thing) -> Thing | None:
        """A diode-connected transistor as a junction, None for any other device."""
        device = thing.device
        if device.make != "single" or device.family == "valve":
            return None
        if thing.terminals["ctl"] != thing.terminals["col"]:
            return None
        joint, foot = thing.pins["ctl"], thing.pins["emt"]
        anode, cathode = (joint, foot) if device.polarity == "n" else (foot, joint)
        pins = {"a": anode, "k": cathode, "1": anode, "2": cathode}
        elements = self.views.graph.elements
        terminals = {name: elements[pin[0]].node(pin[1]) for name, pin in pins.items()}
        key = ("junction", *thing.elements)
        return Thing(
            thing.number, "branch", thing.kind, device, thing.elements, thing.parts, pins, terminals, thing.atoms, key
        )

    def truths_of(self, form: Form, mirrored: bool) -> dict:
        """What conditions of a form were found to be, by what their names are bound to; the same for every search."""
        return self._truths.setdefault((form, mirrored), {})

    def told(self, key: Hashable, tell: Callable[[], Any]) -> Any:
        """What is told of this index by a key: worked out when first asked for."""
        found = self._told.get(key)
        if found is None:
            found = self._told[key] = tell()
        return found

    # -- buckets --------------------------------------------------------------------------------------------------

    def bucket(
        self, kinds: tuple[str, ...], make: str = "", tapped: bool | None = None, both_ways: bool = True
    ) -> Bucket:
        """The things that a role of these kinds may bind, in file order, with their tables.

        `both_ways` False leaves out the turned doubles of windings and potentiometers.
        """
        key = (kinds, make, tapped, both_ways)
        found = self._buckets.get(key)
        if found is None:
            things: dict[tuple, Thing] = {}
            for kind in kinds:
                for thing in self._of_kind(kind):
                    if (
                        _is_of_make(thing, make)
                        and (tapped is None or thing.sort != "winding" or ("tap" in thing.terminals) == tapped)
                        and (both_ways or not thing.turned)
                    ):
                        things.setdefault((thing.key, thing.turned), thing)
            rows = sorted(things.values(), key=lambda thing: (thing.number, thing.elements, thing.turned))
            for thing in rows:
                if thing.row < 0:
                    thing.row = self._rows[0]
                    self._rows[0] += 1
            found = self._buckets[key] = Bucket(self, rows)
        return found

    def _of_kind(self, kind: str) -> Iterable[Thing]:
        if kind in DEVICE_GROUPS:
            group = DEVICE_GROUPS[kind]
            return [thing for thing in self.devices if thing.kind in group]
        if kind == "winding":
            return self.windings
        if kind == "transformer":
            return [thing for thing in self.windings if not thing.turned]
        if kind in WHOLE:
            return [thing for thing in self.whole_parts if thing.kind == kind]
        if kind == ANY_TWO_TERMINAL:
            return [*self.branches, *(thing for thing in self.windings if not thing.turned)]
        group = BRANCH_GROUPS[kind]
        found = [thing for thing in self.branches if thing.kind in group]
        if kind == "junction":
            found += [made for thing in self.devices if (made := self._junction(thing)) is not None]
        if kind == "load" and not any(self._is_at_output(thing) for thing in found):
            found += [thing for thing in self.branches if thing.kind == "resistor" and self._is_output_load(thing)]
        if kind == "electrolytic":
            elements = self.views.graph.elements
            found = [t for t in found if elements[t.elements[0]].part.settings.get("polarised")]
        return found

    @cached_property
    def _output_nodes(self) -> list[tuple[int, int]]:
        graph = self.views.graph
        aliases = graph.circuit.aliases
        found = []
        for port in graph.circuit.outputs:
            nets = [aliases.get(net.casefold(), net) for net in (port.net, port.reference)]
            nodes = [graph.node_of.get(net, 0 if net == graph.circuit.ground else None) for net in nets]
            if nodes[0] is not None and nodes[1] is not None:
                found.append((nodes[0], nodes[1]))
        return found

    def _is_at_output(self, thing: Thing) -> bool:
        """Whether a part is at a declared output; a loudspeaker there is the load, and no resistor beside it."""
        return any(port[0] in thing.terminals.values() for port in self._output_nodes)

    def _is_output_load(self, thing: Thing) -> bool:
        """Whether a resistor lies across a declared output."""
        if len(thing.elements) > 1:
            return False
        ends = {thing.terminals["1"], thing.terminals["2"]}
        if any(ends == set(port) for port in self._output_nodes):
            return True
        classes = self.class_of[SIGNAL]
        return any(
            port[0] in ends and all(classes[node] == self.zero for node in (*(ends - {port[0]}), port[1]))
            for port in self._output_nodes
        )

    # -- leads and presence ---------------------------------------------------------------------------------------

    def reach(self, view: int, thing: Thing, terminal: str, limit: float | None) -> tuple[Reach, ...]:
        """What a terminal reaches by `~`: its own net first, then through its lead if it is a device's."""
        element, name = thing.pins[terminal]
        generic = GENERIC.get(name) if thing.sort == "device" else None
        key = (view, element, name, generic, limit)
        found = self._reach.get(key)
        if found is None:
            node = thing.terminals[terminal]
            found = ((self.class_of[view][node], node, ()),)
            if generic is not None:
                walked = leads(self.views, self.view[view], element, name, sort=generic, limit=limit)
                found += tuple(
                    (lead.target, lead.node if lead.node >= 0 else lead.target, lead.passed)
                    for lead in walked
                    if lead.passed
                )
            self._reach[key] = found
        return found

    def is_driven(self, node: int) -> bool:
        """Whether an emitting or collecting terminal is on a node, so that nothing but a short to 0 holds it still."""
        elements = self.views.graph.elements
        return any(
            elements[element].kind in ELECTRODES and terminal in ELECTRODES[elements[element].kind][1:]
            for element, terminal in self.views.graph.at_node[node]
        )

    def is_gone(self, view: int, thing: Thing) -> bool:
        """Whether the view takes a two-terminal thing for nothing."""
        if thing.sort != "branch" or view == WIRE:
            return False
        verdicts = self.view[view].verdicts
        if view == DC and thing.kind == "capacitor":
            return True
        if len(thing.elements) > 1 and self._is_broken(view, thing):
            return True
        return any((found := verdicts.get(element)) is not None and found.fate == "open" for element in thing.elements)

    def _is_broken(self, view: int, thing: Thing) -> bool:
        """Whether a chain has a joint at 0 or on a rail in a view, and so is no chain there."""
        elements = self.views.graph.elements
        classes, rails = self.class_of[view], self.rails[view]
        for one, other in pairwise(thing.elements):
            joint = set(elements[one].nodes) & set(elements[other].nodes)
            if joint and all(classes[node] in rails for node in joint):
                return True
        return False

    def is_fixed(self, view: int, cls: int) -> bool:
        """Whether a class is 0 in the signal view, or a rail or ground in the others."""
        return cls in self.rails[view]

    def names_of(self, elements: Iterable[int]) -> tuple[str, ...]:
        """Designators of elements."""
        graph = self.views.graph
        return tuple(dict.fromkeys(ref for element in elements for ref in graph.elements[element].members))


def _is_of_make(thing: Thing, make: str) -> bool:
    if not make:
        return True
    made = thing.device.make if thing.sort == "device" else "single"
    return made != "single" if make == "compound" else made == make
