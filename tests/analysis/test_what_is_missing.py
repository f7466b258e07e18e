"""Circuits that cannot be solved, or not wholly: a result that says what is missing, never an exception."""

import math

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.analysis.newton import Solver
from topo.netlist import loads


def point_of(text):
    return operating_point(loads(text))


def test_a_floating_gate_is_named_and_what_it_acts_on_is_not_known():
    point = point_of(
        "supply v 12V\nC1 1u : x g\nR1 1k : v d\nQ1 nmos : g=g d=d s=gnd\n"
        "R2 1k : v y\nR3 1k : y gnd\nR4 1k : x gnd\nD1 diode : y gnd"
    )

    assert point.status == "partly solved"
    assert math.isnan(point.voltage("g"))
    assert math.isnan(point.voltage("d"))
    assert math.isnan(point.current("Q1"))
    assert point.voltage("y") == approx(0.7, abs=0.1)
    assert any("net g has no path for direct current" in words and "d" in words for words in point.missing)


def test_a_missing_value_makes_only_its_surroundings_unknown():
    point = point_of(
        """
        supply v 12V
        R1 1k : v a
        R5 ? : a b
        R2 1k : b gnd
        D1 diode : gnd a
        D2 diode : gnd b
        R3 1k : v x
        D3 diode : x gnd
        """
    )

    assert point.status == "partly solved"
    assert math.isnan(point.voltage("a"))
    assert math.isnan(point.current("R5"))
    assert point.voltage("x") == approx(0.7, abs=0.1)
    assert point.missing == ("R5 has no value: give one to get the voltages of a, b",)


def test_a_missing_value_between_two_rails_hides_nothing_but_its_own_current():
    point = point_of("supply v 12V\nR5 ? : v gnd\nR1 1k : v a\nD1 diode : a gnd")

    assert point.voltage("a") == approx(0.7, abs=0.1)
    assert math.isnan(point.current("R5"))
    assert math.isnan(point.supply_currents["v"])
    assert "its current" in point.missing[0]


def test_a_gate_carries_an_unknown_on_but_not_back():
    point = point_of(
        """
        supply v 12V
        R5 ? : v g
        R1 1k : g gnd
        Q1 nmos : g=g d=d s=gnd
        R2 1k : v d
        """
    )
    assert math.isnan(point.voltage("d"))

    point = point_of(
        """
        supply v 12V
        R3 1k : v g
        R1 1k : g gnd
        Q1 nmos : g=g d=d s=gnd
        R5 ? : v d
        """
    )
    assert point.voltage("g") == approx(6.0)
    assert math.isnan(point.voltage("d"))


def test_a_grid_leak_without_a_value_does_not_matter():
    point = point_of("supply v 12V\nR5 ? : g gnd\nR1 1k : v d\nR2 100 : s gnd\nQ1 njfet : g=g d=d s=s")

    assert point.status == "solved"
    assert point.voltage("g") == approx(0.0, abs=1e-6)


def test_a_capacitor_without_a_value_does_not_matter_at_rest():
    assert point_of("supply v 12V\nR1 1k : v a\nC1 ? : a gnd\nD1 diode : a gnd").status == "solved"


def test_an_isolated_winding_with_its_load_has_no_voltage_to_know_and_nothing_is_missing():
    point = point_of(
        "supply v 9V\nT1 transformer 3:1 : v a | s1 s2\nR1 1k : a gnd\nR2 8 : s1 s2\nR3 8 : s1 t\nR4 1 : t s2"
    )

    assert point.status == "solved"
    assert point.voltage("a") == approx(9.0, abs=1e-3)
    assert math.isnan(point.voltage("s1"))
    assert point.current("R2") == approx(0.0, abs=1e-12)


def test_a_diode_on_an_isolated_winding_is_minded():
    point = point_of("supply v 9V\nT1 transformer 3:1 : v a | s1 s2\nR1 1k : a gnd\nD1 diode : s1 t\nR2 1k : t s2")

    assert point.status == "partly solved"
    assert "s1, t, s2 have no path" in point.missing[0]


def test_contradictory_sources_are_named():
    point = point_of("supply v 9V\nBT1 battery 12V : v gnd\nR1 1k : v gnd")

    assert point.status == "partly solved"
    assert "BT1" in point.missing[0]
    assert "take one of them away" in point.missing[0]
    assert math.isnan(point.voltage("v"))
    assert math.isnan(point.supply_currents["v"])


@pytest.mark.parametrize(
    ("part", "name"), [("D1 diode : v gnd", "D1"), ("Q1 npn : b=v c=v e=gnd", "Q1"), ("L1 choke 1mH : v gnd", "L1")]
)
def test_a_current_that_nothing_limits_is_not_known_and_its_part_is_named(part, name):
    point = point_of(f"supply v 9V\n{part}\nR1 1k : v gnd")

    assert point.missing == (f"nothing limits the current in {name}: is a resistor missing, or a supply misplaced?",)
    assert math.isnan(point.current(name))
    assert math.isnan(point.supply_currents["v"])


