"""Leads: what a device's terminal reaches through the parts that may stand in its lead.

There are four sorts of lead, with limits of their own: at a control terminal a signal lead (a stopper) in the wire
and signal views and a bias lead (a grid leak, a base resistor) in the DC view; an emitter lead; a collector lead.
A lead is one part deep (two resistors in a bias lead), or a few parts about nets that hold nothing else; it starts
at no rail, so that it never goes into ground and out again elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from topo.views.kinds import BIPOLAR, DEVICES, FETS, VALVES, electrodes
from topo.views.view import Branch, Lead, View, Views

BIAS_DROP = 0.05
"""Volts that a control terminal's lead may drop at DC (common practice: far below VT times a few)."""
BASE_DROP, BASE_OHM = 0.15, 47.0
"""The same where all that is passed is as small as this: the base of a power stage, whose current is not."""
EMITTER_DROP, EMITTER_OHM = 0.25, 100.0
COLLECTOR_SHARE, COLLECTOR_OHM_TO_RAIL, COLLECTOR_OHM = 0.10, 330.0, 100.0
STOPPER_TRANSFER, SMALL_STOPPER_TRANSFER, SMALL_STOPPER_OHM = 0.5, 0.15, 100.0
STRAY_FARAD = 50e-12
"""A capacitor below this on a stopper's inner net is part of the stopper (common practice)."""
POSITION_OHM = {"bipolar": 1e3, "fet": 1e3, "valve": 100e3}
"""Largest stopper where voltages are not known, by family of device (common practice)."""
LEAD_COILS = frozenset({"bead", "inductor"})


def leads(
    views: Views, view: View, element: int, terminal: str, *, sort: str, limit: float | None = None
) -> tuple[Lead, ...]:
    """The nets that a terminal reaches through its lead; the first is its own net, with nothing passed.

    Args:
        view: the view to walk in; its classes are the targets.
        sort: "ctl", "emt" or "col", the sort of lead.
        limit: the largest drop in volts that an emitter or collector lead may have, in place of the usual one.
    """
    number = next((i for i, other in enumerate(views.signals) if other is view), 0)
    key = (view.name, number, element, terminal, sort, limit)
    found = views.lead_table.get(key)
    if found is None:
        found = views.lead_table[key] = _leads(_Walk(views, view, number, element, terminal, limit), sort)
    return found


class _Walk:
    """One walk: the terminal, the view, and the classes where it must not end."""

    def __init__(self, views: Views, view: View, number: int, element: int, terminal: str, limit: float | None) -> None:
        self.views, self.view, self.limit = views, view, limit
        self.number = number
        self.part = views.graph.elements[element]
        self.terminal = terminal
        self.node = self.part.node(terminal)
        self.start = view.class_of[self.node]
        own = [self.part.node(t) for t in self.part.terminals if t != terminal]
        self.own_nodes = tuple(own)
        self.own = frozenset(view.class_of[node] for node in own)

    def is_fixed(self, cls: int) -> bool:
        """Whether a class is a rail, ground, or 0."""
        return cls == self.view.zero or cls in self.view.rails

    def is_own(self, cls: int, node: int) -> bool:
        """Whether a class is, here or in a signal view, another electrode of the same device."""
        if cls in self.own and not self.is_fixed(cls):
            return True
        return any(
            other.class_of[node] != other.zero
            and any(other.class_of[node] == other.class_of[own] for own in self.own_nodes)
            for other in self.views.signals
        )

    def drop(self, far: int) -> float:
        """|volts| at DC between the terminal and a node."""
        volts = self.views.point.volts
        return abs(volts[self.node] - volts[far])

    def onward(self, cls: int) -> Iterator[tuple[Branch, int, int]]:
        """Branches at a class, each with the class and node at its other end; chains before their parts."""
        for position in self.view.branches_at.get(cls, ()):
            branch = self.view.branches[position]
            side = 1 if branch.ends[0] == cls else 0
            yield branch, branch.ends[side], branch.nodes[side]

    def holds_only(self, cls: int, passed: tuple[int, ...]) -> bool:
        """Whether a class holds nothing but one end of what was passed, one part more, and strays."""
        others = 0
        for node in self.view.members[cls]:
            for element, _ in self.views.graph.at_node[node]:
                part = self.views.graph.elements[element]
                if element in passed or (part.kind == "capacitor" and (part.value or 1.0) <= STRAY_FARAD):
                    continue
                if element in self.view.present or part.kind == "capacitor":
                    others += 1
        return others <= 1 and not self.is_fixed(cls)


