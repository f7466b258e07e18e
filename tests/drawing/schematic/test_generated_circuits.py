"""Circuits that nobody has drawn by hand: generated ones, each pattern's examples, a long chain.

`FIGURES=300 pytest tests/drawing/schematic/test_generated_circuits.py` takes 300 generated circuits instead of a score,
and every matching example of every pattern instead of one in eight.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from generated import chain, faults, netlist

import topo
from topo.drawing import figure
from topo.matching import library

ROOT = Path(__file__).parents[3]
COUNT = int(os.environ.get("FIGURES", "20"))
EVERY = 1 if "FIGURES" in os.environ else 8


def examples():
    shelf = library()
    found = [
        (f"{pattern.slug}-{number}", example.netlist)
        for pattern in shelf.patterns
        for number, example in enumerate(shelf.examples(pattern.slug))
        if example.matches
    ]
    return found[::EVERY]


@pytest.mark.parametrize("seed", range(COUNT))
def test_a_generated_circuit_is_drawn_clean(seed):
    assert list(faults(netlist(seed))) == []


@pytest.mark.parametrize(("name", "text"), examples(), ids=lambda value: value if " " not in value else "")
def test_an_example_of_a_pattern_is_drawn_clean(name, text):
    assert list(faults(text)) == []


def test_a_hundred_parts_stand_in_rows():
    result = figure(topo.read(topo.loads(chain(12))))
    found = result.metrics
    assert found.parts >= 100
    assert (found.symbol_overlaps, found.wires_through_symbols, found.text_overlaps, found.four_way) == (0, 0, 0, 0)
    assert found.flags >= 2
    assert found.width < 150
    assert found.crossings <= 1 + found.parts / 20
    assert found.bends <= 0.5 * found.parts


def test_a_figure_is_the_same_under_every_hash_seed():
    script = (
        "import sys, topo; from topo.drawing import figure; from pathlib import Path;"
        "sys.stdout.write(figure(topo.read(topo.loads(sys.stdin.read()))).svg)"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", script],
            input=netlist(7),
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1
