"""Normalising: what is merged, what is a link, what must stay."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from topo.graph import normalise
from topo.netlist import loads


def elements(text):
    return {element.name: element for element in normalise(loads(text)).elements}


def merges(text):
    return {(merge.rule, merge.parts) for merge in normalise(loads(text)).merges}


def test_resistors_about_an_empty_net_become_one():
    found = elements("supply v 9V\nR1 1k : v a\nR2 2k : a b\nR3 3k : b gnd\nQ1 npn : b=b c=v e=gnd")

    assert set(found) == {"R1+R2", "R3", "Q1"}
    assert found["R1+R2"].value == 3e3
    assert found["R1+R2"].members == ("R1", "R2")


def test_a_net_inside_a_series_is_kept_by_name():
    graph = normalise(loads("supply v 9V\nR1 1k : v a\nR2 2k : a gnd"))

    assert graph.inner == {"a": 0}
    assert "a" not in graph.nets
    assert "a" not in graph.node_of


def test_parallel_resistors_become_one():
    found = elements("supply v 9V\nR1 1k : v a\nR2 1k : a v\nD1 diode : a gnd")

    assert found["R1|R2"].value == approx(500)


def test_sets_within_sets_are_merged_until_nothing_changes():
    found = elements("supply v 9V\nR1 1k : v a\nR2 2k : a b\nR3 2k : b a\nR4 3k : b gnd")

    assert list(found) == ["R1+(R2|R3)+R4"]
    assert found["R1+(R2|R3)+R4"].value == approx(5e3)


def test_an_electrolytic_and_a_ceramic_capacitor_are_like():
    found = elements("supply v 9V\nC1 100n : gnd v\nC2 electrolytic 10u : v gnd\nR1 1k : v gnd")

    bypass = found["C1|C2"]
    assert bypass.value == approx(10.1e-6)
    assert bypass.terminals[0] == "+"
    assert bypass.nodes[1] == 0  # the electrolytic's minus


def test_capacitors_in_series_divide():
    assert elements("C1 1u : a m\nC2 1u : m gnd\nR1 1k : a gnd")["C1+C2"].value == approx(0.5e-6)


def test_coils_in_series_add_their_winding_resistance():
    coil = elements("supply v 9V\nL1 1m rdc=3ohm : v m\nL2 2m : m a\nR1 1k : a gnd")["L1+L2"]

    assert coil.value == approx(3e-3)
    assert coil.params["rdc"] == approx(3.01)


@pytest.mark.parametrize(
    "text",
    [
        "R1 1k : a m\nC1 1u : m gnd",
        "TH1 ntc 1k : a m\nR1 1k : m gnd",
        "TH1 ntc 1k : a m\nTH2 ptc 1k : m gnd",
        "LP1 lamp 12V 1W : a m\nLP2 lamp 12V 1W : m gnd",
        "LS1 speaker 8 : a m\nLS2 speaker 8 : m gnd",
        "L1 choke 1m : a m\nFB1 bead : m gnd",
        "D1 diode : a m\nD2 diode : m gnd",
    ],
)
def test_unlike_parts_are_not_merged(text):
    assert len(normalise(loads(text)).elements) == 2


def test_two_like_thermistors_are_merged():
    assert elements("TH1 ntc 1k : a m\nTH2 ntc 1k : m gnd\nR1 1 : a gnd")["TH1+TH2"].value == 2e3


@pytest.mark.parametrize("statement", ["input m", "output m", "supply m 5V", "input a m", "ground m"])
def test_a_port_a_rail_and_ground_are_never_inside_a_series(statement):
    graph = normalise(loads(f"{statement}\nR1 1k : a m\nR2 2k : m b\nD1 diode : b a"))

    assert "m" in graph.node_of
    assert {"R1", "R2"} <= {element.name for element in graph.elements}


def test_a_net_with_a_third_terminal_is_never_inside_a_series():
    assert set(elements("R1 1k : a m\nR2 2k : m gnd\nJ1 jack : m\nD1 diode : a gnd")) == {"R1", "R2", "J1", "D1"}


@pytest.mark.parametrize("part", ["F1 fuse 1A", "S1 switch closed", "M1 meter", "R9 1m"])
def test_a_link_joins_its_nets_and_is_in_no_element(part):
    graph = normalise(loads(f"supply v 9V\n{part} : v w\nR1 1k : w gnd"))

    assert graph.links == (part.split()[0],)
    assert graph.node_of["v"] == graph.node_of["w"]
    assert [element.name for element in graph.elements] == ["R1"]
    assert any(merge.rule == "link" for merge in graph.merges)


def test_an_open_switch_joins_nothing():
    graph = normalise(loads("supply v 9V\nS1 switch open : v w\nR1 1k : w gnd"))

    assert graph.node_of["v"] != graph.node_of["w"]
    assert graph.links == ()


def test_a_selector_joins_its_pole_to_the_way_that_is_set():
    graph = normalise(loads("S1 selector at 2 : p | x y z\nR1 1k : p gnd\nR2 1 : x gnd\nR3 2 : y gnd\nR4 3 : z gnd"))

    assert graph.node_of["p"] == graph.node_of["y"]
    assert graph.node_of["p"] != graph.node_of["x"]


@pytest.mark.parametrize("state, joined", [("at rest", "r"), ("worked", "w")])
def test_a_relay_joins_what_its_state_closes_and_keeps_its_coil(state, joined):
    graph = normalise(loads(f"K1 relay 200 {state} : c1 gnd | p r w\nD1 diode : c1 p\nR2 1 : r gnd\nR3 2 : w gnd"))

    assert graph.node_of["p"] == graph.node_of[joined]
    coil = graph.elements[graph.element_of["K1"]]
    assert coil.kind == "relay"
    assert len(coil.nodes) == 2


def test_a_jack_joins_nothing():
    graph = normalise(loads("J1 jack : a b gnd\nR1 1k : a gnd\nR2 1k : b gnd"))

    assert len({graph.node_of["a"], graph.node_of["b"], 0}) == 3


def test_a_part_with_both_ends_on_one_net_is_recorded_and_left_out():
    text = "supply v 9V\nF1 fuse 1A : v w\nC1 1u : v w\nR1 1k : v gnd"

    assert ("end tie", ("C1",)) in merges(text)
    assert set(elements(text)) == {"R1"}


def test_a_bead_is_a_link_in_an_audio_circuit_and_a_part_in_a_radio_circuit():
    text = "FB1 bead : a b\nR1 1k : a gnd\nR2 1k : b gnd\n"

    assert normalise(loads(text + "signal 300Hz to 3kHz")).links == ("FB1",)
    assert normalise(loads(text + "signal 3MHz to 30MHz")).links == ()


def test_an_unknown_value_makes_the_merged_value_unknown():
    assert elements("supply v 9V\nR1 ? : v a\nR2 1k : a gnd")["R1+R2"].value is None


def test_a_rheostat_is_a_resistor():
    found = elements("supply v 9V\nVR1 10k at 30% : v a a\nD1 diode : a gnd")

    assert found["VR1"].kind == "resistor"
    assert found["VR1"].value == approx(3e3)
    assert found["VR1"].terminals == ("1", "w")


def test_a_potentiometer_with_a_loose_end_is_a_rheostat():
    graph = normalise(loads("supply v 9V\nVR1 10k at 30% : x a v\nD1 diode : a gnd"))

    used = graph.elements[graph.element_of["VR1"]]
    assert used.kind == "resistor"
    assert used.value == approx(7e3)
    assert graph.inner["x"] == used.index


def test_a_rheostat_and_a_resistor_in_series_are_one_resistor():
    assert elements("supply v 9V\nR1 1k : v m\nVR1 10k at 50% : m a a\nD1 diode : a gnd")["R1+VR1"].value == approx(6e3)


def test_a_potentiometer_keeps_three_terminals_and_an_assumed_wiper_is_said():
    graph = normalise(loads("supply v 9V\nVR1 10k : v w gnd\nQ1 npn : b=w c=v e=gnd"))

    whole = graph.elements[graph.element_of["VR1"]]
    assert whole.kind == "potentiometer"
    assert whole.params["at"] == 0.5
    assert "VR1" in graph.assumed


def test_the_order_of_the_lines_does_not_change_the_graph():
    text = "R10 1k : v a\nR2 2k : v a\nC3 1u : a b\nQ1 npn : b=b c=v e=gnd"

    one = normalise(loads(f"supply v 9V\n{text}"))
    other = normalise(loads("supply v 9V\n" + "\n".join(reversed(text.splitlines()))))

    assert one.elements == other.elements
    assert one.nets == other.nets
    assert [element.members for element in one.elements] == [("C3",), ("Q1",), ("R2", "R10")]


def test_a_battery_against_ground_or_a_rail_makes_a_rail():
    graph = normalise(
        loads("BT1 battery 9V : a gnd\nBT2 battery 3V : b a\nBT3 battery 6V : gnd n\nR1 1k : b n\nR2 1k : a n")
    )

    assert {graph.nets[node]: volts for node, volts in graph.rails.items()} == {"a": 9.0, "b": 12.0, "n": -6.0}


def test_a_regulator_output_is_a_rail():
    graph = normalise(loads("supply v 12V\nU1 regulator 5V : in=v out=o common=gnd\nR1 1k : o gnd"))

    assert graph.rails[graph.node_of["o"]] == 5.0


def test_a_battery_behind_a_fuse_makes_a_rail():
    graph = normalise(loads("BT1 battery 9V : a gnd\nF1 fuse 1A : a v\nR1 1k : v gnd"))

    assert graph.rails == {graph.node_of["v"]: 9.0}


def test_a_battery_without_a_voltage_makes_a_rail_of_unknown_voltage():
    graph = normalise(loads("BT1 battery : a gnd\nR1 1k : a gnd"))

    assert math.isnan(graph.rails[graph.node_of["a"]])


def test_a_drive_at_the_input_is_no_rail():
    graph = normalise(loads("input in\nV1 source 1V : in gnd\nR1 1k : in gnd"))

    assert graph.rails == {}


def test_windings_keep_their_nodes_and_turns():
    graph = normalise(loads("supply v 9V\nT1 transformer 5+5:1 : p1 v p2 | s gnd\nR1 8 : s gnd\nR2 1 : p1 p2"))

    first, second = graph.windings
    assert [graph.nets[node] for node in first.nodes] == ["p1", "v", "p2"]
    assert first.turns == (5.0, 5.0)
    assert [graph.nets[node] for node in second.nodes] == ["s", "gnd"]


LADDER = """
supply v 12V
output o
R1 1k : v a
R2 2k : a b
R3 3k : b c
R4 4k : a b
C1 1u : c d
C2 2u : d gnd
C3 3u : c gnd
R5 5k : c e
R6 6k : e gnd
R7 7k : e gnd
R8 8k : c f
R9 9k : f o
L1 1m : o g
L2 2m : g gnd
D1 diode : c gnd
"""


@settings(max_examples=40, deadline=None)
@given(st.permutations([line for line in LADDER.strip().splitlines() if line[0] in "RCLD"]))
def test_the_result_does_not_depend_on_the_order_of_the_parts(lines):
    def shape(text):
        graph = normalise(loads(text))
        return {
            (
                frozenset(element.members),
                round(element.value or 0, 12),
                frozenset(graph.nets[node] for node in element.nodes),
            )
            for element in graph.elements
        }

    assert shape("supply v 12V\noutput o\n" + "\n".join(lines)) == shape(LADDER)


def test_a_networkx_graph_has_a_vertex_for_each_part_and_net_and_an_edge_for_each_terminal():
    circuit = loads("supply v 9V\nR1 1k : v a\nQ1 npn : b=a c=v e=gnd")
    graph = circuit.graph()

    assert set(graph.nodes) == {("part", "R1"), ("part", "Q1"), ("net", "v"), ("net", "a"), ("net", "gnd")}
    assert graph.number_of_edges() == 5
    assert graph.nodes["net", "v"]["rail"] == 9.0
    assert sorted(key for *_, key in graph.edges(("part", "Q1"), keys=True)) == ["b", "c", "e"]


def test_a_source_of_no_voltage_in_a_lead_is_a_wire():
    graph = normalise(loads("supply v 9V\nR1 1k : v a\nV1 source 0V : a b\nR2 1k : b gnd"))

    assert "V1" in graph.links
    assert graph.links == ("V1",)


def test_a_source_of_no_voltage_at_an_input_brings_the_signal():
    graph = normalise(loads("supply v 9V\ninput a\nV1 source 0V : a gnd\nR1 1k : v a"))

    assert graph.node_of["a"] != 0
    assert graph.links == ()