def _leads(walk: _Walk, sort: str) -> tuple[Lead, ...]:
    found = {walk.start: Lead(walk.start, (), 0.0, walk.node)}
    if not walk.is_fixed(walk.start):
        if sort == "ctl" and walk.view.name == "dc":
            steps = _bias_leads(walk)
        elif sort == "ctl":
            steps = _series_leads(walk, _passes_signal)
        elif sort == "emt":
            steps = _series_leads(walk, _passes_emitter)
        else:
            steps = _series_leads(walk, _passes_collector)
        for lead in steps:
            found.setdefault(lead.target, lead)
    return tuple(found.values())


def _series_leads(walk: _Walk, passes) -> Iterator[Lead]:
    """Leads of one part, and of up to three about nets that hold nothing else."""
    reached: list[tuple[int, tuple[int, ...]]] = [(walk.start, ())]
    seen = {walk.start}
    for _ in range(3):
        further: list[tuple[int, tuple[int, ...]]] = []
        for cls, passed in reached:
            for branch, far, node in walk.onward(cls):
                if far in seen or any(item in passed for item in branch.elements):
                    continue
                verdict = passes(walk, branch, cls, far, node)
                if verdict is None:
                    continue
                seen.add(far)
                through = (*passed, *branch.elements)
                yield Lead(far, through, walk.drop(node), node, verdict)
                if walk.holds_only(far, through):
                    further.append((far, through))
        reached = further


def _bias_leads(walk: _Walk) -> Iterator[Lead]:
    """Leads of one resistor, then of two, that drop next to nothing at DC and end on no rail."""
    reached: list[tuple[int, tuple[int, ...]]] = [(walk.start, ())]
    seen = {walk.start}
    for _ in range(2):
        further: list[tuple[int, tuple[int, ...]]] = []
        for cls, passed in reached:
            for branch, far, node in walk.onward(cls):
                if far in seen or branch.kind not in ("resistor", "thermistor"):
                    continue
                if walk.is_fixed(far) or far in walk.own:
                    continue
                drop = walk.drop(node)
                assumed = math.isnan(drop)
                if assumed and walk.part.kind in BIPOLAR and (branch.value or 0.0) > POSITION_OHM["bipolar"]:
                    continue
                through = (*passed, *branch.elements)
                if drop > (BASE_DROP if _are_small(walk, through) else BIAS_DROP):
                    continue
                seen.add(far)
                yield Lead(far, through, drop, node, assumed)
                further.append((far, through))
        reached = further


def _are_small(walk: _Walk, elements: tuple[int, ...]) -> bool:
    """Whether elements are resistors, each small enough for the base lead of a power transistor."""
    if walk.part.kind not in BIPOLAR:
        return False
    parts = [walk.views.graph.elements[index] for index in elements]
    return all(part.kind == "resistor" and part.value is not None and part.value <= BASE_OHM for part in parts)


def _passes_signal(walk: _Walk, branch: Branch, cls: int, far: int, node: int) -> bool | None:
    """Whether a signal lead goes on through a branch: None if not, else whether that is assumed.

    A bead is put into a lead so as not to matter in the band, and passes whatever impedance it is given.
    """
    if walk.is_fixed(far) or walk.is_own(far, node):
        return None
    small = branch.kind == "resistor" and branch.value is not None and branch.value <= SMALL_STOPPER_OHM
    plain = (small and branch.part_of is None) or branch.kind == "bead"
    if plain and walk.views.point.states.get(walk.part.index) == "saturated":
        # A closed switch's base is held by its own junctions: what moves with what says nothing there.
        return False if walk.drop(node) <= BIAS_DROP else None
    signal = walk.views.signals[walk.number]
    if signal.class_of[node] == signal.zero:
        return None
    if branch.kind == "capacitor":
        if branch.fate != "shaping" or branch.is_chain:
            return None
    elif branch.kind not in LEAD_COILS and (branch.kind != "resistor" or branch.part_of is not None):
        return None
    drop = walk.drop(node)
    if branch.kind != "capacitor" and drop > (BASE_DROP if _are_small(walk, branch.elements) else BIAS_DROP):
        return None
    if branch.kind == "bead":
        return branch.value is None
    if branch.kind == "bead":
        return math.isnan(drop)
    transfer = walk.views.transfer(node, walk.node, walk.number)
    if transfer is None or (branch.kind == "resistor" and math.isnan(drop)):
        limit = POSITION_OHM[_family(walk.part.kind)]
        fits = branch.kind in LEAD_COILS or (branch.kind == "resistor" and (branch.value or 0.0) <= limit)
        return True if fits else None
    return False if abs(transfer) >= (SMALL_STOPPER_TRANSFER if small else STOPPER_TRANSFER) else None


