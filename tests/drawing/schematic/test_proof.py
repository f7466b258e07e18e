"""The reading back of a figure notices what is drawn otherwise than the circuit says."""

import re
from importlib import import_module

import pytest

import topo
from topo.drawing import figure
from topo.drawing.schematic import DrawingError
from topo.drawing.schematic.engine import draw, prove
from topo.drawing.schematic.writing import svg_of

STAGE = """
circuit Stage
supply vcc 9V
input in
R1 100k : vcc b
R2 22k : b gnd
C1 electrolytic 10u : b in
Q1 npn : b=b c=c e=e
R3 4k7 : vcc c
R4 1k : e gnd
C2 electrolytic 100u : e gnd
D1 diode : c d
R5 1k : d gnd
"""


@pytest.fixture(scope="module")
def good():
    circuit = topo.loads(STAGE)
    drawing = draw(circuit)
    return circuit, drawing, svg_of(drawing, "Stage", "")


def refuses(good, svg):
    circuit, drawing, _ = good
    with pytest.raises(DrawingError) as caught:
        prove(svg, circuit, drawing)
    return str(caught.value)


def test_a_true_figure_passes(good):
    circuit, drawing, svg = good
    prove(svg, circuit, drawing)


def test_each_missing_wire_is_noticed(good):
    wires = re.findall(r'<path class="w"[^>]*/>', good[2])
    assert len(wires) > 5
    for wire in wires:
        refuses(good, good[2].replace(wire, "", 1))


def test_each_missing_dot_is_noticed(good):
    dots = re.findall(r'<circle class="dot"[^>]*/>', good[2])
    assert dots
    for dot in dots:
        assert "dot" in refuses(good, good[2].replace(dot, "", 1))


def test_each_shifted_symbol_is_noticed(good):
    for match in re.finditer(r"matrix\((-?\d+ -?\d+ -?\d+ -?\d+) (-?\d+) (-?\d+)\)", good[2]):
        moved = f"matrix({match[1]} {int(match[2]) + 1} {match[3]})"
        refuses(good, good[2][: match.start()] + moved + good[2][match.end() :])


def test_each_reversed_two_ended_part_is_noticed(good):
    turned = 0
    for match in re.finditer(r'data-symbol="(diode|electrolytic)"[^>]*matrix\((-?\d+) (-?\d+) ([^)]*)\)', good[2]):
        start = match.start(2)
        end = match.end(3)
        swapped = f"{-int(match[2])} {-int(match[3])}"
        refuses(good, good[2][:start] + swapped + good[2][end:])
        turned += 1
    assert turned == 3


def test_another_polarity_of_a_transistor_is_noticed(good):
    assert "Q1" in refuses(good, good[2].replace('data-symbol="npn"', 'data-symbol="pnp"'))


def test_a_rail_of_another_name_is_noticed_and_named(good):
    assert "vcc" in refuses(good, good[2].replace('data-name="vcc"', 'data-name="vdd"', 1))


def test_a_wire_between_two_nets_is_noticed_and_both_are_named():
    circuit = topo.loads("supply vcc 9V\nR1 1k : vcc a\nR2 1k : a gnd\nR3 1k : vcc b\nR4 1k : b gnd\n")
    drawing = draw(circuit)
    svg = svg_of(drawing, "", "")
    wires = re.findall(r'class="w" d="M(-?\d+) (-?\d+)L(-?\d+) (-?\d+)"', svg)
    (ax, ay, *_), (bx, by, *_) = wires[0], wires[-1]
    bridge = f'<path class="w" d="M{ax} {ay}L{bx} {ay}"/><path class="w" d="M{bx} {ay}L{bx} {by}"/>'
    told = refuses((circuit, drawing, svg), svg.replace("</g>", bridge + "</g>", 1))
    assert "the nets a, b are joined" in told


def test_a_figure_that_fails_its_proof_is_not_given(monkeypatch):
    composing = import_module("topo.drawing.schematic.composing")
    broken = lambda *arguments, **options: svg_of(*arguments, **options).replace('class="w"', 'class="x"', 1)  # noqa: E731
    monkeypatch.setattr(composing, "svg_of", broken)
    with pytest.raises(DrawingError, match="Internal error"):
        figure(topo.read(topo.loads(STAGE)))
