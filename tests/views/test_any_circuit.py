"""Views are made of whatever can be read: random circuits, most of them nonsense, never fail and keep the rules."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from viewing import seen

from topo.views.kinds import DEVICES, electrodes
from topo.views.leads import at_zero, leads

NETS = st.sampled_from(["vcc", "gnd", "a", "b", "c", "d", "e"])
TWO = st.sampled_from(
    [
        "resistor 1k",
        "resistor ?",
        "capacitor 10n",
        "electrolytic 10u",
        "capacitor ?",
        "inductor 10u",
        "choke 1m",
        "bead",
        "diode",
        "zener 5V6",
        "speaker 8",
        "lamp 12V 50mA",
        "crystal 9MHz",
        "switch open",
        "battery 3V",
        "antenna 50",
    ]
)
THREE = st.sampled_from(
    ["npn : b={} c={} e={}", "pnp : b={} c={} e={}", "nmos : g={} d={} s={}", "triode : g={} a={} k={}"]
)


@st.composite
def netlists(draw):
    lines = ["supply vcc 9V", "signal 300Hz to 3.4kHz"]
    for number in range(draw(st.integers(1, 7))):
        lines.append(f"X{number} {draw(TWO)} : {draw(NETS)} {draw(NETS)}")
    for number in range(draw(st.integers(0, 3))):
        lines.append(f"Y{number} " + draw(THREE).format(draw(NETS), draw(NETS), draw(NETS)))
    if draw(st.booleans()):
        lines.append(f"P1 pot 10k at 30% : {draw(NETS)} {draw(NETS)} {draw(NETS)}")
    if draw(st.booleans()):
        lines.append(
            f"T1 transformer 1:1+1 primary=1H : {draw(NETS)} {draw(NETS)} | {draw(NETS)} {draw(NETS)} {draw(NETS)}"
        )
    if draw(st.booleans()):
        lines.append(f"input {draw(NETS)}")
    return "\n".join(lines)


@settings(deadline=None, max_examples=150)
@given(netlists())
def test_views_of_any_circuit_keep_their_rules(text):
    found = seen(text)

    for view in (found.views.wire, found.views.dc, *found.views.signals):
        assert all(view.class_of[cls] == cls for cls in view.class_of)
        assert view.zero == 0 and view.zero in view.rails
        for branch in view.branches:
            assert branch.ends == tuple(view.class_of[node] for node in branch.nodes)
        for node, cls in enumerate(view.class_of):
            assert view.why(node, cls) is not None
    for element in found.graph.elements:
        if element.kind in DEVICES:
            for sort, name in zip(("ctl", "emt", "col"), electrodes(element), strict=True):
                for view in (found.views.wire, found.views.dc, found.views.signal):
                    first = leads(found.views, view, element.index, name, sort=sort)[0]
                    assert first.target == view.class_of[element.node(name)] and first.passed == ()
                at_zero(found.views, element.index, name, sort)


@pytest.mark.parametrize("text", ["", "supply vcc 9V", "R1 1k : a b", "supply vcc 9V\nR1 1k : vcc gnd"])
def test_views_of_next_to_nothing_are_made(text):
    assert seen(text + "\n").views.signal.zero == 0