def _passes_emitter(walk: _Walk, branch: Branch, cls: int, far: int, node: int) -> bool | None:
    """Whether an emitter lead goes on through a branch: None if not, else whether that is assumed."""
    if far in walk.own and not walk.is_fixed(far):
        return None
    if branch.kind == "bead":
        return False
    if branch.kind != "resistor" or branch.value is None:
        return None
    drop = walk.drop(node)
    if walk.limit is not None and drop > 0.01:
        return False if drop <= walk.limit else None
    if branch.value > EMITTER_OHM or drop > (EMITTER_DROP if walk.limit is None else walk.limit):
        return None
    return math.isnan(drop)


def _passes_collector(walk: _Walk, branch: Branch, cls: int, far: int, node: int) -> bool | None:
    """Whether a collector lead goes on through a branch: None if not, else whether that is assumed."""
    if far in walk.own and not walk.is_fixed(far):
        return None
    if branch.kind == "bead":
        return False
    if branch.kind != "resistor" or branch.value is None or branch.part_of is not None:
        return None
    fixed = walk.is_fixed(far)
    if branch.value > (COLLECTOR_OHM_TO_RAIL if fixed else COLLECTOR_OHM):
        return None
    if fixed and not _only_collectors(walk, cls, branch.elements):
        return None
    drop = walk.drop(node)
    if math.isnan(drop):
        return True
    largest = max((abs(volts) for volts in walk.views.graph.rails.values()), default=0.0)
    limit = COLLECTOR_SHARE * largest if walk.limit is None else walk.limit
    return False if drop <= limit else None


def _only_collectors(walk: _Walk, cls: int, passed: tuple[int, ...]) -> bool:
    """Whether a class holds nothing but collectors, one branch, and strays: no signal is taken off there."""
    for node in walk.view.members[cls]:
        for element, terminal in walk.views.graph.at_node[node]:
            part = walk.views.graph.elements[element]
            if element in passed or (part.kind == "capacitor" and (part.value or 1.0) <= STRAY_FARAD):
                continue
            if element not in walk.view.present:
                continue
            if terminal not in ("c", "d", "a") or part.kind not in BIPOLAR | FETS | VALVES:
                return False
    return True


def _family(kind: str) -> str:
    """ "bipolar", "fet" or "valve"."""
    return "bipolar" if kind in BIPOLAR else "fet" if kind in FETS else "valve"


def at_zero(views: Views, element: int, terminal: str, sort: str, band: int = 0) -> Lead | None:
    """The lead through which a terminal is at 0 in a signal view, or None.

    A control terminal is at 0 too through a resistor of 100 ohm or less that drops next to nothing, or through
    any that drops next to nothing where nothing else hangs on the control net and no signal enters there.
    """
    view = views.signals[band]
    if sort != "ctl":
        return next(
            (lead for lead in leads(views, view, element, terminal, sort=sort) if lead.target == view.zero), None
        )
    walk = _Walk(views, view, band, element, terminal, None)
    if walk.start == view.zero:
        return Lead(walk.start, (), 0.0, walk.node)
    for branch, far, node in walk.onward(walk.start):
        if far != view.zero or branch.kind not in ("resistor", "bead") or branch.part_of is not None:
            continue
        drop = walk.drop(node)
        small = branch.kind == "bead" or (branch.value is not None and branch.value <= SMALL_STOPPER_OHM)
        alone = walk.holds_only(walk.start, branch.elements) and not _is_entry(views, view, walk.start)
        if not drop > BIAS_DROP and (small or alone):
            return Lead(far, branch.elements, drop, node, math.isnan(drop))
    return None


def _is_entry(views: Views, view: View, cls: int) -> bool:
    """Whether the signal enters at a net from outside of the drawing."""
    graph = views.graph
    aliases = graph.circuit.aliases
    names = [aliases.get(port.net.casefold(), port.net) for port in graph.circuit.inputs]
    return any(view.class_of[graph.node_of[name]] == cls for name in names if name in graph.node_of)


def held(views: Views, view: View, cls: int, band: int = 0) -> bool:
    """Whether a net of any view is 0 in a signal view: one of its nodes is."""
    signal = views.signals[band]
    return any(signal.class_of[node] == signal.zero for node in view.members[cls])


def stoppers(views: Views) -> dict[str, tuple[str, ...]]:
    """Designators of the parts in each device's control lead whose inner net holds nothing else, by the device's."""
    found: dict[str, tuple[str, ...]] = {}
    for element in views.graph.elements:
        if element.kind not in DEVICES:
            continue
        control = electrodes(element)[0]
        if control not in element.terminals:
            continue
        walk = _Walk(views, views.wire, 0, element.index, control, None)
        for lead in leads(views, views.wire, element.index, control, sort="ctl")[1:]:
            if walk.holds_only(walk.start, (element.index, *lead.passed[1:])):
                parts = tuple(ref for index in lead.passed for ref in views.graph.elements[index].members)
                found[element.members[0]] = parts
    return found
