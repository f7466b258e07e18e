"""How long `topo alike` takes over a collection: `python -m tests.bench.alike [count [seed]]`.

The collection is made of the samples and of the examples of all patterns, each renamed, with its lines shuffled, its
values moved by up to a tenth, and every other one turned over. It lies in a folder of its own, and so does the cache;
both go at the end. Timed are the first pass, which reads every file, and a second one, which reads only the cache.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import topo
from topo.errors import TopoError
from topo.matching import library
from topo.netlist.circuit import Circuit, Part

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests" / "properties"))
SAMPLE = ROOT / "samples" / "intercom.net"
_MOVED = ("resistor", "capacitor", "electrolytic")


def main(count: int = 10_000, seed: int = 1) -> None:
    """Make a collection, and time both passes."""
    with tempfile.TemporaryDirectory() as folder:
        files, cache = Path(folder, "files"), Path(folder, "cache")
        files.mkdir()
        parts = _make(files, count, seed)
        print(f"{count} files, {parts / count:.1f} parts each on average, {os.cpu_count()} processors")
        environment = {**os.environ, "XDG_CACHE_HOME": str(cache)}
        command = [sys.executable, "-m", "topo.cli", "alike", str(SAMPLE), str(files), "-n", "3"]
        for name in ("first pass", "second pass", "third pass"):
            start = time.perf_counter()
            found = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
            taken = time.perf_counter() - start
            print(f"{name}: {taken:.2f} s, {taken / count * 1000:.2f} ms a file; status {found.returncode}", flush=True)
        print(f"store: {sum(file.stat().st_size for file in cache.rglob('forms*')) / 1e6:.1f} MB")
        print(found.stdout)
        print(f"{found.stderr.count('Skipped')} files could not be read; the first: {found.stderr[:200]}")


def _make(folder: Path, count: int, seed: int) -> int:
    """Writes the files; how many parts they have in all."""
    from variations import can_turn_over, renamed, reordered, turned_over

    bases = tuple(_bases())
    parts = 0
    for number in range(count):
        rng = random.Random(seed * 1_000_003 + number)
        circuit = bases[number % len(bases)]
        made = reordered(renamed(_moved(circuit, rng), rng.randrange(10_000)).circuit, rng.randrange(10_000)).circuit
        if rng.random() < 0.5 and can_turn_over(made):
            made = turned_over(made).circuit
        (folder / f"{number:06d}.net").write_text(topo.write(made), encoding="utf-8")
        parts += len(made.parts)
    return parts


def _bases() -> Iterator[Circuit]:
    """The circuits that the collection is made of."""
    for file in sorted((ROOT / "samples").glob("*.net")):
        yield topo.load(file)
    known = library()
    for pattern in known.patterns:
        for example in known.examples(pattern.slug):
            try:
                yield topo.loads(example.netlist)
            except TopoError:
                continue


def _moved(circuit: Circuit, rng: random.Random) -> Circuit:
    """The circuit with each resistor and capacitor up to a tenth larger or smaller."""
    return replace(circuit, parts=tuple(_other_value(part, rng) for part in circuit.parts))


def _other_value(part: Part, rng: random.Random) -> Part:
    if part.kind not in _MOVED or part.value is None:
        return part
    return replace(part, value=float(f"{part.value * rng.uniform(0.9, 1.1):.3g}"), value_text="")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
