"""Ranges of the operating point: many samples at once against the ordinary solver, and against plain sense."""

import dataclasses
import time

import numpy as np
import pytest

import topo
from topo.analysis import operating_point
from topo.analysis.parameters import device_parameters
from topo.analysis.spread import spread
from topo.analysis.tolerances import SUPPLY_KEY, Tolerances, draw

PAIR = """
supply vcc 12V
R1 22k : vcc b1
R2 3k9 5% : b1 gnd
VR1 trimmer 1k at 40% : low w high
R9 1k : low w
Q1 npn : b=b1 c=low e=e1
R4 470 : e1 gnd
R3 1k : vcc high
D1 zener 5V1 : gnd z
R5 1k : z vcc
D2 diode : z x
R6 10k : x gnd
R7 10k : x y
R8 10k : y gnd
Q2 npn hFE=150 : b=high c=vcc e=e2
Q3 pnp hFE=150 : b=low c=gnd e=e3
R10 1 : e2 mid
R11 1 : e3 mid
M1 nmos VTH=2 K=0.05 : g=z d=d1 s=s1
R12 470 : vcc d1
R13 100 : s1 gnd
J1 njfet IDSS=4m VP=-2 : g=gnd d=d2 s=s2
R14 1k : vcc d2
R15 1k : s2 gnd
"""

HALF_TYPED = """
supply vcc 9V
output c
R1 ? : vcc a
Q1 npn : b=a c=b e=gnd
R2 1k : vcc b
R3 1k : vcc c
R4 1k : c gnd
"""


def specimen(circuit, draws, sample):
    """The circuit with the values of one sample typed in."""
    parts = []
    for part in circuit.parts:
        values, _ = device_parameters(part)
        params = dict(part.params)
        for table, names in ((draws.gains, ("hFE", "IDSS", "K")), (draws.saturations, ("IS",))):
            for name in names:
                if part.ref in table and name in values:
                    params[name] = values[name] * table[part.ref][sample]
        if part.ref in draws.thresholds:
            params["VTH"] = values["VTH"] * (1 + draws.thresholds[part.ref][sample])
        if "VP" in values:
            params["VP"] = values["VP"] * draws.gains[part.ref][sample] ** 0.5
        value = part.value
        if value is not None and part.ref in draws.factors:
            value = value * draws.factors[part.ref][sample]
        parts.append(dataclasses.replace(part, value=value, params=params))
    supplies = [dataclasses.replace(s, volts=s.volts * draws.factors[SUPPLY_KEY][sample]) for s in circuit.supplies]
    return dataclasses.replace(circuit, parts=tuple(parts), supplies=tuple(supplies))


def test_samples_solved_together_agree_with_the_ordinary_solver_one_by_one():
    circuit = topo.loads(PAIR)
    found = spread(circuit, count=40)
    draws = draw(circuit, Tolerances(), 40)

    assert found.failed == 0
    for sample in range(40):
        alone = operating_point(specimen(circuit, draws, sample))
        assert found.volts[sample] == pytest.approx(np.array(alone.volts), abs=1e-6, rel=1e-6)
        assert found.supplies["vcc"][sample] == pytest.approx(alone.supply_currents["vcc"], rel=1e-6)
        for ref, terminal in (("Q1", "c"), ("Q2", "c"), ("M1", "d"), ("J1", "d")):
            index = alone.graph.element_of[ref]
            assert found.currents[index, terminal][sample] == pytest.approx(alone.current(ref), rel=1e-5, abs=1e-9)


def test_a_divider_ranges_as_its_resistors_and_its_supply_do():
    found = spread(topo.loads("supply vcc 10V\nR1 1k : vcc mid\nR2 1k : mid gnd\noutput mid"), extremes=True)

    middle = found.voltage(found.point.graph.node_of["mid"])

    # Each resistor by 5 %, the supply by 10 %: at most 5 V times 1.1 times 1.05 / 1.0.
    assert middle.typical == pytest.approx(5.0)
    assert 4.27 < middle.low < 4.45 and 5.55 < middle.high < 5.78


def test_a_tolerance_that_is_typed_comes_before_the_usual_one():
    text = "supply vcc 10V\nR1 1k {}: vcc mid\nR2 1k {}: mid gnd\noutput mid"
    exact = Tolerances(supply=0.0)
    widths = [
        (lambda r: r.high - r.low)(spread(topo.loads(text.format(said, said)), tolerances=exact).voltage(2))
        for said in ("1% ", "")
    ]

    assert widths[0] == pytest.approx(widths[1] / 5, rel=0.1)


def test_names_make_no_difference_to_a_range():
    first = spread(topo.loads(PAIR))
    second = spread(topo.loads(PAIR.replace("Q2", "Q77").replace("high", "upper")))

    node_of = second.point.graph.node_of
    same = [node_of["upper" if net == "high" else net] for net in first.point.graph.nets]
    assert np.allclose(first.volts, second.volts[:, same], rtol=0, atol=1e-9)


def test_a_circuit_that_is_not_wholly_known_ranges_where_it_is():
    found = spread(topo.loads(HALF_TYPED))
    node = found.point.graph.node_of

    assert not found.voltage(node["b"]).known
    assert found.voltage(node["c"]).ranged


def test_what_rests_on_an_assumed_value_is_told_from_what_does_not():
    found = spread(topo.loads(HALF_TYPED.replace("?", "1M")))
    node = found.point.graph.node_of

    assert found.voltage_rests(node["b"])
    assert not found.voltage_rests(node["c"])


def test_a_meter_sees_the_resistance_of_a_divider():
    found = spread(topo.loads("supply vcc 9V\nR1 100k : vcc a\nR2 100k : a gnd\noutput a"), count=10)

    assert found.ohms[found.point.graph.node_of["a"]] == pytest.approx(50e3)


def test_a_thousand_samples_of_thirty_parts_take_well_under_a_second():
    stage = "".join(
        f"R{k}1 47k : vcc b{k}\nR{k}2 10k : b{k} gnd\nR{k}3 4k7 : vcc c{k}\nR{k}4 1k : e{k} gnd\n"
        f"Q{k} npn : b=b{k} c=c{k} e=e{k}\n"
        for k in range(1, 7)
    )
    circuit = topo.loads("supply vcc 12V\n" + stage)
    started = time.process_time()
    found = spread(circuit)

    assert found.failed == 0
    assert time.process_time() - started < 1.0


def test_the_samples_of_a_valve_stage_converge():
    found = spread(
        topo.loads(
            "supply ht 250V\nR1 470k : g gnd\nV1 triode : a=a g=g k=k\nR2 1k5 : k gnd\nR3 100k : ht a\nR5 10 : k2 gnd\n"
            "V2 pentode : a=p g1=g g2=ht g3=k2 k=k2\nT1 transformer 20:1 : ht p | s gnd\nLS1 speaker 8 : s gnd\n"
        )
    )

    assert found.failed == 0


def test_a_net_between_resistors_in_series_has_a_range_of_its_own():
    found = spread(topo.loads("supply vcc 10V\nR1 1k : vcc m\nR2 2k : m n\nR3 2k : n gnd"))
    inner, drawn = found.inner_voltage("n"), found.point.inner_volts

    assert set(drawn) == {"m", "n"}
    assert inner.typical == pytest.approx(4.0)
    assert inner.low == pytest.approx(3.6, abs=0.15)
    assert inner.high == pytest.approx(4.4, abs=0.15)
    assert found.inner_voltage("m").high > 8.0
