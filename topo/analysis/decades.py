"""The circuit with the value of one resistor ten times larger or smaller, solved again: the search for a slip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from topo.analysis.operating_point import OperatingPoint
from topo.netlist.circuit import Circuit, Part

TIMES = (10.0, 0.1)


class Change(NamedTuple):
    """A part, the value in SI units that it is given, and the operating point of the circuit with it."""

    part: Part
    value: float
    point: OperatingPoint


def decade_changes(circuit: Circuit, parts: Iterable[Part]) -> Iterator[Change]:
    """Each of the parts that has a value with ten times of it and with a tenth, everything else left alone."""
    from topo.analysis.solving import solve

    for part in parts:
        for times in TIMES if part.value else ():
            value = float(f"{(part.value or 0.0) * times:.6g}")
            yield Change(part, value, solve(with_value(circuit, part, value)))


def with_value(circuit: Circuit, part: Part, value: float) -> Circuit:
    """The circuit with another value of one part."""
    changed = replace(part, value=value)
    return replace(circuit, parts=tuple(changed if item is part else item for item in circuit.parts))