def test_what_is_rectified_from_an_alternating_source_is_not_a_voltage_at_rest():
    point = point_of("V1 source 20V 50Hz : s gnd\nD1 diode : s dc\nC1 1000u : dc gnd\nR1 1k : dc gnd")

    assert math.isnan(point.voltage("dc"))
    assert point.missing[0].startswith("V1 alternates")


def test_a_generator_of_alternating_voltage_leaves_the_voltages_at_rest_alone():
    point = point_of("supply v 9V\nV1 source 1V 1kHz : in gnd\nC1 1u : in m\nR1 1k : v m\nR2 2k : m gnd")

    assert point.status == "solved"
    assert point.voltage("in") == 0.0
    assert point.voltage("m") == approx(6.0)


def test_sources_that_agree_are_no_contradiction():
    assert point_of("supply v 9V\nBT1 battery 9V : v gnd\nR1 1k : v gnd").status == "solved"


def test_a_supply_on_a_regulated_net_stands_as_measured():
    point = point_of("supply u 12V\nsupply v 5.2V\nU1 regulator 5V : in=u out=v common=gnd\nR1 1k : v gnd")

    assert point.status == "solved"
    assert point.voltage("v") == 5.2


def test_a_regulator_whose_input_is_not_drawn_holds_its_output():
    point = point_of("U1 regulator 5V : in=u out=v common=gnd\nC1 1u : u gnd\nR1 1k : v gnd")

    assert point.voltage("v") == approx(5.0)
    assert any("net u has no path" in words for words in point.missing)


def test_a_junction_across_a_supply_is_named():
    point = point_of("supply v 9V\nD1 diode : v gnd\nR1 1k : v gnd")

    assert any("D1" in words and "limits" in words for words in point.missing)


def test_no_convergence_is_a_result_in_words(monkeypatch):
    original = Solver.solve

    def never(self):
        found = original(self)
        found.converged = False
        return found

    monkeypatch.setattr(Solver, "solve", never)
    point = point_of("supply v 9V\nR1 1k : v a\nD1 diode : a gnd")

    assert point.status == "not solved"
    assert "did not converge" in point.missing[-1]
    assert math.isnan(point.voltage("a"))
    assert math.isnan(point.current("D1"))


def test_a_circuit_without_ground_or_supply_still_gives_a_result():
    point = point_of("R1 1k : a b\nR2 1k : b c\nQ1 npn : b=b c=a e=c")

    assert point.status == "partly solved"


def test_an_empty_circuit_gives_a_result():
    from topo.netlist.circuit import Circuit

    assert operating_point(Circuit()).status == "solved"


def test_every_kind_of_part_alone_gives_a_result():
    from topo.netlist.circuit import Circuit, Part, Terminal
    from topo.netlist.kinds import KINDS

    for kind in KINDS:
        names = kind.terminals or ("1", "2", "3", "4", "5")
        part = Part("X1", kind.name, tuple(Terminal(name, f"n{name}") for name in names))

        assert operating_point(Circuit(parts=(part,))).status in ("solved", "partly solved")


def test_a_collector_hangs_on_the_base_of_a_transistor_whose_emitter_is_grounded():
    point = operating_point(
        loads(
            "supply vcc 9V\nR1 ? : vcc a\nQ1 npn : b=a c=b e=gnd\nR2 1k : vcc b\n"
            "R3 1k : vcc x\nQ2 npn : b=x c=y e=gnd\nR4 1k : vcc y"
        )
    )

    assert math.isnan(point.voltage("b"))
    assert point.voltage("y") == approx(0.05, abs=0.05)


def test_a_supply_shorted_by_a_switch_names_the_switch():
    point = point_of("supply v 9V\nS1 switch closed : v gnd\nR1 1k : v gnd")

    assert point.missing == ("supply v of 9 V is shorted to ground by S1: which of the connections is wrong?",)
    assert math.isnan(point.supply_currents["v"])
    assert point.volts[0] == 0.0


def test_two_supplies_joined_by_a_switch_name_each_other_and_the_switch():
    point = point_of("supply a 9V\nsupply b 12V\nS1 switch closed : a b\nR1 1k : a gnd")

    assert point.missing == ("supply b of 12 V is joined to supply a of 9 V by S1: which of the connections is wrong?",)
    assert math.isnan(point.voltage("a"))


def test_batteries_in_a_loop_have_no_known_current():
    point = point_of("BT1 battery 9V : a b\nBT2 battery 9V : b c\nBT3 battery 9V : c a\nR1 1k : a gnd")

    assert all(math.isnan(amperes) for amperes in point.supply_currents.values())
    assert "BT3" in point.missing[0]


def test_an_output_on_a_supply_has_no_known_current():
    point = point_of("supply v 12V\nU1 opamp : in+=a in-=b out=v\nR1 1k : a gnd\nR2 1k : b gnd")

    assert math.isnan(point.supply_currents["v"])
    assert "on a wrong net" in point.missing[0]
