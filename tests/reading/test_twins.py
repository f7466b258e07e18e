"""Parts in the same place on two sides of a circuit: one ten times its twin is told with it, graded ones not."""

import topo
from topo.reading.twins import turned_twins, unlike_twins

FLASHER = """supply vcc 9V
R1 470 : vcc a1
D1 led : a1 c1
R2 {one} : vcc b1
C1 10u electrolytic : c1 b2
Q1 npn : b=b1 c=c1 e=gnd
R3 470 : vcc a2
D2 led : a2 c2
R4 {other} : vcc b2
C2 10u electrolytic : c2 b1
Q2 npn : b=b2 c=c2 e=gnd
"""


def told(text):
    return {problem.place.line: f"{problem.message} {problem.mend}" for problem in unlike_twins(topo.loads(text))}


def test_a_timing_resistor_ten_times_its_twin_is_told_on_both_lines():
    found = told(FLASHER.format(one="4k7", other="47k"))

    assert sorted(found) == [4, 9]
    assert "47 kΩ would make R2 the same as R4" in found[4]


def test_twins_that_differ_by_another_factor_are_meant_so():
    assert told(FLASHER.format(one="33k", other="47k")) == {}


def test_of_three_channels_the_one_that_differs_is_told():
    channels = "".join(
        f"C{n} 100n : in{n} b{n}\nR{n} {value} : b{n} gnd\nQ{n} npn : b=b{n} c=c{n} e=gnd\nR1{n} 1k : vcc c{n}\n"
        for n, value in ((1, "47k"), (2, "47k"), (3, "4k7"))
    )

    assert sorted(told(f"supply vcc 9V\n{channels}")) == [11]


def test_large_and_small_capacitors_in_parallel_are_no_twins():
    assert told("supply vcc 9V\nC1 100u : vcc gnd\nC2 100n : vcc gnd\nR1 1k : vcc gnd\n") == {}


def test_the_ends_of_a_tapped_winding_are_two_sides():
    text = "supply vcc 9V\nT1 transformer 1:1+1 : p gnd | s1 gnd s2\nR1 10 : s1 b1\nR2 100 : s2 b2\n"
    text += "Q1 npn : b=b1 c=c1 e=gnd\nQ2 npn : b=b2 c=c2 e=gnd\nT2 transformer 1+1:1 : c1 vcc c2 | o gnd\n"

    assert sorted(told(text)) == [3, 4]


def test_an_electrolytic_that_lies_the_other_way_round_than_its_twin_is_told():
    text = FLASHER.format(one="47k", other="47k").replace("C2 10u electrolytic : c2 b1", "C2 10u electrolytic : b1 c2")
    found = {problem.place.line: problem.message for problem in turned_twins(topo.loads(text))}

    assert sorted(found) == [5, 10]


def test_diodes_of_a_bridge_are_no_twins_that_lie_wrong():
    text = "supply vcc 9V\nD1 : a p\nD2 : b p\nD3 : gnd a\nD4 : gnd b\nR1 1k : p gnd\nR2 10 : a b\n"

    assert not list(turned_twins(topo.loads(text)))
