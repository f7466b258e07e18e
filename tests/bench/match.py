"""Matching at scale: time, memory and growth, beside general graph libraries and the floor, in one run.

    python -m tests.bench.match [--limit SECONDS] [--quick]

Times are processor time of the one process that works, so that others on the machine count little.

The floor is a bare loop over the net of every terminal. Channels are those of `tests.bench.amplifiers`, on common
rails. First four patterns of wiring: compiled queries on integer columns, all indexes made within the time, against
networkx, igraph and rustworkx on the same graph, with the rails in it and with the rails cut out for them. Then every
pattern of the library with all that it asks for: the circuit is cut at its rails, one piece of each shape is matched,
and the matches are told for every piece; the operating point and the views of that piece are timed beside it. Last
the same with channels that differ in values and in what is in them, where each has to be matched by itself.
"""

from __future__ import annotations

import argparse
import gc
import math
import os
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from tests.bench.amplifiers import text
from tests.bench.peers import LIBRARIES, drawn_circuit, search
from tests.bench.wiring import PATTERNS, find
from topo.analysis import operating_point
from topo.graph import normalise
from topo.graph.columns import Columns, columns
from topo.graph.pieces import Pieces, pieces
from topo.matching import library, matches
from topo.netlist import loads
from topo.netlist.circuit import Circuit
from topo.views import views

SIZES = (1, 10, 100, 1_000, 10_000)
PEER_CHANNELS = 100
BARS = {"rails in the graph": 500, "rails cut out": 20}


def timed(work: Callable[[], Any], rounds: int = 5) -> tuple[float, Any]:
    """Milliseconds of the fastest of a few rounds, and what came of the last."""
    best, result = math.inf, None
    for _ in range(rounds):
        gc.collect()
        start = time.process_time()
        result = work()
        best = min(best, time.process_time() - start)
    return 1e3 * best, result


def floor(table: Columns) -> float:
    """Milliseconds of touching every terminal once."""
    nets = table.nets.tolist()

    def touch() -> None:
        for _ in nets:
            pass

    return timed(touch, 15)[0]


def repeated(table: Columns, count: int) -> Columns:
    """The columns of many alike channels from those of one, as they would be made of their netlist."""
    rails = np.array(sorted({0, *table.rails}))
    width = table.count - len(rails)
    free = np.setdiff1d(np.arange(table.count), rails)
    names = np.tile(np.arange(table.count, dtype=np.int32), (count, 1))
    names[1:, free] = table.count + np.arange(width * (count - 1), dtype=np.int32).reshape(count - 1, width)

    def tiled(nets: np.ndarray) -> np.ndarray:
        return names[:, nets].ravel()

    begins = table.starts[:-1][None, :] + np.arange(count, dtype=np.int32)[:, None] * table.starts[-1]
    ports = table.ports
    rows = [np.tile(ports[:, 0], count), tiled(ports[:, 1]), tiled(ports[:, 2])]
    return replace(
        table,
        count=len(rails) + width * count,
        descriptions=np.tile(table.descriptions, count),
        starts=np.append(begins.ravel(), table.starts[-1] * count).astype(np.int32),
        nets=tiled(table.nets),
        ports=np.stack(rows, axis=1),
    )


def exponent(times: dict[int, float], low: int, high: int) -> float:
    """The growth exponent of times between two sizes."""
    return math.log(times[high] / times[low]) / math.log(high / low)


def of_one(circuit: Circuit) -> Any:
    """The views of a circuit."""
    graph = normalise(circuit)
    return views(graph, operating_point(graph))


def find_all(cut: Pieces, shown: list[Any], patterns) -> tuple[int, int]:
    """Every match in every piece, by the views of each shape's first piece: how many, and bytes of their places."""
    found, size = 0, 0
    for shape, (some, piece) in enumerate(zip(shown, cut.first, strict=True)):
        own = {ref: place for place, ref in enumerate(cut.refs(piece))}
        told = matches(some, patterns)
        flat = [own[ref] for match in told for ref in sorted(match.claimed) if ref in own]
        places = cut.everywhere(shape, flat)
        found += len(told) * len(places)
        size += places.nbytes
    return found, size


def wiring_table(sizes: tuple[int, ...], circuit: Circuit, table: Columns) -> dict[int, float]:
    """Four patterns by compiled queries."""
    print("Four patterns of wiring, all indexes made in the time (plans kept)")
    print(f"{'channels':>9} {'parts':>8} {'found':>8} {'ms':>9} {'floor ms':>9} {'of floor':>9}")
    times = {}
    for count in sizes:
        tiled = repeated(table, count)
        milliseconds, found = timed(lambda tiled=tiled: find(circuit, tiled), 9 if count < 1000 else 3)
        base = floor(tiled)
        times[count] = milliseconds
        total = sum(len(rows) for rows in found.values())
        print(f"{count:9d} {tiled.parts:8d} {total:8d} {milliseconds:9.2f} {base:9.3f} {milliseconds / base:8.1f}x")
    if {100, sizes[-1]} <= set(times) and sizes[-1] > 100:
        print(f"growth exponent, 100 to {sizes[-1]} channels: {exponent(times, 100, sizes[-1]):.2f}")
    return times


