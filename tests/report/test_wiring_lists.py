"""Lists to hold against the paper: what is on a net, what joins two nets, the parts in order."""

import pytest

import topo
from topo.errors import UsageError
from topo.netlist.designators import natural
from topo.report.layout import Page
from topo.report.wiring import between, between_text, net_named, net_text, on_net, parts_text

STAGE = """
circuit Signal lamp driver
supply vcc 9V
input in
R1 47k : vcc base
R10 10k : base gnd
R2 10k : base far
C1 4u7 : in base
Q1 npn : b=base c=col e=gnd
T1 transformer 3:1 : col vcc | far gnd
join base bas2
"""


@pytest.fixture(scope="module")
def circuit():
    return topo.loads(STAGE)


def test_a_net_is_found_by_any_of_its_names_and_by_a_terminal(circuit):
    assert net_named(circuit, "BASE") == net_named(circuit, "bas2") == net_named(circuit, "q1.b") == "base"


def test_a_net_that_is_not_there_is_told_with_what_is_like_it(circuit):
    with pytest.raises(UsageError, match="Did you mean base"):
        net_named(circuit, "bsae")


def test_a_terminal_that_is_not_there_is_told_with_those_that_are(circuit):
    with pytest.raises(UsageError, match=r"Q1 has no terminal x\. Allowed: b, c, e"):
        net_named(circuit, "Q1.x")


def test_what_is_on_a_net_comes_in_the_order_of_the_lines(circuit):
    found = on_net(circuit, "base")

    assert [row[0] for row in found.terminals] == ["R1", "R10", "R2", "C1", "Q1"]
    assert found.terminals[-1] == ("Q1", "base", "npn transistor")
    assert found.also == ("bas2",)


def test_a_supply_says_its_voltage(circuit):
    assert net_text(on_net(circuit, "vcc"), Page()).startswith("vcc, a supply of 9 V: 2 connections.")


def test_parts_on_both_nets_are_what_joins_them(circuit):
    assert between(circuit, "vcc", "base").direct == (("R1", "resistor 47 kΩ"),)


def test_windings_that_only_the_core_couples_are_said_to_be_so(circuit):
    assert between(circuit, "vcc", "gnd").direct == (("T1", "transformer, from one winding to another"),)


def test_where_no_part_lies_between_two_nets_the_shortest_ways_are_told(circuit):
    assert between(circuit, "in", "far").chains == (("C1", "base", "R2"),)


def test_a_way_through_a_rail_is_none():
    circuit = topo.loads("supply v 5V\nR1 1k : a v\nR2 1k : v b\nR3 1k : a gnd\nR4 1k : b gnd\n")

    assert between(circuit, "a", "b").chains == ()
    assert "Nothing joins a and b" in between_text(between(circuit, "a", "b"), Page())


def test_two_names_of_one_net_are_said_to_be_one(circuit):
    assert between_text(between(circuit, "base", "bas2"), Page()) == "base: both names are this one net.\n"


def test_parts_by_designator_come_as_a_person_counts(circuit):
    listed = [line.split()[2] for line in parts_text(circuit, "designator", Page()).splitlines()]

    assert listed == ["C1", "Q1", "R1", "R2", "R10", "T1"]


def test_parts_by_value_come_together_with_their_number(circuit):
    rows = parts_text(circuit, "value", Page()).splitlines()

    assert [row.split("  ")[0] for row in rows if row.startswith("resistor")] == ["resistor 10 kΩ", "resistor 47 kΩ"]
    assert next(row for row in rows if "10 kΩ" in row).split()[3:] == ["2", "[", "]", "R2", "[", "]", "R10"]


def test_designators_sort_by_letters_then_figures():
    assert sorted(["R10", "R2", "C3", "A1.R1"], key=natural) == ["A1.R1", "C3", "R2", "R10"]
