"""Tuned circuits that should agree: a capacitor ten times off is told, circuits of other frequencies are not."""

import topo
from topo.reading.tanks import untuned

STAGES = """supply vcc 9V
T1 transformer 60:8 primary=47u : vcc c1 | b2 gnd
C1 {first} : vcc c1
T2 transformer 60:8 primary=47u : vcc c2 | b3 gnd
C2 {second} : vcc c2
C3 13p : vcc c2
"""


def told(text):
    return {problem.place.line: f"{problem.message} {problem.mend}" for problem in untuned(topo.loads(text))}


def test_a_tuning_capacitor_ten_times_too_large_is_told_with_the_one_that_fits():
    found = told(STAGES.format(first="113p", second="1n"))

    assert "C2 (1 nF) tunes T2 to 729 kHz" in found[5]
    assert "100 pF would tune it to 2.18 MHz, as T1 is" in found[5]


def test_circuits_that_agree_are_right():
    assert told(STAGES.format(first="113p", second="100p")) == {}


def test_circuits_of_two_frequencies_are_right():
    assert told(STAGES.format(first="220p", second="100p")) == {}


def test_the_whole_winding_counts_by_its_turns():
    text = "T1 transformer 10:60 primary=1u : a gnd | b gnd\nC1 100p : b gnd\nL1 36u : c gnd\nC2 1n : c gnd\n"

    assert sorted(told(text)) == [2, 4]