def peer_tables(limit: float, table: Columns, first: Circuit) -> None:
    """The same against the libraries."""
    circuit = loads(text(PEER_CHANNELS))
    made = columns(circuit)
    own = {wiring.name: timed(lambda wiring=wiring: find(circuit, made, (wiring,)), 9)[0] for wiring in PATTERNS}
    together, found = timed(lambda: find(circuit, made), 9)
    for words, cut in (("rails in the graph", False), ("rails cut out", True)):
        print(f"\n{PEER_CHANNELS} channels, {words}: milliseconds (> limit of {limit:g} s)")
        print(f"{'':28s}" + "".join(f"{wiring.name[:22]:>24s}" for wiring in PATTERNS) + f"{'all':>12s}")
        print(f"{'compiled queries':28s}" + "".join(f"{own[w.name]:24.2f}" for w in PATTERNS) + f"{together:12.2f}")
        whole = drawn_circuit(circuit, cut)
        fastest: dict[str, float] = {}
        totals: list[float] = []
        for name in LIBRARIES:
            cells, total = [], 0.0
            for wiring in PATTERNS:
                result = search(name, whole, wiring, cut, limit)
                seconds = limit if result is None else result[0]
                total += seconds
                cells.append(f">{1e3 * limit:.0f}" if result is None else f"{1e3 * seconds:.1f}")
                fastest[wiring.name] = min(fastest.get(wiring.name, math.inf), seconds)
                if result is not None and result[1] != len(found[wiring.name]):
                    cells[-1] += f" COUNT {result[1]}"
            totals.append(total)
            over = any(cell.startswith(">") for cell in cells)
            print(
                f"{name:28s}"
                + "".join(f"{c:>24s}" for c in cells)
                + f"{'>' if over else ''}{1e3 * total:.0f}".rjust(12)
            )
        best, each = min(totals), sum(fastest.values())
        print(f"the fastest library takes {1e3 * best / together:.0f} times as long (bar: {BARS[words]})", end="; ")
        print(f"the fastest of them for each pattern {1e3 * each / together:.0f} times")


def library_table(sizes: tuple[int, ...], circuit: Circuit, table: Columns) -> None:
    """Every pattern of the library, alike channels."""
    patterns = library()
    print(f"\nEvery pattern of the library ({len(patterns.patterns)}), alike channels")
    print(
        f"{'channels':>9} {'parts':>8} {'matches':>8} {'cut ms':>8} {'find-all ms':>12} {'floor ms':>9} {'floors':>9} ",
        end="",
    )
    print(f"{'point+views':>12} {'bytes/part':>11}")
    times = {}
    for count in sizes:
        tiled = repeated(table, count)
        base = floor(tiled)
        cutting, cut = timed(lambda tiled=tiled: pieces(circuit, tiled))
        viewing, shown = timed(lambda cut=cut: [of_one(cut.cut_out(piece)) for piece in cut.first], 3)

        def whole(tiled=tiled, shown=shown):
            return find_all(pieces(circuit, tiled), shown, patterns)

        milliseconds, (found, _) = timed(whole)
        tracemalloc.start()
        held = repeated(table, count)
        result = pieces(circuit, held)
        find_all(result, shown, patterns)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        times[count] = milliseconds
        print(f"{count:9d} {tiled.parts:8d} {found:8d} {cutting:8.1f} {milliseconds:12.1f} {base:9.3f} ", end="")
        print(f"{milliseconds / base:8.1f}x {viewing:12.1f} {peak / tiled.parts:11.0f}")
    if sizes[-1] > 100:
        print(f"growth exponent, 100 to {sizes[-1]} channels: {exponent(times, 100, sizes[-1]):.2f}", end="")
        print(f"; without what one channel takes: {_linear(times, sizes[-1]):.2f}")


def _linear(times: dict[int, float], largest: int) -> float:
    rest = {size: max(1e-6, value - times[1]) for size, value in times.items()}
    return exponent(rest, 1_000 if largest > 1_000 else 100, largest)


def varied_table(sizes: tuple[int, ...]) -> None:
    """Every pattern of the library, channels that differ."""
    patterns = library()
    print("\nThe same, channels that differ in values and in what is in them: each is solved and matched by itself")
    print(
        f"{'channels':>9} {'parts':>8} {'shapes':>7} {'matches':>8} {'cut ms':>8} {'point+views':>12} {'all ms':>8} ",
        end="",
    )
    print(f"{'floor ms':>9} {'of floor':>9} {'ms/channel':>11}")
    times = {}
    for count in sizes:
        circuit = loads(text(count, varied=True))
        made = columns(circuit)
        base = floor(made)
        cutting, cut = timed(lambda made=made, circuit=circuit: pieces(circuit, made), 3)
        viewing, shown = timed(lambda cut=cut: [of_one(cut.cut_out(piece)) for piece in cut.first], 1)
        matching, (found, _) = timed(lambda cut=cut, shown=shown: find_all(cut, shown, patterns), 1)
        total = cutting + matching
        times[count] = total
        print(
            f"{count:9d} {made.parts:8d} {len(cut.first):7d} {found:8d} {cutting:8.1f} {viewing:12.0f} {total:12.0f} ",
            end="",
        )
        print(f"{base:9.3f} {total / base:8.0f}x {total / count:11.1f}")
        del shown
    print(f"growth exponent, {sizes[0]} to {sizes[-1]} channels: {exponent(times, sizes[0], sizes[-1]):.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--limit", type=float, default=20.0, help="seconds for a library's search of one pattern")
    parser.add_argument("--quick", action="store_true", help="up to 1,000 channels, and 10 varied ones")
    arguments = parser.parse_args()
    circuit = loads(text(1))
    table = columns(circuit)
    made = columns(loads(text(3)))
    tiled = repeated(table, 3)
    assert np.array_equal(made.nets, tiled.nets) and np.array_equal(made.starts, tiled.starts)
    matches(of_one(circuit), library())
    sizes = SIZES[:-1] if arguments.quick else SIZES
    wiring_table(sizes, circuit, table)
    library_table(sizes, circuit, table)
    varied_table((1, 10) if arguments.quick else (1, 10, 100))
    peer_tables(2.0 if arguments.quick else arguments.limit, table, circuit)


if __name__ == "__main__":
    main()
