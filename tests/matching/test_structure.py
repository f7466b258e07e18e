"""What a pattern's joins ask for by themselves: never more than a match has."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench.amplifiers import text
from topo.matching import library, matches
from topo.matching.structure import Structure
from topo.netlist import load, loads
from topo.reading.interpretation import views_with_ports

SAMPLES = sorted((Path(__file__).resolve().parents[2] / "samples").glob("*.net"))


def shown(found) -> list:
    return [(m.pattern, m.roles, m.nets, sorted(m.claimed), m.evidence, m.undecided, m.variant) for m in found]


@pytest.mark.parametrize(
    "circuit", [load(file) for file in SAMPLES] + [loads(text(2, varied=True))], ids=lambda circuit: circuit.title
)
def test_asking_for_the_joins_first_loses_no_match(circuit, monkeypatch):
    _, views, _ = views_with_ports(circuit)
    found = shown(matches(views, library()))
    monkeypatch.setattr(Structure, "may_hold", lambda self, index, ground, mirrored: True)
    assert shown(matches(views, library())) == found


def test_most_patterns_fall_by_their_joins_alone(monkeypatch):
    told = []
    whole = Structure.may_hold

    def count(self, index, ground, mirrored):
        told.append(whole(self, index, ground, mirrored))
        return told[-1]

    monkeypatch.setattr(Structure, "may_hold", count)
    _, views, _ = views_with_ports(loads(text(1)))
    matches(views, library())
    assert told.count(False) > told.count(True)
