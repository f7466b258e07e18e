"""What voltages a part sees at both crests of a full swing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from topo.graph.graph import Element
from topo.quantities import show
from topo.reading.reading import Reading
from topo.views.kinds import DEVICES, electrodes

FORWARD = {False: 0.3, True: 0.05}
"""Volts below which a junction of silicon, of germanium, carries less than a thousandth of what it would: class 12."""
ZENER_SHARE = 0.9
_JUNCTIONS = frozenset({"diode", "rectifier", "zener"})
_SORTS = frozenset({"stage", "driver", "splitter", "output"})


@dataclass(frozen=True)
class Crest:
    """The most forward volts of a junction at rest and at the crests of a full swing, and the limit of its material;
    `backward` are the most volts the other way. `swing` is None where no full swing is known."""

    rest: float
    swing: float | None
    limit: float
    backward: float

    @property
    def stays_off(self) -> bool:
        """Whether it carries next to nothing all through the cycle, as far as known."""
        return max(self.rest, self.swing if self.swing is not None else -math.inf) <= self.limit

    @property
    def words(self) -> str:
        """The test in words."""
        if self.swing is None:
            return ""
        return f"{_signed(self.rest)} forward at rest, {_signed(self.swing)} at the crests of a full swing"

    @property
    def test(self) -> dict[str, float]:
        """The numbers of the test."""
        known = {"forward volts": self.rest, "limit volts": self.limit}
        return known if self.swing is None else known | {"crest volts": self.swing}


def _signed(volts: float) -> str:
    return f"{'−' if volts < 0 else ''}{show(abs(volts), 'V', 2)}"


class Swing:
    """The full swing of one reading's circuit, made linear: the smallest drive at which a device that amplifies has no
    voltage left across it at one crest, or no current; devices that idle at rest have the current that they are asked
    for."""

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self._graph = reading.views.graph
        self._volts = reading.views.point.volts

    def crest(self, anode: int, cathode: int, germanium: bool = False) -> Crest | None:
        """Of a junction between two nodes; None where nothing is known at rest."""
        rest = float(self._volts[anode] - self._volts[cathode])
        if not math.isfinite(rest):
            return None
        moved = self._moved
        limit = FORWARD[germanium]
        if moved is None:
            return Crest(rest, None, limit, -rest)
        amplitude = abs(moved[anode] - moved[cathode])
        return Crest(rest, rest + amplitude, limit, amplitude - rest)

    def of_part(self, ref: str) -> Crest | None:
        """Of a diode, or of the control junction of a device; None for other parts."""
        index = self._graph.element_of.get(ref)
        if index is None:
            return None
        element = self._graph.elements[index]
        germanium = bool(element.part.settings.get("germanium"))
        if element.kind in _JUNCTIONS:
            return self.crest(element.node("a"), element.node("k"), germanium)
        if element.kind in ("npn", "pnp"):
            ends = element.node("b"), element.node("e")
            return self.crest(*(ends if element.kind == "npn" else ends[::-1]), germanium)
        return None

    def stays_off(self, ref: str) -> Crest | None:
        """The crest of a junction that stays off at full swing; None for one that does not, or is none."""
        crest = self.of_part(ref)
        if crest is None or not crest.stays_off:
            return None
        element = self._graph.elements[self._graph.element_of[ref]]
        broken = element.kind == "zener" and crest.backward > ZENER_SHARE * (element.value or 0.0)
        return None if broken else crest

    @cached_property
    def _moved(self):
        """Complex volts by which each node moves at full swing; None where there is no signal or no limit to it."""
        views, reading = self._reading.views, self._reading
        middle = views.signal.middle if views.signals else None
        start = self._graph.node_of.get(reading.inputs[0].net) if reading.inputs else None
        if views.network is None or middle is None or not start:
            return None
        table = views.network.impedances(middle)[:, start]
        scales = []
        stages = {ref for block in reading.blocks if block.sort in _SORTS for ref in block.devices}
        for element in self._graph.elements:
            if element.kind not in DEVICES or not stages & set(element.members):
                continue
            _, emitter, collector = (element.node(name) for name in electrodes(element))
            rest, moved = abs(self._volts[collector] - self._volts[emitter]), abs(table[collector] - table[emitter])
            if math.isfinite(rest) and rest > 0 and moved > 0:
                scales.append(rest / moved)
            idle, amplitude = self._collector_currents(element, table)
            if idle and amplitude and element.index not in views.driven:
                scales.append(idle / amplitude)
        return table * min(scales) if scales else None

    def _collector_currents(self, element: Element, table: np.ndarray) -> tuple[float, float]:
        """Amperes at rest in a device's collector, and the amplitude there; 0 where not known."""
        network, names = self._reading.views.network, element.terminals
        block = network.linear.blocks.get(element.index) if network is not None else None
        place = names.index(electrodes(element)[2])
        rest = abs(self._reading.views.point.currents[element.index][place])
        if block is None or place not in block.terminals or not math.isfinite(rest):
            return 0.0, 0.0
        volts = np.array([table[element.nodes[spot]] if spot >= 0 else 0.0 for spot in block.terminals])
        return float(rest), float(abs(block.slopes[block.terminals.index(place)] @ volts))
