"""Asks a circuit's views in the words of its netlist."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass

from topo.analysis import operating_point
from topo.analysis.operating_point import OperatingPoint
from topo.graph import Graph, normalise
from topo.netlist import loads
from topo.views import Verdict, View, Views, views
from topo.views.leads import at_zero, leads


@dataclass(frozen=True)
class Seen:
    """The views of a circuit, asked by net names and designators."""

    views: Views

    @property
    def graph(self) -> Graph:
        return self.views.graph

    def node(self, net: str) -> int:
        return self.graph.node_of[net]

    def element(self, ref: str) -> int:
        return self.graph.element_of[ref]

    def view(self, name: str, band: int = 0) -> View:
        return {"wire": self.views.wire, "dc": self.views.dc, "signal": self.views.signals[band]}[name]

    def verdict(self, ref: str, band: int = 0) -> Verdict:
        return self.views.signals[band].verdicts[self.element(ref)]

    def fate(self, ref: str, band: int = 0) -> str:
        return self.verdict(ref, band).fate

    def joined(self, a: str, b: str, name: str = "signal", band: int = 0) -> bool:
        classes = self.view(name, band).class_of
        return classes[self.node(a)] == classes[self.node(b)]

    def is_zero(self, net: str, band: int = 0) -> bool:
        view = self.views.signals[band]
        return view.class_of[self.node(net)] == view.zero

    def why(self, a: str, b: str, name: str = "signal") -> tuple[str, ...]:
        through = self.view(name).why(self.node(a), self.node(b))
        assert through is not None
        return tuple(self.graph.elements[index].name for index in through)

    def chains(self, name: str) -> set[tuple[str, ...]]:
        return {self.names(branch.elements) for branch in self.view(name).branches if branch.is_chain}

    def names(self, elements) -> tuple[str, ...]:
        return tuple(self.graph.elements[index].name for index in elements)

    def derived(self) -> dict[str, str]:
        """Each derived rail's net with the net that feeds it."""
        return {self.graph.nets[rail.node]: self.graph.nets[rail.source] for rail in self.views.derived}

    def reach(self, terminal: str, sort: str, name: str = "signal", limit: float | None = None, band: int = 0):
        """Nets that a terminal such as `Q1.b` reaches, each with what was passed; one net of each class."""
        ref, pin = terminal.split(".")
        view = self.view(name, band)
        found = leads(self.views, view, self.element(ref), pin, sort=sort, limit=limit)
        return {self.graph.nets[lead.node]: self.names(lead.passed) for lead in found}

    def at_zero(self, terminal: str, sort: str) -> bool:
        ref, pin = terminal.split(".")
        return at_zero(self.views, self.element(ref), pin, sort) is not None


def seen(text: str) -> Seen:
    """The views of a netlist at its operating point."""
    graph = normalise(loads(textwrap.dedent(text)))
    return Seen(views(graph, operating_point(graph)))


def seen_by_position(text: str) -> Seen:
    """The views of a netlist whose operating point is not known."""
    graph = normalise(loads(textwrap.dedent(text)))
    volts = (math.nan,) * len(graph.nets)
    currents = tuple((math.nan,) * len(element.nodes) for element in graph.elements)
    return Seen(views(graph, OperatingPoint(graph, "not solved", volts, currents)))
