"""The normalised graph of a circuit.

Takes a `Circuit`, gives a `Graph`: elements between numbered nodes, with links removed and like parts in series or in
parallel merged, each element with the members that it is made of, and a record of each step. Works on what is typed
alone: it knows no voltages, no frequencies beyond the band that the circuit states, and no patterns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from topo.graph.graph import Composition, Element, Graph, Merge, WindingElement

if TYPE_CHECKING:
    from topo.graph.normalising import normalise
    from topo.graph.public import networkx_graph

__all__ = ["Composition", "Element", "Graph", "Merge", "WindingElement", "networkx_graph", "normalise"]


def __getattr__(name: str) -> Any:
    if name == "normalise":
        from topo.graph.normalising import normalise

        return normalise
    if name == "networkx_graph":
        from topo.graph.public import networkx_graph

        return networkx_graph
    raise AttributeError(name)
