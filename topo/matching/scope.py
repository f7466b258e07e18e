"""What an expression may look at: a state's roles and nets, and the numbers of the circuit."""

from __future__ import annotations

import math
from functools import cached_property

from topo.matching.index import DC, SIGNAL, WIRE, Index
from topo.matching.pattern import Figure, Pattern, Role
from topo.matching.state import State
from topo.matching.things import NetRef, Thing
from topo.views.view import View

BOLTZMANN_OVER_CHARGE = 8.617333262e-5
"""Volt per kelvin (CODATA 2018, exact by definition of the SI)."""
CELSIUS_ZERO = 273.15


class Unbound(Exception):
    """An expression speaks of a role or net to which nothing is bound."""


class Scope:
    """Roles, nets and figures of one state of one pattern on one index.

    `spoken` collects the parts that were used, unless it is None. `composite` says that names are those of components.
    """

    composite = False

    def __init__(self, index: Index, pattern: Pattern, state: State, mirrored: bool = False) -> None:
        self.index = index
        self.pattern = pattern
        self.state = state
        self.mirrored = mirrored
        self.views = index.views
        self.graph = index.views.graph
        self.point = index.views.point
        self.spoken: dict[str, None] | None = {}
        self._declared: dict[str, Role] | None = None
        self.depth = 0

    @property
    def roles(self) -> dict[str, tuple[Thing, ...]]:
        """What each bound role is bound to."""
        found = {name: (thing,) for name, thing in self.state.roles.items() if thing is not None}
        return found | {name: things for name, things in self.state.many.items() if things}

    def things(self, name: str) -> tuple[Thing, ...]:
        """What a role is bound to.

        Raises:
            Unbound: to nothing.
        """
        thing = self.state.roles.get(name)
        found = self.state.many.get(name, ()) if thing is None else (thing,)
        if not found:
            raise Unbound(name)
        if self.spoken is not None:
            for item in found:
                self.spoken.update(dict.fromkeys(item.parts))
        return found

    def is_role(self, name: str) -> bool:
        if name in self.state.roles or name in self.state.many:
            return True
        if self._declared is None:
            self._declared = self.pattern.roles
        return name in self._declared

    def is_many(self, name: str) -> bool:
        """Whether a role was bound to several things at once."""
        return name in self.state.many and self.state.roles.get(name) is None

    def net(self, name: str) -> NetRef:
        """A bound net.

        Raises:
            Unbound: it is not.
        """
        bound = self.state.net(name)
        if not bound:
            raise Unbound(name)
        view = next(view for view in (WIRE, DC, SIGNAL) if view in bound)
        node = bound[view][1]
        if view == SIGNAL and len(bound) == 1:
            node = self._heaviest(name, bound[view][0], node)
        return NetRef(name, node, {view: cls for view, (cls, _) in bound.items()})

    def _heaviest(self, name: str, cls: int, node: int) -> int:
        """The node of a signal-view net at which it was met."""
        return node

    def figure(self, name: str) -> Figure | None:
        """A figure of the pattern, None if it has none of that name."""
        return next((figure for figure in self.pattern.figures if figure.name == name), None)

    def component(self, name: str) -> Scope | None:
        """The scope of a component of a composite; None for plain patterns."""
        return None

    def view(self, number: int) -> View:
        return self.index.view[number]

    # -- the band and the linearised circuit ----------------------------------------------------------------------

    def band_edge(self, name: str) -> float | None:
        """`low`, `high` or `mid` of the signal band in hertz; None where the band is not known."""
        band = self.index.view[SIGNAL].band
        if band is None:
            return None
        return {"low": band[0], "high": band[1], "mid": math.sqrt(band[0] * band[1])}[name]

    @property
    def thermal_voltage(self) -> float:
        """VT = kT/q in volts at the circuit's temperature."""
        return BOLTZMANN_OVER_CHARGE * (self.graph.circuit.temperature + CELSIUS_ZERO)

    @cached_property
    def linear(self):
        """The circuit made linear in this band, None where it could not be."""
        linears = self.views.linears
        return linears[self.index.band] if self.index.band < len(linears) else None

    def driving_point(self, a: int, b: int | None) -> float | None:
        """|ohm| between two nodes at mid band; b None is ground."""
        middle = self.band_edge("mid")
        if self.linear is None or middle is None:
            return None
        found = abs(self.linear.impedance(a, b, middle))
        return None if math.isnan(found) else found

    def transfer(self, drive: int, out: int) -> complex | None:
        """Volts at a node for a volt at another, at mid band, driven there by an ideal current."""
        middle = self.band_edge("mid")
        if self.linear is None or middle is None:
            return None
        if drive == out:
            return 1.0 + 0j
        z = self.linear.impedances(middle)
        if abs(z[drive, drive]) < 1e-12:
            return None
        found = complex(z[out, drive] / z[drive, drive])
        return None if math.isnan(found.real) or math.isnan(found.imag) else found

    def input_node(self) -> int | None:
        """The node of the declared input, None where there is none or it is ground."""
        circuit = self.graph.circuit
        for port in circuit.inputs:
            net = circuit.aliases.get(port.net.casefold(), port.net)
            node = self.graph.node_of.get(net)
            if node:
                return node
        return None

    def transconductance(self, element: int, current: float | None) -> float | None:
        """gm in siemens of a device element as it was made linear; by its law where it was not."""
        block = self.linear.blocks.get(element) if self.linear is not None else None
        names = self.graph.elements[element].terminals
        from topo.matching.devices import electrodes_of

        electrodes = electrodes_of(self.graph.elements[element].kind, names)
        if block is None or electrodes is None:
            return (
                current / self.thermal_voltage
                if current and self.graph.elements[element].kind in ("npn", "pnp")
                else None
            )
        ctl, _, col = (names.index(name) for name in electrodes)
        rows = [int(position) for position in block.terminals]
        if ctl not in rows or col not in rows:
            return None
        found = abs(float(block.slopes[rows.index(col), rows.index(ctl)]))
        return None if math.isnan(found) else found
