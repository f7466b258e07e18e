"""Composites are made of kept claims."""

from __future__ import annotations

from tests.matching.building import HEAD, document_of, pattern_of, views_of
from topo.matching import Context, compose, fill, matches
from topo.matching.shelf import Library

FEED = """
roles: {feed: {kind: resistor}, lamp: {kind: led}}
nets: {rail: {is: rail}, n: }
joins: {wire: [rail -feed- n, n -lamp> gnd]}
"""
FOLLOW = """
roles: {device: {kind: npn}, lamp: {kind: led, witness: true}}
nets: {n: }
joins: {wire: [device.ctl = n, n -lamp> gnd]}
"""
WHOLE = """
made of:
  bias: [feed]
  output: [follow]
  more: {of: [feed], optional: true}
where: [overlap(bias.lamp, output.lamp), different(bias.feed, more.feed)]
figures: {drop: {is: "drop(bias.feed)", unit: V}}
"""
NETLIST = """
    supply vcc 9V
    R1 1k : vcc a
    D1 led : a gnd
    Q1 npn : b=a c=vcc e=e
    R2 1k : e gnd
    R3 1k : vcc b
    D2 led : b gnd
    R9 1M : b c
    R8 1M : c gnd
"""


def library() -> Library:
    whole = document_of(WHOLE, "whole", HEAD.replace("thing", "whole")).pattern
    return Library((pattern_of(FEED, "feed"), pattern_of(FOLLOW, "follow"), whole))


def test_a_composite_joins_claims_by_its_conditions():
    circuit, patterns = views_of(NETLIST), library()

    (whole,) = compose(matches(circuit, patterns), patterns, circuit)

    assert whole.components["bias"].roles["feed"] == ("R1",)
    assert whole.roles["output.device"] == ("Q1",)


def test_an_optional_component_is_bound_where_there_is_one():
    circuit, patterns = views_of(NETLIST), library()

    (whole,) = compose(matches(circuit, patterns), patterns, circuit)

    assert whole.components["more"].roles["feed"] == ("R3",)


def test_a_composite_without_its_optional_component_stands():
    circuit, patterns = views_of(NETLIST.replace("D2 led : b gnd", "")), library()

    (whole,) = compose(matches(circuit, patterns), patterns, circuit)

    assert "more" not in whole.components


def test_there_is_no_composite_without_a_needed_claim():
    circuit, patterns = views_of(NETLIST), library()
    kept = [match for match in matches(circuit, patterns) if match.pattern != "follow"]

    assert compose(kept, patterns, circuit) == ()


def test_figures_and_texts_of_a_composite_speak_of_its_components():
    circuit, patterns = views_of(NETLIST), library()
    (whole,) = compose(matches(circuit, patterns), patterns, circuit)

    filled = fill([["role", "bias.feed"], ["text", " drops "], ["figure", "drop"]], whole, Context(circuit, patterns))

    assert filled is not None
    assert filled.text.startswith("R1 drops ")
