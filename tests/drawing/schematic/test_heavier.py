"""Parts in a heavier line."""

import re

import topo
from topo.drawing import figure

STAGE = """
supply vcc 9V
input in
output out
C1 10u : in b
R1 100k : vcc b
R2 22k : b gnd
R3 2k2 : vcc out
R4 470 : e gnd
Q1 npn : b=b c=out e=e
"""


def test_parts_are_drawn_in_a_heavier_line_with_the_wires_that_join_nothing_but_them():
    reading = topo.read(topo.loads(STAGE))

    plain = figure(reading).svg
    svg = figure(reading, heavier=["Q1", "R4"]).svg

    heavy = [float(weight) for weight in re.findall(r'<g fill="none" stroke="#000000" stroke-width="([\d.]+)"', svg)]
    assert len(heavy) == 4 and max(heavy) > 1.5 * min(heavy)
    assert len(re.findall('class="w"', svg)) == len(re.findall('class="w"', plain))


def test_a_figure_without_heavier_parts_has_one_weight_of_wires():
    svg = figure(topo.read(topo.loads(STAGE)), heavier=["R99"]).svg

    assert len(re.findall(r'<g fill="none" stroke="#000000"', svg)) == 2
