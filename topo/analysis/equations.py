"""The nodal equations of a circuit at direct current: a constant part, sources, and groups of devices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from topo.analysis.devices.bipolar import Bipolar
from topo.analysis.devices.diode import Diode
from topo.analysis.devices.field_effect import FieldEffect
from topo.analysis.devices.group import Array, Group
from topo.analysis.devices.integrated import OpAmp, Regulator
from topo.analysis.devices.valve import Pentode, Triode
from topo.analysis.parameters import BIPOLAR, DIODES, JFETS, MOSFETS, MULTIGRIDS, P_TYPES, device_parameters, gap_of
from topo.analysis.physics import saturation_current, thermal_voltage
from topo.graph.graph import Element, Graph

UNLIMITED_VOLT = 1e4
"""An operational amplifier without supply pins or VMAX is linear up to this."""


@dataclass(eq=False)
class Equations:
    """Modified nodal equations: unknowns are node voltages (0 is ground) and the currents of ideal sources.

    `matrix` (N, N) and `sources` (N,) are the constant part, currents out of a node counted positive on the left;
    `rows` names the extra unknowns. Groups add the devices.
    Source: C.-W. Ho, A. Ruehli, P. Brennan, IEEE Trans. Circuits Syst. CAS-22 (1975) 504-509 (from memory).
    """

    graph: Graph
    celsius: float
    count: int
    stamps: list[tuple[int, int, float]] = field(default_factory=list)
    values: list[tuple[int, float]] = field(default_factory=list)
    groups: list[Group] = field(default_factory=list)
    assumed: dict[str, str] = field(default_factory=dict)
    rows: dict[tuple[str, object], int] = field(default_factory=dict)

    def unknown(self, kind: str, key: object) -> int:
        """A further unknown, such as the current of a source."""
        self.rows[kind, key] = self.count
        self.count += 1
        return self.count - 1

    def conductance(self, a: int, b: int, siemens: float) -> None:
        """A conductance between two nodes."""
        self.stamps += [(a, a, siemens), (b, b, siemens), (a, b, -siemens), (b, a, -siemens)]

    def source(self, kind: str, key: object, plus: int, minus: int, volts: float, ohms: float = 0.0) -> None:
        """A voltage source with a resistance in series; its unknown is the current into the plus end."""
        row = self.unknown(kind, key)
        self.stamps += [(plus, row, 1.0), (minus, row, -1.0), (row, plus, 1.0), (row, minus, -1.0), (row, row, -ohms)]
        self.values.append((row, volts))

    def current(self, a: int, b: int, amperes: float) -> None:
        """An ideal source of current that flows out of node `a`, through the source, into node `b`."""
        self.values += [(a, -amperes), (b, amperes)]

    def arrays(self) -> tuple[Array, Array]:
        """The constant matrix and the source vector."""
        matrix = np.zeros((self.count, self.count))
        if self.stamps:
            rows, columns, amounts = zip(*self.stamps, strict=True)
            np.add.at(matrix, (np.array(rows), np.array(columns)), np.array(amounts))
        sources = np.zeros(self.count)
        for row, value in self.values:
            sources[row] += value
        return matrix, sources


def add_devices(equations: Equations, left_out: frozenset[int] = frozenset()) -> None:
    """Adds all devices of the circuit, in groups of one law; `left_out` are elements without influence."""
    sorts: list[tuple[tuple[str, ...], Callable[[Equations, list[Element]], Group]]] = [
        (DIODES, _diodes),
        (BIPOLAR, _bipolars),
        ((*JFETS, *MOSFETS), _field_effects),
        (("triode",), _triodes),
        (MULTIGRIDS, _pentodes),
        (("opamp",), _op_amps),
        (("regulator",), _regulators),
    ]
    for kinds, build in sorts:
        elements = [
            element for element in equations.graph.elements if element.kind in kinds and element.index not in left_out
        ]
        if elements:
            group = build(equations, elements)
            counts = [element.part.params.get("count", 1.0) for element in elements]
            if any(count != 1.0 for count in counts):
                group.count = np.array(counts)
            equations.groups.append(group)


def _parameters(equations: Equations, elements: list[Element]) -> list[dict[str, float]]:
    rows = []
    for element in elements:
        values, words = device_parameters(element.part)
        if words:
            equations.assumed[element.members[0]] = words
        rows.append(values)
    return rows


def _column(rows: list[dict[str, float]], name: str, default: float = 0.0) -> Array:
    return np.array([float(row.get(name, default)) for row in rows])


def _inverse(rows: list[dict[str, float]], name: str) -> Array:
    """1 over a parameter, 0 where it is not given."""
    return np.array([1.0 / row[name] if row.get(name) else 0.0 for row in rows])


def _polarity(elements: list[Element]) -> Array:
    return np.array([-1.0 if element.kind in P_TYPES else 1.0 for element in elements])


def _at(equations: Equations, elements: list[Element], terminals: str) -> np.ndarray:
    """Unknowns of the named terminals (n, t); ground where a terminal is not connected."""
    names = terminals.split()
    return np.array(
        [[e.node(name) if name in e.terminals else 0 for name in names] for e in elements], dtype=np.intp
    ).reshape(len(elements), len(names))


def _behind(equations: Equations, element: Element, terminal: str, ohms: float, node: int) -> int:
    """The inner end of a resistance in series with a terminal: the node itself where there is none."""
    if ohms <= 0:
        return node
    inner = equations.unknown("inner", (element.index, terminal))
    equations.conductance(node, inner, 1.0 / ohms)
    return inner


def _saturations(equations: Equations, elements: list[Element], rows: list[dict[str, float]]) -> Array:
    return np.array(
        [
            saturation_current(row["IS"], row["N"], equations.celsius, gap_of(element.part))
            for element, row in zip(elements, rows, strict=True)
        ]
    )


def _diodes(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    at = _at(equations, elements, "a k")
    for place, (element, row) in enumerate(zip(elements, rows, strict=True)):
        at[place, 0] = _behind(equations, element, "a", row["RS"], int(at[place, 0]))
    vt = thermal_voltage(equations.celsius)
    saturation, thermal = _saturations(equations, elements, rows), _column(rows, "N") * vt
    zener = np.array([e.value if e.kind == "zener" and e.value is not None else np.nan for e in elements])
    critical = thermal * np.log(thermal / (np.sqrt(2.0) * saturation))
    return Diode(
        [e.index for e in elements],
        at,
        np.ones(len(elements)),
        np.where(np.isnan(zener), critical, 0.0)[:, None],
        saturation=saturation,
        thermal=thermal,
        zener=zener,
        test_current=_column(rows, "IZ"),
        breakdown_thermal=vt,
    )


def _bipolars(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    at = _at(equations, elements, "b c e")
    for place, (element, row) in enumerate(zip(elements, rows, strict=True)):
        for column, (terminal, name) in enumerate((("b", "rb"), ("c", "rc"), ("e", "re"))):
            at[place, column] = _behind(equations, element, terminal, row[name], int(at[place, column]))
    saturation = _saturations(equations, elements, rows)
    thermal = _column(rows, "N") * thermal_voltage(equations.celsius)
    start = np.zeros((len(elements), 2))
    start[:, 0] = thermal * np.log(thermal / (np.sqrt(2.0) * saturation))
    return Bipolar(
        [e.index for e in elements],
        at,
        _polarity(elements),
        start,
        saturation=saturation,
        thermal=thermal,
        forward=_column(rows, "hFE"),
        reverse=_column(rows, "hFER"),
        early=_inverse(rows, "VA"),
    )


def _field_effects(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    junction_gate = np.array([element.kind in JFETS for element in elements])
    factor = np.array(
        [r["IDSS"] / r["VP"] ** 2 if jfet else r["K"] for r, jfet in zip(rows, junction_gate, strict=True)]
    )
    threshold = np.array([r["VP"] if jfet else r["VTH"] for r, jfet in zip(rows, junction_gate, strict=True)])
    vt = thermal_voltage(equations.celsius)
    start = np.stack((np.where(junction_gate, 0.3 * threshold, threshold + 0.5), np.full(len(rows), 1.0)), axis=1)
    return FieldEffect(
        [e.index for e in elements],
        _at(equations, elements, "g d s"),
        _polarity(elements),
        start,
        factor=factor,
        threshold=threshold,
        early=_inverse(rows, "VA"),
        gate=np.where(junction_gate, saturation_current(1e-14, 1.0, equations.celsius), 0.0),
        thermal=np.full(len(rows), vt),
    )


def _triodes(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    names: Mapping[str, str] = {"mu": "MU", "exponent": "EX", "kg1": "KG1", "kp": "KP", "kvb": "KVB"}
    return Triode(
        [e.index for e in elements],
        _at(equations, elements, "a g k"),
        np.ones(len(elements)),
        np.tile([-1.0, 100.0], (len(elements), 1)),
        **{name: _column(rows, column) for name, column in names.items()},
    )


def _pentodes(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    names = {"mu": "MU", "exponent": "EX", "kg1": "KG1", "kg2": "KG2", "kp": "KP", "kvb": "KVB"}
    return Pentode(
        [e.index for e in elements],
        _at(equations, elements, "a g1 g2 k"),
        np.ones(len(elements)),
        np.tile([-5.0, 150.0, 150.0], (len(elements), 1)),
        **{name: _column(rows, column) for name, column in names.items()},
    )


def _op_amps(equations: Equations, elements: list[Element]) -> Group:
    rows = _parameters(equations, elements)
    at = np.zeros((len(elements), 6), dtype=np.intp)
    at[:, :5] = _at(equations, elements, "in+ in- out v+ v-")
    at[:, 5] = [equations.unknown("output", element.index) for element in elements]
    limit = _column(rows, "VMAX", UNLIMITED_VOLT)
    given = np.array(["VMAX" in row for row in rows])
    supplied = np.array(["v+" in e.terminals or "v-" in e.terminals for e in elements]) & ~given
    start = np.zeros((len(elements), 5))
    return OpAmp(
        [e.index for e in elements],
        at,
        np.ones(len(elements)),
        start,
        gain=_column(rows, "GAIN"),
        limit_volt=limit,
        supplied=supplied,
    )


def _regulators(equations: Equations, elements: list[Element]) -> Group:
    at = np.zeros((len(elements), 4), dtype=np.intp)
    at[:, :3] = _at(equations, elements, "in out common")
    at[:, 3] = [equations.unknown("output", element.index) for element in elements]
    volts = np.array([5.0 if e.value is None else e.value for e in elements])
    start = np.stack((np.abs(volts) + 5.0, np.abs(volts), np.zeros(len(elements))), axis=1)
    return Regulator([e.index for e in elements], at, np.where(volts < 0, -1.0, 1.0), start, volts=np.abs(volts))
