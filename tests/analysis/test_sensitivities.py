"""Adjoint sensitivities against central differences of circuits solved anew."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from pytest import approx

from topo.analysis import apply_signal, bias_sensitivities, gain_sensitivities, operating_point
from topo.errors import CircuitError
from topo.netlist import load, loads

STEP = 2e-3

TWO_STAGES = """
    supply vcc 18V 47ohm
    input in
    output out
    signal 300Hz to 3kHz
    C1 1u : in b
    R1 100k : vcc x
    R2 47k : x b
    R12 220k : x b
    RT1 ntc 22k B=3500 : b gnd
    R4 4.7k : vcc c
    R5 470 : e m
    R6 330 : m gnd
    C2 10u : m gnd
    C4 4u7 : m gnd
    Q1 npn hFE=180 VA=70 : b=b c=c e=e
    Q2 pnp hFE=90 rb=50 re=0.5 : b=c c=out e=f
    R7 1k : vcc f
    VR1 5k at 30% : out w gnd
    C3 2.2u : w y
    R8 10k : y gnd
"""
FIELD_EFFECT = """
    supply v 24V
    input g
    output out
    signal 300Hz to 3kHz
    R1 1M : g gnd
    J1 njfet IDSS=6mA VP=-3 VA=120 : g=g d=d s=s
    Q5 pjfet IDSS=4mA VP=2 : g=d2 d=out s=q
    R2 2.2k : v d
    R3 560 : s gnd
    R4 47 : d d2
    R5 1.5k : q v
    R6 3.3k : out gnd
    Q3 nmos VTH=2 K=0.05 : g=h d=k s=gnd
    R7 100k : v h
    R8 15k : h gnd
    R9 1k : v k
    C1 10u : k out
""".replace("J1", "Q4")
PUSH_PULL = """
    supply p 9V
    supply n -9V
    input in
    output o
    signal 300Hz to 3kHz
    V1 source 0V : in gnd
    R1 2.2k : p bp
    D1 diode N=1.2 RS=2 : bp in
    D2 diode germanium : in bn
    R2 2.2k : bn n
    Q1 npn IS=1e-13 : b=bp c=p e=e1
    Q2 pnp IS=1e-13 : b=bn c=n e=e2
    R3 1 : e1 o
    R4 1.5 : e2 o
    LS1 speaker 8 : o gnd
"""
VALVES = """
    supply ht 250V
    input g
    output a
    signal 300Hz to 3kHz
    R1 1M : g gnd
    V1 ECC83 : a=a g=g k=k
    R2 100k : ht a
    R3 1.5k : k gnd
    C1 1u : a g2
    R4 470k : g2 gnd
    V2 EL84 tetrode : a=p g1=g2 g2=s k=k2
    R5 220 : ht s
    R6 150 : k2 gnd
    T1 transformer 20:1 primary=20H rdc=200 : ht p | sp gnd
    LS1 speaker 8 : sp gnd
"""
ZENER = """
    BT1 15V R=12 : v gnd
    input in
    output e
    signal 300Hz to 3kHz
    R1 470 : v z
    ZD1 5V6 : gnd z
    Q1 npn : b=z c=c e=e
    R2 220 : e gnd
    R3 330 : v c
    L1 10mH rdc=20 : c y
    R4 1k : y gnd
    C1 1u : in e
"""


RHEOSTATS = """
    supply v 15V
    input in
    output c
    signal 300Hz to 3kHz
    C1 1u : in b
    VR1 100k at 40% : v x x
    R1 47k : x b
    VR2 50k at 70% : 1=b w=gnd
    VR3 1k at 20% : 1=loose w=e 2=gnd
    R2 3.3k : v c
    Q1 npn : b=b c=c e=e
