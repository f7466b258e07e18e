"""What is worth asking about a circuit before anything is computed: warnings on its graph, without voltages."""

from __future__ import annotations

from topo.errors import Problem
from topo.netlist.circuit import Circuit


def check(circuit: Circuit) -> tuple[Problem, ...]:
    """The warnings of a circuit that its connections alone give rise to, in the order of their lines."""
    return ()
