"""Expressions in three values: what is not known makes a condition undecided, and nothing is invented."""

from __future__ import annotations

import math

import pytest

from tests.matching.building import document_of, views_of
from topo.matching import Context, evaluate, figures, matches
from topo.matching.shelf import Library

# VCC - (R1 over R2) with 9 V: 4.5 V at the middle, 4.5 mA through both (Ohm's law); Q1 follows at a VBE below.
NETLIST = """
    supply vcc 9V
    input in
    output out
    signal 100Hz to 10kHz
    R1 1k : vcc mid
    R2 1k : mid gnd
    C1 10u : in mid
    Q1 npn : b=mid c=vcc e=out
    R3 ? : spare mid
    C2 1u : spare gnd
    R4 4k7 : out gnd
"""
BODY = """
roles:
  upper: {kind: resistor}
  lower: {kind: resistor}
  device: {kind: amplifying}
  foot: {kind: resistor, many: true}
  unknown: {kind: resistor, optional: true}
  missing: {kind: diode, optional: true}
nets: {rail: {is: rail}, mid: , spare: , out: }
joins:
  wire:
    - rail -upper- mid
    - mid -lower- gnd
    - mid = device.ctl
    - device.emt = out
    - out -foot- gnd
    - spare -unknown- mid
    - mid -missing- gnd
figures:
  current of both: {is: "(current(upper) + current(lower)) / 2", unit: A}
  standing: {is: "voltage(mid)", unit: V}
  sum of feet: {is: "sum(value(foot))", unit: ohm}
  corner: {is: "1 / (2 * pi * value(unknown) * 1 uF)", unit: Hz}
"""


@pytest.fixture(scope="module")
def bound():
    library = Library((document_of(BODY).pattern,))
    circuit = views_of(NETLIST)
    (match,) = matches(circuit, library)
    return match, Context(circuit, library)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("voltage(mid) > 4 V and voltage(mid) < 4.6 V", True),
        ("drop(upper) + drop(lower)", 9.0),
        ("value(foot)", [4700.0]),
        ("count(foot)", 1.0),
        ("parallel(value(upper), value(lower))", 500.0),
        ("sqrt(4) + log10(100) - abs(-1)", 3.0),
        ("2 ** 3", 8.0),
        ("band.low", 100.0),
        ("band.mid", 1000.0),
        ("pi", math.pi),
        ("equal(value(upper), value(lower), 1%)", True),
        ("1 < 2 < 3", True),
        ("3 < 2 or not 1 > 2", True),
        ("on(device)", True),
        ("saturated(device)", False),
        ("is_kind(upper, 'resistor')", True),
        ("is_rail(rail)", True),
        ("is_ground(mid)", False),
        ("held(mid)", False),
        ("same_net(mid, device.ctl)", True),
        ("word(device.ctl)", "base"),
        ("bound(upper)", True),
        ("bound(missing)", False),
        ("rf()", False),
        ("given(upper)", True),
        ("given(unknown)", False),
        ("drop(missing) > 1", None),
        ("value(unknown) > 1k", None),
        ("value(unknown) > 1k and 2 < 1", False),
        ("value(unknown) > 1k and 1 < 2", None),
        ("value(unknown) > 1k or 1 < 2", True),
        ("not value(unknown) > 1k", None),
        ("1 / 0", None),
        ("10 ** 400", None),
        ("10 ** 60 * 10 ** 60 * 10 ** 60 * 10 ** 60 * 10 ** 60 * 10 ** 60", None),
        ("sqrt(-1)", None),
        ("log10(0)", None),
        ("exp(1000)", None),
        ("above(value(upper), 1k)", 1000.0),
        ("above(value(upper), 2k)", None),
        ("below(value(upper), 2k)", 1000.0),
        ("below(value(upper), 1k)", None),
    ],
)
def test_each_form_has_its_value(bound, text: str, value):
    found = evaluate(text, *bound).value

    if isinstance(value, float):
        assert found == pytest.approx(value, rel=1e-6)
    else:
        assert found == value


def test_current_is_a_magnitude_whatever_the_direction(bound):
    # 4.5 V over 1 k, less what the base takes
    assert evaluate("current(upper)", *bound).value == pytest.approx(4.5e-3, rel=0.01)
    assert evaluate("current(device.ctl)", *bound).value == pytest.approx(
        evaluate("current(device) / hfe(device)", *bound).value, rel=0.01
    )


def test_transconductance_is_current_over_thermal_voltage(bound):
    # gm = IC / VT, common practice
    assert evaluate("gm(device)", *bound).value == pytest.approx(
        evaluate("current(device) / VT", *bound).value, rel=0.02
    )


def test_a_follower_has_nearly_unity_gain_in_phase(bound):
    assert 0.9 < evaluate("gain(device.ctl, device.emt)", *bound).value < 1.0


def test_figures_come_in_order_with_unit_and_status(bound):
    found = {figure.name: figure for figure in figures(*bound)}

    assert list(found) == ["current of both", "standing", "sum of feet", "corner"]
    assert found["standing"].unit == "V"
    assert found["sum of feet"].value == 4700.0
    assert (found["corner"].value, found["corner"].status) == (None, "not known")


def test_a_figure_knows_the_parts_that_it_rests_on(bound):
    found = {figure.name: figure for figure in figures(*bound)}

    assert found["current of both"].parts == ("R1", "R2")


TWO_FORMS = """
roles:
  feed: {kind: resistor}
variants:
  of many:
    roles:
      device: {kind: bipolar, many: true}
    nets: {rail: {is: rail}, mid: }
    joins:
      wire: [rail -feed- mid, mid = device.ctl]
  of one:
    roles:
      device: {kind: bipolar}
      stop: {kind: diode}
    nets: {rail: {is: rail}, mid: }
    joins:
      wire: [rail -feed- mid, mid = device.ctl, mid -stop> gnd]
figures:
  drops: {is: "sum(voltage(device.ctl))", unit: V}
"""


def test_a_role_that_only_one_variant_binds_many_to_is_summed_over_all_of_them():
    views = views_of("""
        supply vcc 10V
        R1 10k : vcc mid
        R2 10k : mid gnd
        Q1 npn hFE=1M : b=mid c=vcc e=one
        Q2 npn hFE=1M : b=mid c=vcc e=other
        R3 100k : one gnd
        R4 100k : other gnd
    """)
    library = Library((document_of(TWO_FORMS).pattern,))
    (match,) = matches(views, library)

    (drops,) = figures(match, Context(views, library))

    assert drops.value == pytest.approx(10.0, abs=0.01)  # 5 V at each of two bases (Ohm's law)