"""


def with_value(circuit, row, factor):
    """The circuit with one value of one part (or supply) multiplied."""
    if row.name in ("volts", "resistance"):
        moved = tuple(
            replace(s, **{row.name: getattr(s, row.name) * factor}) if s.net == row.ref else s for s in circuit.supplies
        )
        return replace(circuit, supplies=moved)
    parts = []
    for part in circuit.parts:
        if part.ref == row.ref:
            if row.name == "value":
                part = replace(part, value=row.value * factor)
            elif row.name.startswith("turns "):
                place = int(row.name.removeprefix("turns ")) - 1
                turns = tuple(figure * factor for figure in part.windings[place].turns)
                wound = replace(part.windings[place], turns=turns)
                part = replace(part, windings=(*part.windings[:place], wound, *part.windings[place + 1 :]))
            elif row.name == "at":
                part = replace(part, settings={**part.settings, "at": row.value * factor})
            else:
                part = replace(part, params={**part.params, row.name: row.value * factor})
        parts.append(part)
    return replace(circuit, parts=tuple(parts))


def differences(circuit, row, measure):
    """Percent a percent, by solving anew on either side."""
    up, down = (measure(with_value(circuit, row, 1.0 + sign * STEP)) for sign in (1, -1))
    return (math.log(abs(up)) - math.log(abs(down))) / (math.log1p(STEP) - math.log1p(-STEP))


CIRCUITS = {
    "two stages": TWO_STAGES,
    "fets": FIELD_EFFECT,
    "push-pull": PUSH_PULL,
    "valves": VALVES,
    "zener": ZENER,
    "rheostats": RHEOSTATS,
}


@pytest.mark.parametrize("name", list(CIRCUITS))
def test_sensitivities_of_quiescent_currents_agree_with_circuits_solved_anew(name):
    circuit = loads(CIRCUITS[name])
    found = bias_sensitivities(operating_point(circuit))

    assert found
    for device, rows in found.items():
        for row in rows:
            wanted = differences(circuit, row, lambda moved, ref=device: operating_point(moved).current(ref))
            assert row.percent == approx(wanted, rel=2e-3, abs=2e-4), (device, row)


@pytest.mark.parametrize("frequency", [60.0, None, 40e3])
@pytest.mark.parametrize("name", list(CIRCUITS))
def test_sensitivities_of_gain_agree_with_circuits_solved_anew(name, frequency):
    circuit = loads(CIRCUITS[name])
    out = circuit.outputs[0].net

    def gain(moved):
        return apply_signal(moved, generator_ohms=600.0, load=(out, 5e3)).gain(out, frequency)

    rows = gain_sensitivities(apply_signal(circuit, generator_ohms=600.0, load=(out, 5e3)), out, frequency)
    for row in rows:
        assert row.percent == approx(differences(circuit, row, gain), rel=3e-3, abs=3e-4), row


SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.net"))


@pytest.mark.parametrize("path", SAMPLES, ids=[path.stem for path in SAMPLES])
def test_sensitivities_of_a_whole_amplifier_agree_with_circuits_solved_anew(path):
    circuit = load(path)
    found = bias_sensitivities(operating_point(circuit))
    tables = {device: {(row.ref, row.name): row.percent for row in rows} for device, rows in found.items()}

    for row in next(iter(found.values())):
        up, down = (operating_point(with_value(circuit, row, 1.0 + sign * STEP)) for sign in (1, -1))
        for device, table in tables.items():
            ratio = math.log(abs(up.current(device) / down.current(device)))
            wanted = ratio / (math.log1p(STEP) - math.log1p(-STEP))
            assert table[row.ref, row.name] == approx(wanted, rel=3e-3, abs=5e-4), (device, row)


def test_held_sensitivities_are_those_of_the_network_at_its_operating_point():
    circuit = loads(TWO_STAGES)
    signal = apply_signal(circuit)
    held = {(row.ref, row.name): row.held for row in gain_sensitivities(signal, "out")}
    for ref in ("R4", "R5", "R8", "C1"):
        row = next(row for row in gain_sensitivities(signal, "out") if row.ref == ref and row.name == "value")

        def gain(moved, point=signal.network.point):
            graph = apply_signal(moved).network.graph
            return apply_signal(graph, replace(point, graph=graph)).gain("out")

        assert held[ref, "value"] == approx(differences(circuit, row, gain), rel=2e-3, abs=2e-4)


def test_every_part_with_a_value_is_among_them():
    circuit = loads(TWO_STAGES)
    rows = gain_sensitivities(apply_signal(circuit), "out")

    assert {part.ref for part in circuit.parts} <= {row.ref for row in rows}
    assert {("VR1", "at"), ("VR1", "value"), ("Q1", "hFE"), ("Q1", "VA"), ("vcc", "volts")} <= {
        (row.ref, row.name) for row in rows
    }


def test_the_turns_of_a_transformer_are_among_them_and_a_step_down_halves_the_signal():
    text = "input a\noutput s\nsignal 300Hz to 3kHz\nT1 transformer 2:1 primary=100H : a gnd | s gnd\nR1 1k : s gnd"
    rows = gain_sensitivities(apply_signal(loads(text)), "s")
    turns = next(row for row in rows if row.name == "turns 2")

    assert turns.value == approx(0.5)
    assert turns.percent == approx(1.0, abs=1e-3)  # Volts go as turns.


def test_the_wiper_of_a_rheostat_is_among_them():
    rows = bias_sensitivities(operating_point(loads(RHEOSTATS)))["Q1"]

    assert {row.ref for row in rows if row.name == "at"} == {"VR1", "VR2", "VR3"}


def test_the_current_of_a_resistor_fed_diode_rests_on_supply_and_resistor():
    # By hand: I = (V - VD) / R, so dI/I = -dR/R / (1 + rd/R), and V/(V - VD) as much for the supply.
    point = operating_point(loads("supply v 10V\nR1 1k : v a\nD1 diode : a gnd"))
    found = {row.ref: row.percent for row in bias_sensitivities(point)["D1"] if row.name in ("value", "volts")}
    drop, amperes = point.voltage("a"), point.current("R1")
    slope = 0.025864926 / amperes

    assert found["R1"] == approx(-1e3 / (1e3 + slope), rel=1e-5)
    assert found["v"] == approx(10.0 / (10.0 - drop) * 1e3 / (1e3 + slope), rel=1e-5)


def test_the_largest_comes_first():
    rows = bias_sensitivities(operating_point(loads(TWO_STAGES)))["Q1"]

    assert [abs(row.percent) for row in rows] == sorted((abs(row.percent) for row in rows), reverse=True)


def test_without_an_operating_point_there_are_none():
    with pytest.raises(CircuitError, match="R1"):
        bias_sensitivities(operating_point(loads("supply v 9V\nR1 ? : v a\nD1 diode : a gnd")))
