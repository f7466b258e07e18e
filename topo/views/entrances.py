"""The ways by which a signal enters control nets: what is the only one is no open, however much it holds back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from topo.graph.graph import Graph
from topo.views.kinds import control_terminals
from topo.views.merging import Classes
from topo.views.plain import port_nodes
from topo.views.view import Verdict

ENTRANCES = frozenset({"capacitor", "bead", "inductor"})
LEAST_COUPLING = 1e-12
"""Farads under which a capacitor is a stray and couples nothing on purpose (common practice)."""


def keep_entrances(graph: Graph, classes: Classes, verdicts: Mapping[int, Verdict]) -> dict[int, Verdict]:
    """The verdicts, with each open that is the only way into a control net turned into a part that shapes the signal.

    A bead of 100 ohm before a base of 10 ohm, or a light coupling of a few picofarad, is large against what it faces;
    taken for nothing it would leave the device without a signal. Shunts to 0 are no ways in, nor are chokes.
    """
    members: dict[int, list[int]] = {}
    for node in range(len(graph.nets)):
        members.setdefault(classes.find(node), []).append(node)
    ports = {classes.find(node) for node in port_nodes(graph)}
    found = dict(verdicts)
    for cls, nodes in members.items():
        pins = [pin for node in nodes for pin in graph.at_node[node]]
        steered = {index for index, terminal in pins if terminal in control_terminals(graph.elements[index])}
        if cls == 0 or cls in ports or not steered:
            continue
        around = dict.fromkeys(index for index, _ in pins if index not in steered)
        leading = [index for index in around if _leads_in(graph, classes, index, cls)]
        shut = [index for index in leading if index in found and found[index].fate == "open"]
        if len(shut) < len(leading):
            continue
        for index in shut:
            element = graph.elements[index]
            if element.kind in ENTRANCES and (element.kind != "capacitor" or (element.value or 1.0) > LEAST_COUPLING):
                words = "large against what it faces, yet the only way in for the signal"
                found[index] = replace(found[index], fate="shaping", remark=words)
    return found


def _leads_in(graph: Graph, classes: Classes, index: int, cls: int) -> bool:
    """Whether an element joins a class with another than 0."""
    return any(classes.find(node) not in (cls, 0) for node in graph.elements[index].nodes)
