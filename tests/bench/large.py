"""A netlist of a hundred thousand parts: read, cut, matched and summed up, beside a `str.split` pass over its text.

    python -m tests.bench.large [CHANNELS] [--varied]

Times are processor seconds, memory is the largest of the process.
"""

from __future__ import annotations

import argparse
import os
import resource
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.bench.amplifiers import PARTS_A_CHANNEL, text
from topo.netlist import loads
from topo.overview import survey
from topo.report.overview import overview_text


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("channels", nargs="?", type=int, default=100_000 // PARTS_A_CHANNEL + 1)
    parser.add_argument("--varied", action="store_true", help="channels that differ: each is read by itself")
    arguments = parser.parse_args()
    netlist = text(arguments.channels, arguments.varied)
    print(f"{arguments.channels} channels, {len(netlist) / 1e6:.1f} MB of text")
    start = time.process_time()
    words = sum(len(line.split()) for line in netlist.splitlines())
    print(f"str.split of each line: {time.process_time() - start:8.2f} s ({words} words)")
    start = time.process_time()
    circuit = loads(netlist)
    print(
        f"loads:                  {time.process_time() - start:8.2f} s, {len(circuit.parts)} parts, {_megabytes()} MB"
    )
    start = time.process_time()
    found = survey(circuit)
    print(
        f"survey:                 {time.process_time() - start:8.2f} s, {len(found.shapes)} shapes, {_megabytes()} MB"
    )
    print(overview_text(found))


def _megabytes() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


if __name__ == "__main__":
    main()
