"""Time of an operating point, beside `scipy.optimize.root` on the same circuits' nodal equations, in one run.

The equations given to scipy are those of the tests' oracle, which are written apart from the solver. Run:
python -m tests.bench.operating_point
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "analysis"))

from test_random_oracle import Oracle, Sheet

from topo.analysis import operating_point
from topo.graph import normalise
from topo.netlist import load, loads

SEEDS = range(60)
ROUNDS = 5
SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def least(work, rounds: int = ROUNDS) -> float:
    """The shortest of a few times, in seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """One line a sample, then the random circuits beside scipy."""
    for file in sorted(SAMPLES.glob("*.net")):
        graph = normalise(load(file))
        milliseconds = 1e3 * least(lambda graph=graph: operating_point(graph))
        print(f"{file.name:28s} {len(graph.circuit.parts):4d} parts {milliseconds:7.2f} ms")
    ours, theirs, parts, missed = 0.0, 0.0, 0, 0
    for seed in SEEDS:
        sheet = Sheet(seed)
        graph = normalise(loads(sheet.netlist()))
        oracle = Oracle(sheet)
        zero = np.zeros(len(oracle.nets))
        if oracle.solve(zero) is None:
            missed += 1
            continue
        parts += len(sheet.rows)
        ours += least(lambda graph=graph: operating_point(graph), 3)
        theirs += least(lambda oracle=oracle, zero=zero: oracle.solve(zero), 3)
    solved = len(SEEDS) - missed
    print(f"{solved} random circuits of {parts / solved:.0f} parts: {1e3 * ours / solved:.2f} ms each here, ", end="")
    print(f"{1e3 * theirs / solved:.2f} ms by scipy.optimize.root: {theirs / ours:.0f} times as long", end="")
    print(f" ({missed} that it did not solve are left out)" if missed else "")


if __name__ == "__main__":
    main()
