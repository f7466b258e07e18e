"""The voltages of nets inside merged elements in many samples at once."""

from __future__ import annotations

import numpy as np

from topo.analysis.many import merged_ohms
from topo.analysis.resistances import COILS
from topo.analysis.solving import Ready
from topo.analysis.tolerances import Array, Draws
from topo.graph.graph import Composition


def inner_voltages(ready: Ready, draws: Draws, volts: Array) -> dict[str, Array]:
    """Volts of each net inside a set of resistors or chokes, by its name, in every sample (S,).

    Args:
        volts: (S, nodes), of the same samples, in order.
    """
    found: dict[str, Array] = {}
    for element in ready.equations.graph.elements:
        if len(element.members) > 1 and (element.kind == "resistor" or element.kind in COILS):
            first, second = (volts[:, node] for node in element.nodes)
            _divide(element.made_of, draws, first, second, element.kind == "resistor", found)
    return found


def _divide(
    made_of: Composition, draws: Draws, first: Array, second: Array, resistive: bool, found: dict[str, Array]
) -> None:
    """Divides the voltage of a set among its members, as their ohms are; a choke's are too few to tell."""
    if made_of.rule == "part":
        return
    if made_of.rule == "parallel":
        for item in made_of.sets:
            _divide(item, draws, first, second, resistive, found)
        return
    ohms = [merged_ohms(item, draws) if resistive else np.zeros(draws.count) for item in made_of.sets]
    whole = np.sum(ohms, axis=0)
    at = first
    for place, item in enumerate(made_of.sets):
        last = place == len(made_of.sets) - 1
        share = np.sum(ohms[: place + 1], axis=0) / whole if resistive else 0.0
        after = second if last else first + (second - first) * share
        if not last:
            found.update(dict.fromkeys(made_of.inner[place], after))
        _divide(item, draws, at, after, resistive, found)
        at = after
