"""Typical parameters by type number: taken where nothing is said, and said to be assumed."""

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.netlist import loads


def stage(what):
    return operating_point(loads(f"supply v 12V\nR1 470k : v b\nR2 1k : v c\nR3 220 : e gnd\n{what} : b=b c=c e=e"))


def test_a_known_type_has_its_typical_values_and_says_so():
    point = stage("Q1 2N3904 VA=1e6")

    assert point.current("Q1") / point.current("Q1", "b") == approx(200, rel=1e-3)
    assert point.assumed["Q1"] == "typical values of 2N3904 assumed: IS 6.7 fA, hFE 200"


def test_what_a_part_says_wins_over_its_type():
    point = stage("Q1 2N3904 hFE=80 VA=1e6 IS=1e-14")

    assert point.current("Q1") / point.current("Q1", "b") == approx(80, rel=1e-3)
    assert "Q1" not in point.assumed


def test_a_device_statement_wins_over_the_data_value_by_value():
    text = "device 2N3904 npn hFE=80\nsupply v 12V\nR1 470k : v b\nR2 1k : v c\nQ1 2N3904 : b=b c=c e=gnd"
    point = operating_point(loads(text))

    assert point.assumed["Q1"] == "typical values of 2N3904 assumed: IS 6.7 fA, VA 74 V"


@pytest.mark.parametrize(
    "what, words",
    [
        ("Q1 npn 2N1234", "2N1234 is not in the data: silicon defaults (IS 10 fA, hFE 100)"),
        ("Q1 npn AC999", "AC999 is not in the data: germanium defaults (IS 1 uA, hFE 80)"),
        ("Q1 npn", "silicon with typical parameters assumed (IS 10 fA, hFE 100), since no type is given"),
    ],
)
def test_an_unknown_type_has_the_defaults_of_its_material_and_says_so(what, words):
    assert stage(what).assumed["Q1"] == words


def test_a_type_of_the_other_polarity_is_not_used():
    assert stage("Q1 npn 2N3906").assumed["Q1"].startswith("2N3906 is pnp in the data and npn here: silicon defaults")


@pytest.mark.parametrize("what", ["Q1 pmos BS250", "Q1 pjfet 2N5460"])
def test_p_channel_types_conduct_towards_their_source_at_the_supply(what):
    gate = "R3 1M : g gnd" if "pmos" in what else "R3 1M : g v"
    point = operating_point(loads(f"supply v 12V\nR1 100 : v s\nR2 100 : d gnd\n{gate}\n{what} : g=g d=d s=s"))

    assert point.states[point.graph.element_of["Q1"]] in ("on", "saturated")


@pytest.mark.parametrize(
    "name, anode, screen, grid, amperes, slope",
    [
        ("6V6", 250, 250, -12.5, 45e-3, 4.1e-3),
        ("EL84", 250, 250, -7.3, 48e-3, 11.3e-3),
        ("EF86", 250, 140, -2.0, 3e-3, 2.2e-3),
    ],
)
def test_fitted_valves_carry_their_published_current_and_slope(name, anode, screen, grid, amperes, slope):
    # Published working points, from memory.
    def current(volts):
        kind = "tetrode" if name == "6V6" else "pentode"
        third = "" if name == "6V6" else " g3=gnd"
        text = (
            f"supply a {anode}V\nsupply s {screen}V\nsupply g {volts}V\nV1 {kind} {name} : a=a g1=g g2=s k=gnd{third}"
        )
        return operating_point(loads(text)).current("V1")

    assert current(grid) == approx(amperes, rel=0.02)
    assert (current(grid + 0.05) - current(grid - 0.05)) / 0.1 == approx(slope, rel=0.1)


@pytest.mark.parametrize(
    "name, anode, grid, amperes",
    [("6SN7", 250, -8, 9e-3), ("6SL7", 250, -2, 2.3e-3), ("12AX7", 250, -2, 1.2e-3), ("12AU7", 250, -8.5, 10.5e-3)],
)
def test_triodes_carry_their_published_current(name, anode, grid, amperes):
    # Published working points, from memory; a fit over the whole field is some way off at any one of them.
    text = f"supply a {anode}V\nsupply g {grid}V\nV1 {name} : a=a g=g k=gnd"

    assert operating_point(loads(text)).current("V1") == approx(amperes, rel=0.25)
