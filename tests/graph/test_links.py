"""Parts that are wires as they stand, and meters that are none."""

import pytest

from topo.graph import normalise
from topo.netlist import loads


def test_a_meter_in_a_lead_is_a_wire():
    graph = normalise(loads("supply v 9V\nR1 1k : v a\nM1 meter : a b\nR2 1k : b gnd"))

    assert graph.links == ("M1",)


@pytest.mark.parametrize("order", ["M1 meter : a b\nR3 1 : b a", "R3 1 : a b\nM1 meter : a b"])
def test_a_meter_across_its_shunt_reads_volts_and_draws_no_current(order):
    graph = normalise(loads(f"supply v 9V\nR1 1k : v a\n{order}\nR2 1k : b gnd"))

    assert graph.links == ()
    assert "R3" in graph.assumed["M1"]


def test_a_meter_across_a_shunt_that_is_a_link_is_a_wire_too():
    graph = normalise(loads("supply v 9V\nR1 1k : v a\nM1 meter : a b\nR3 1m : a b\nR2 1k : b gnd"))

    assert set(graph.links) == {"M1", "R3"}


def test_the_resistors_are_gone_through_once_however_many_meters_there_are(monkeypatch):
    circuit = loads("supply v 9V\n" + "".join(f"R{n} 1k : v a{n}\nM{n} meter : a{n} gnd\n" for n in range(20)))
    gone_through = []
    parts = circuit.parts

    class Counted(tuple):
        def __iter__(self):
            gone_through.append(1)
            return super().__iter__()

    object.__setattr__(circuit, "parts", Counted(parts))
    assert len(normalise(circuit).links) == 20
    assert len(gone_through) < 12
