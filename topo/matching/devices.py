"""The active devices of a circuit, single ones from its elements; compounds are added by `compounds.py`."""

from __future__ import annotations

from collections.abc import Sequence

from topo.graph.graph import Element, Graph
from topo.matching.kinds import BIPOLAR, DEVICES, ELECTRODES, VALVES
from topo.matching.match import Device
from topo.views.view import Views


def family_of(kind: str) -> str:
    """ "bipolar", "fet" or "valve"."""
    return "bipolar" if kind in BIPOLAR else "valve" if kind in VALVES else "fet"


def polarity_of(kind: str) -> str:
    """ "n" or "p"; valves are "n"."""
    return "p" if kind in ("pnp", "pjfet", "pmos") else "n"


def electrodes_of(kind: str, terminals: tuple[str, ...]) -> tuple[str, str, str] | None:
    """Terminal names (ctl, emt, col) of a device kind as the element has them; None if one is missing."""
    ctl, emt, col = ELECTRODES[kind]
    if ctl not in terminals and ctl == "g1" and "g" in terminals:
        ctl = "g"
    return (ctl, emt, col) if all(name in terminals for name in (ctl, emt, col)) else None


def are_parallel(elements: Sequence[Element], graph: Graph) -> bool:
    """Whether devices of one kind share their collector net and none drives the next, so that their currents add.

    One drives the next where its emitter is, or leads by one part to, the control electrode of the other.
    """
    names = [electrodes_of(element.kind, element.terminals) for element in elements]
    if None in names:
        return False
    controls, emitters, collectors = (
        {element.node(own[place]) for element, own in zip(elements, names, strict=True) if own is not None}
        for place in range(3)
    )
    if len({element.kind for element in elements}) != 1 or len(collectors) != 1 or controls & emitters:
        return False
    return not any(
        set(graph.elements[index].nodes) & controls
        for node in emitters
        for index, _ in graph.at_node[node]
        if len(graph.elements[index].nodes) == 2 and node not in graph.rails and node
    )


def single_devices(views: Views) -> list[Device]:
    """Every element that amplifies, in file order."""
    found: list[Device] = []
    for element in views.graph.elements:
        if element.kind not in DEVICES:
            continue
        names = electrodes_of(element.kind, element.terminals)
        if names is None:
            continue
        ctl, emt, col = ((element.index, name) for name in names)
        state = views.point.states.get(element.index, "")
        found.append(
            Device(
                index=len(found),
                name=element.name,
                polarity=polarity_of(element.kind),
                family=family_of(element.kind),
                make="single",
                elements=(element.index,),
                parts=element.members,
                ctl=ctl,
                emt=emt,
                col=col,
                state=state,
            )
        )
    return found
