"""Time of a cold `topo explain` of the largest sample, beside that of importing the packages alone.

Run: python tests/bench/cold_start.py

All of it runs from compiled modules, as an installed tool does; processor time is told beside wall time, since that
counts what others on the machine do.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "samples" / "hf-link.net"
ROUNDS = 9

COMMANDS = {
    "bare interpreter": ["-c", "pass"],
    "importing networkx, numpy, lark, yaml, click": ["-c", "import networkx, numpy, lark, yaml, click"],
    "importing numpy, click": ["-c", "import numpy, click"],
    "topo --help": ["-m", "topo.cli", "--help"],
    f"topo check {SAMPLE.name}": ["-m", "topo.cli", "check", str(SAMPLE)],
    f"topo explain {SAMPLE.name}": ["-m", "topo.cli", "explain", str(SAMPLE)],
}


def measure(arguments: list[str], environment: dict[str, str]) -> tuple[float, float]:
    """Seconds of wall time and of processor time of one run."""
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False, env=environment)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Interleave the commands, so that drift of the machine's speed meets all alike; the first round does not count."""
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in COMMANDS}
    with tempfile.TemporaryDirectory() as folder:
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        for count in range(ROUNDS + 1):
            for name, arguments in COMMANDS.items():
                told = measure(arguments, kept | {"PYTHONPYCACHEPREFIX": folder})
                times[name] += [told] if count else []
    for name, values in times.items():
        wall, own = ([1000 * value for value in column] for column in zip(*values, strict=True))
        print(f"{name:46s} wall: median {statistics.median(wall):5.0f} ms, least {min(wall):5.0f}", end=";  ")
        print(f"processor: median {statistics.median(own):5.0f}, least {min(own):5.0f}")


if __name__ == "__main__":
    main()
