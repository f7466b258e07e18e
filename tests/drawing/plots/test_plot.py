"""Plots of a circuit under drive."""

import re
import xml.etree.ElementTree as ElementTree
from functools import cache

import pytest

import topo
from topo.drawing.plots import plot
from topo.errors import CircuitError

PAIR = """
circuit Pair & <load>
supply vp 9V
supply vn -9V
input in
output out
signal 300Hz to 3.4kHz
R1 2k2 : vp high
D1 diode : high in
D2 diode : in low
R2 2k2 : low vn
Q1 npn : b=high c=vp e=e1
Q2 pnp : b=low c=vn e=e2
R3 0R47 : e1 out
R4 0R47 : e2 out
LS1 speaker 16 : out gnd
"""


@cache
def made(kind, width=170.0):
    return plot(topo.read(topo.loads(PAIR)), kind, width=width)


def test_waveforms_show_input_both_currents_and_output_with_and_without_bias():
    found = made("waveforms")

    words = re.findall(r"<text[^>]*>([^<]*)</text>", found.svg)
    assert words.count("Q1") == words.count("Q2") == 2
    assert {"With bias", "Without bias"} <= set(words)
    assert any(word.startswith("Output in ") for word in words)
    assert any(word.startswith("Time in ") for word in words)


def test_without_bias_there_is_more_distortion_and_each_device_conducts_for_less():
    numbers = made("waveforms").numbers
    biased, bare = numbers["with_bias"], numbers["without_bias"]

    assert bare["distortion"] > biased["distortion"]
    assert bare["conduction_deg"]["Q1"] < 180 <= biased["conduction_deg"]["Q1"]


def test_a_plot_has_its_width_in_millimetres_and_type_of_eight_points():
    for width in (85.0, 170.0):
        svg = made("transfer", width).svg
        assert re.search(r'width="([\d.]+)mm"', svg).group(1) == f"{width:g}"
        # The unit of the view is the point, so that a size in it is a size in print.
        view = float(re.search(r'viewBox="0 0 ([\d.]+)', svg).group(1))
        assert view == pytest.approx(width * 72 / 25.4, abs=0.01)
        assert set(re.findall(r'<text[^>]*font-size="([\d.]+)"', svg)) == {"8"}


def test_what_a_user_typed_is_quoted():
    assert ElementTree.fromstring(made("transfer").svg).find("{*}title").text == "Pair & <load>: transfer curve"


def test_what_a_plot_rests_on_is_said():
    assert any("assumed values of D1, D2, Q1 and Q2" in note for note in made("transfer").notes)


def test_a_circuit_that_cannot_be_driven_says_why():
    reading = topo.read(topo.loads("supply vcc 9V\nR1 1k : vcc c\nQ1 npn : b=b c=c e=gnd\nR2 100k : vcc b\n"))

    with pytest.raises(CircuitError, match="cannot be driven"):
        plot(reading, "waveforms")
