"""Wall time of a cold `topo explain` of the largest sample, beside that of importing the packages alone.

Run: python tests/bench/cold_start.py
"""

from __future__ import annotations

import statistics
import subprocess
import sys
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


def measure(arguments: list[str]) -> float:
    """Seconds of wall time of one run."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False)
    return time.perf_counter() - start


def main() -> None:
    """Interleave the commands, so that drift of the machine's speed meets all alike."""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(ROUNDS):
        for name, arguments in COMMANDS.items():
            times[name].append(measure(arguments))
    for name, values in times.items():
        print(f"{name:46s} median {statistics.median(values) * 1000:5.0f} ms   least {min(values) * 1000:5.0f} ms")


if __name__ == "__main__":
    main()
