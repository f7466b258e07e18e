"""Random circuits: all of them are solved, Kirchhoff's current law holds, and nothing goes out of bounds."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from topo.analysis import operating_point
from topo.netlist import loads

OHMS = st.sampled_from([10, 47, 100, 330, 1e3, 4.7e3, 10e3, 47e3, 220e3])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(OHMS, OHMS), min_size=1, max_size=12), st.sampled_from([3.0, 9.0, 24.0]))
def test_a_ladder_of_resistors_agrees_with_its_continued_fraction(rungs, supply):
    lines = [f"supply v {supply}V"]
    for number, (along, across) in enumerate(rungs):
        before = "v" if number == 0 else f"n{number - 1}"
        lines += [f"R{2 * number} {along} : {before} n{number}", f"R{2 * number + 1} {across} : n{number} gnd"]
    point = operating_point(loads("\n".join(lines)))

    seen = math.inf
    towards = []
    for along, across in reversed(rungs):
        shunt = across if math.isinf(seen) else across * seen / (across + seen)
        towards.append(shunt / (along + shunt))
        seen = along + shunt
    volts = supply
    for number, share in enumerate(reversed(towards)):
        volts *= share
        assert point.voltage(f"n{number}") == approx(volts, rel=1e-9, abs=1e-12)


@st.composite
def amplifiers(draw):
    """A chain of common arrangements, each fed from the one before."""
    supply = draw(st.sampled_from([5, 9, 12, 24]))
    lines, feed = [f"supply v {supply}V", "R900 100k : v n0", "R901 47k : n0 gnd"], "n0"
    for number in range(draw(st.integers(1, 5))):
        kind = draw(
            st.sampled_from(["emitter", "follower", "pnp", "mirror", "pair", "jfet", "mosfet", "diodes", "germanium"])
        )
        r = [draw(OHMS) for _ in range(3)]
        i, out = number, f"n{number + 1}"
        lines += {
            "emitter": [f"Q{i}0 npn : b={feed} c={out} e=e{i}", f"R{i}0 {r[0]} : v {out}", f"R{i}1 {r[1]} : e{i} gnd"],
            "germanium": [
                f"Q{i}0 npn germanium : b={feed} c={out} e=e{i}",
                f"R{i}0 {r[0]} : v {out}",
                f"R{i}1 {r[1]} : e{i} gnd",
            ],
            "follower": [f"Q{i}0 npn VA=80 : b={feed} c=v e={out}", f"R{i}0 {r[0]} : {out} gnd"],
            "pnp": [f"Q{i}0 pnp : b={feed} c={out} e=e{i}", f"R{i}0 {r[0]} : e{i} v", f"R{i}1 {r[1]} : {out} gnd"],
            "mirror": [
                f"R{i}2 {r[2]} : {feed} d{i}",
                f"Q{i}0 npn : b=d{i} c=d{i} e=gnd",
                f"Q{i}1 npn : b=d{i} c={out} e=gnd",
                f"R{i}0 {r[0]} : v {out}",
            ],
            "pair": [
                f"Q{i}0 npn : b={feed} c=c{i} e=t{i}",
                f"Q{i}1 npn : b=r{i} c={out} e=t{i}",
                f"R{i}0 {r[0]} : v {out}",
                f"R{i}1 {r[1]} : t{i} gnd",
                f"R{i}2 {r[2]} : v c{i}",
                f"R{i}3 10k : v r{i}",
                f"R{i}4 10k : r{i} gnd",
            ],
            "jfet": [f"Q{i}0 njfet : g={feed} d={out} s=s{i}", f"R{i}0 {r[0]} : v {out}", f"R{i}1 {r[1]} : s{i} gnd"],
            "mosfet": [f"Q{i}0 pmos : g={feed} d={out} s=s{i}", f"R{i}0 {r[0]} : s{i} v", f"R{i}1 {r[1]} : {out} gnd"],
            "diodes": [f"D{i}0 diode : {feed} m{i}", f"D{i}1 led : m{i} {out}", f"R{i}0 {r[0]} : {out} gnd"],
        }[kind]
        feed = out
    return "\n".join(lines)


@settings(max_examples=200, deadline=None)
@given(amplifiers())
def test_chains_of_common_stages_are_solved_and_keep_kirchhoffs_law(text):
    circuit = loads(text)
    point = operating_point(circuit)

    assert point.status == "solved", point.missing
    assert point.residual < 1e-9
    at_node = np.zeros(len(point.volts))
    for element, currents in zip(point.graph.elements, point.currents, strict=True):
        np.add.at(at_node, list(element.nodes), currents)
    rails = {0, *point.graph.rails}
    assert max(abs(amperes) for node, amperes in enumerate(at_node) if node not in rails) < 1e-9
    top = circuit.supplies[0].volts
    assert all(-1e-3 <= volts <= top + 1e-3 for volts in point.volts)


@settings(max_examples=60, deadline=None)
@given(amplifiers(), st.randoms(use_true_random=False))
def test_the_order_of_the_lines_changes_no_voltage(text, random):
    lines = text.splitlines()
    turned = lines[:]
    random.shuffle(turned)
    first, second = operating_point(loads(text)), operating_point(loads("\n".join(turned)))

    for net in first.graph.nets:
        assert second.voltage(net) == approx(first.voltage(net), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(amplifiers())
def test_turning_polarities_over_mirrors_the_voltages(text):
    words = {"npn": "pnp", "pnp": "npn", "njfet": "pjfet", "pjfet": "njfet", "nmos": "pmos", "pmos": "nmos"}
    lines = []
    for line in text.splitlines():
        what, colon, where = line.partition(" : ")
        if line.startswith("D"):
            where = " ".join(reversed(where.split()))
        what = " ".join(words.get(word, word) for word in what.split())
        lines.append(what.replace("supply v ", "supply v -") + colon + where)
    first, second = operating_point(loads(text)), operating_point(loads("\n".join(lines)))

    for net in first.graph.nets:
        assert second.voltage(net) == approx(-first.voltage(net), abs=1e-6)
