"""Builds patterns, views and matches for the tests of matching from what the test types."""

from __future__ import annotations

import textwrap

from topo.analysis import operating_point
from topo.graph import normalise
from topo.matching import matches
from topo.matching.match import Match
from topo.matching.pattern import Pattern
from topo.matching.schema import Document, read_pattern
from topo.matching.shelf import Library
from topo.netlist import loads
from topo.views import Views, views

TAIL = """
text:
  block:
    student: ["It is one."]
    technician: ["It is one."]
examples:
  match:
    - {as: one, netlist: "R1 1k : a b"}
    - {as: two, netlist: "R1 1k : a b"}
  no match:
    - {as: three, netlist: "R1 1k : a b"}
    - {as: four, netlist: "R1 1k : a b"}
"""
HEAD = """
name: thing
family: coupling
purpose: Does something.
source: common practice
reading: {claim: beside, sort: coupling}
"""


def pattern_text(body: str, head: str = HEAD, tail: str = TAIL) -> str:
    """A whole pattern file around the keys that a test types."""
    return head + textwrap.dedent(body) + tail


def document_of(body: str, slug: str = "thing", head: str = HEAD, tail: str = TAIL) -> Document:
    """The pattern file that a test types the heart of; it has to be well formed."""
    document, problems = read_pattern(pattern_text(body, head, tail), f"{slug}.yaml")
    assert document is not None, "\n".join(map(str, problems))
    return document


def pattern_of(body: str, slug: str = "thing", head: str = HEAD) -> Pattern:
    """The pattern that a test types the heart of."""
    return document_of(body, slug, head.replace("name: thing", f"name: {slug}")).pattern


def views_of(netlist: str) -> Views:
    """The solved views of a netlist."""
    graph = normalise(loads(textwrap.dedent(netlist)))
    return views(graph, operating_point(graph))


def found(netlist: str, *bodies: str) -> tuple[Match, ...]:
    """The matches of the first pattern typed, with the further ones beside it, in a netlist."""
    patterns = [pattern_of(body, "thing" if not number else f"other-{number}") for number, body in enumerate(bodies)]
    every = matches(views_of(netlist), Library(tuple(patterns)))
    return tuple(match for match in every if match.pattern == "thing")


def roles_found(netlist: str, *bodies: str) -> list[dict[str, tuple[str, ...]]]:
    """What the roles of each match of the first pattern are bound to."""
    return [dict(match.roles) for match in found(netlist, *bodies)]
