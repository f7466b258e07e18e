"""The public face of a circuit's graph, for users who go on with networkx: the only module that imports it."""

from __future__ import annotations

import networkx

from topo.netlist.circuit import Circuit


def networkx_graph(circuit: Circuit) -> networkx.MultiGraph:
    """A bipartite multigraph of parts and nets as typed, an edge for each terminal.

    Vertices are ("part", designator) with attributes `kind`, `value`, `part`, and ("net", name) with `ground` and
    `rail` (volts of a given supply, else None). An edge's `terminal` is the terminal's name, and its key too.

    Returns:
        A new `networkx.MultiGraph`, parts first, both in the order of the circuit.
    """
    graph = networkx.MultiGraph(title=circuit.title)
    volts = {supply.net: supply.volts for supply in circuit.supplies}
    for part in circuit.parts:
        graph.add_node(("part", part.ref), kind=part.kind, value=part.value, part=part)
    nets = dict.fromkeys(circuit.nets)
    nets.update(dict.fromkeys(terminal.net for part in circuit.parts for terminal in part.terminals))
    for net in nets:
        graph.add_node(("net", net), ground=net == circuit.ground, rail=volts.get(net))
    for part in circuit.parts:
        for terminal in part.terminals:
            graph.add_edge(("part", part.ref), ("net", terminal.net), key=terminal.name, terminal=terminal.name)
    return graph
