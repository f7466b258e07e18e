"""Each drawing says what its circuit says, and nothing in it lies on anything else."""

import random
from functools import cache
from pathlib import Path

import pytest

import topo
from topo.drawing import figure
from topo.errors import UsageError

ROOT = Path(__file__).parents[3]
SAMPLES = sorted((ROOT / "samples").glob("*.net"))
SMALL = [path for path in SAMPLES if path.stem not in ("hf-link", "hall-amplifier", "watch-receiver")]
ALL_KINDS = """
circuit One of each
supply vcc 12V
supply vee -12V
input in
output out
R1 1k : in a
VR1 10k : a b gnd
TH1 ntc 1k : b c
C1 1u : c d
C2 electrolytic 10u : d e
L1 1m : e f
L2 choke 1m : f g
FB1 bead 30 : g h
T1 transformer 1+1:2 : h vcc i | j gnd
D1 diode : j k
D2 zener 5V6 : gnd k
D3 led : k l
D4 varactor : gnd l
Q1 npn : b=l c=m e=gnd
Q2 pnp : b=m c=n e=vcc
Q3 njfet : g=n d=o s=gnd
Q4 pjfet : g=o d=p s=vcc
Q5 nmos : g=p d=q s=gnd
Q6 pmos : g=q d=r s=vcc
V1 triode : a=s g=r k=gnd h1=h1 h2=h2
V2 pentode : a=t g1=s g2=vcc g3=gnd k=gnd
U1 opamp : in+=t in-=u out=u v+=vcc v-=vee
REG1 regulator 5V : in=vcc out=v common=gnd
BT1 battery 9V : w gnd
LS1 speaker 8 : u x
MK1 microphone : w x
AE1 antenna : x gnd
M1 meter : v y
LP1 lamp 10 : y gnd
F1 fuse 1A : w z
Y1 crystal 1MHz : z aa
S1 switch closed : aa bb
S2 switch open : bb out
R2 1k : out vee
R3 1k : h1 h2
"""


@cache
def drawn(path, detail):
    reading = topo.read(topo.load(path))
    return figure(reading if detail == "whole" else topo.reduce(reading, detail=detail))


def assert_clean(result):
    found = result.metrics
    assert (found.symbol_overlaps, found.wires_through_symbols, found.four_way) == (0, 0, 0)


@pytest.mark.parametrize("detail", ["whole", "working", "principle"])
@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
def test_a_sample_is_drawn_without_overlaps(path, detail):
    result = drawn(path, detail)
    assert_clean(result)
    assert result.metrics.text_overlaps == 0
    assert result.metrics.flags == 0
    assert result.metrics.crossings <= 1 + result.metrics.parts / 20
    assert result.metrics.bends <= result.metrics.parts


@pytest.mark.parametrize("name", ["hf-link", "hall-amplifier"])
def test_a_large_sample_is_drawn_without_overlaps_and_with_few_crossings(name):
    result = drawn(ROOT / "samples" / f"{name}.net", "principle")
    assert_clean(result)
    assert result.metrics.text_overlaps == 0
    assert result.metrics.crossings <= 1 + result.metrics.parts / 20
    assert result.metrics.bends <= 0.7 * result.metrics.parts


def test_every_kind_of_part_is_drawn():
    result = figure(topo.read(topo.loads(ALL_KINDS)))
    assert_clean(result)
    assert {part.ref for part in result.circuit.parts} <= set(result.svg.replace('"', " ").split())


def random_netlist(seed):
    rng = random.Random(seed)
    nets = ["vcc", "gnd", *(f"n{number}" for number in range(rng.randint(3, 9)))]
    lines = ["supply vcc 9V", "input n0"]
    for number in range(rng.randint(3, 12)):
        kind = rng.choice(["R", "C", "D", "Q", "Q", "P", "L"])
        if kind in "QP":
            b, c, e = rng.choice(nets), rng.choice(nets), rng.choice(nets)
            lines.append(f"Q{number} {'npn' if kind == 'Q' else 'pnp'} : b={b} c={c} e={e}")
        else:
            value = {"R": "1k", "C": "1u", "D": "", "L": "1m"}[kind]
            lines.append(f"{kind}{number} {value} : {' '.join(rng.sample(nets, 2))}")
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(30))
def test_a_random_circuit_is_drawn_as_it_is(seed):
    assert_clean(figure(topo.read(topo.loads(random_netlist(seed)))))


def test_nets_that_enter_a_section_are_drawn_as_inputs_and_those_that_leave_as_outputs():
    reading = topo.read(topo.load(ROOT / "samples" / "hf-link.net"))
    shown = figure(topo.reduce(reading, detail="working"), section="Final")
    assert [port.net for port in shown.circuit.inputs] == ["f1", "f2"]
    assert "aerial" in [port.net for port in shown.circuit.outputs]


def test_where_nothing_is_left_to_draw_a_message_says_so():
    with pytest.raises(UsageError, match="nothing is left to draw"):
        figure(topo.read(topo.loads("supply v 9V")))
