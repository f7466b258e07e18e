"""The same matches in the same order, whatever the hash seed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLES = sorted((Path(__file__).resolve().parents[2] / "samples").glob("*.net"))
CODE = """
import sys
import topo.netlist, topo.graph, topo.analysis, topo.views
from topo.matching import library, matches, compose, figures, Context
patterns = library()
for path in sys.argv[1:]:
    point = topo.analysis.operating_point(topo.graph.normalise(topo.netlist.load(path)))
    views = topo.views.views(point.graph, point)
    found = matches(views, patterns)
    context = Context(views, patterns)
    for match in (*found, *compose(found, patterns, views)):
        print(match.pattern, list(match.roles.items()), list(match.nets.items()), sorted(match.claimed))
        print(match.evidence, match.undecided, match.band, figures(match, context))
"""


@pytest.mark.skipif(len(SAMPLES) < 2, reason="no samples")
def test_two_hash_seeds_give_the_same_matches():
    outputs = []
    for seed in ("1", "2"):
        run = subprocess.run(
            [sys.executable, "-c", CODE, *map(str, SAMPLES)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
            cwd=Path(__file__).resolve().parents[2],
        )
        outputs.append(run.stdout)

    assert outputs[0]
    assert outputs[0] == outputs[1]
