"""Drawings of the shipped patterns, each tried on the pattern's own examples."""

from dataclasses import replace

import pytest

import topo
from topo.drawing.schematic import engine
from topo.drawing.schematic.composing import laid_out
from topo.drawing.schematic.drawing import Drawing
from topo.drawing.schematic.templates import templates_of
from topo.matching import library

DRAWN = [pattern.slug for pattern in library().patterns if pattern.drawing]


@pytest.mark.parametrize("slug", DRAWN)
def test_a_patterns_drawing_places_parts_of_one_of_its_examples(slug, monkeypatch):
    seated: set[str] = set()

    def noted(clusters, *_):
        seated.update(seat.item.key for cluster in clusters for seat in cluster.seats)
        return Drawing([], {}), []

    monkeypatch.setattr(engine, "_best_of", noted)
    monkeypatch.setattr(engine, "folded", lambda pieces: Drawing([], {}))
    for example in library().examples(slug):
        if not example.matches:
            continue
        circuit = topo.loads(example.netlist)
        reading = topo.read(circuit)
        own = replace(reading, blocks=tuple(block for block in reading.blocks if block.pattern == slug))
        templates = templates_of(own, {part.ref: part.ref for part in circuit.parts})
        seated.clear()
        laid_out(reading, circuit)
        if any(len(set(template.refs.values()) & seated) > 1 for template in templates):
            return
    pytest.fail("in none of its examples are two parts placed as it says")
