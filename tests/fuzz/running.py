"""Runs the stream of inputs in worker processes with limits on memory and time, and notes what must not be.

    python -m tests.fuzz.running 100000 [SEED] [FIRST]

Input number N of a seed is always the same, so that a fault is had again by `python -m tests.fuzz.running 1 SEED N`.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import faulthandler
import json
import multiprocessing
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path

from tests.fuzz.mutating import Mutator
from tests.fuzz.seeding import SEEDS, Seeds, seeds

MEMORY = 1 << 30
SECONDS = 10
# Longer than this without an answer, such as in reading what never comes, is a hang too; a busy machine takes long.
_IDLE = 300
# Of circuits that can be read, one in so many is put to each command.
SHARES = (
    (20, ["explain", "FILE"]),
    (60, ["explain", "FILE", "--json"]),
    (100, ["explain", "FILE", "-o", "MADE"]),
    (400, ["explain", "FILE", "--signal", "--voice", "student"]),
    (10, ["check", "FILE", "--json", "--gaps"]),
    (40, ["check", "FILE", "--parts", "value", "--on", "WORD", "--between", "WORD", "WORD"]),
    (60, ["reduce", "FILE", "-o", "MADE.net"]),
    (100, ["reduce", "FILE", "--keep", "WORD", "--omit", "WORD", "--detail", "principle"]),
    (200, ["reduce", "FILE", "--focus", "WORD", "--json"]),
    (60, ["voltages", "FILE", "--nets", "--json"]),
    (60, ["bias", "FILE", "--set", "WORD=VALUE", "--json"]),
    (10, ["convert", "FILE", "--to", "elements", "-o", "MADE.cir"]),
    (10, ["convert", "FILE", "--to", "json"]),
    (200, ["figure", "FILE", "-o", "MADE.svg", "--blocks", "--values", "dc"]),
    (200, ["figure", "FILE", "--detail", "whole", "--width", "VALUE", "--symbols", "ieee"]),
    (300, ["figure", "FILE", "--focus", "WORD", "--json"]),
    (600, ["figure", "FILE", "--series", "MADE"]),
    (600, ["figure", "FILE", "--plot", "waveforms"]),
    (200, ["compare", "FILE", "OTHER", "--focus", "WORD"]),
    (200, ["compare", "FILE", "OTHER", "--json"]),
    (300, ["alike", "FILE", "FOLDER", "--json"]),
)
_SHOWN = 2_000
# Each of these is so many times rarer in a long run, as FUZZ_RARER says.
RARER = float(os.environ.get("FUZZ_RARER", "1"))
# Of pattern files, one in so many is put to its examples, or used beside the library.
_REVIEWED, _USED = 12, 60


@dataclass
class Tally:
    """What a run has seen."""

    inputs: int = 0
    read: int = 0
    commands: int = 0
    slowest: float = 0.0
    slowest_input: int = -1
    peak: int = 0
    faults: list[dict] = field(default_factory=list)


class Stream:
    """Input number N of a seed, and what is asked of it."""

    def __init__(self, seed: int, found: Seeds, folder: Path) -> None:
        self.seed = seed
        self.seeds = found
        self.folder = folder
        self.read = self.commands = 0
        for file in SEEDS.iterdir():
            shutil.copy(file, folder)

    def input(self, number: int) -> tuple[str, bytes, random.Random]:
        """The ending of a file's name, its bytes, and the source of what is asked."""
        source = random.Random(f"{self.seed} {number}")
        sort = source.choices((".net", ".cir", ".json", ".yaml"), (58, 22, 8, 12))[0]
        texts = {
            ".net": self.seeds.netlists,
            ".cir": self.seeds.lists,
            ".json": self.seeds.json,
            ".yaml": self.seeds.patterns,
        }[sort]
        raw = Mutator(source, texts).mutate(source.choice(texts))
        if sort == ".cir" and source.random() < 0.2:
            sort = ".net"
        return sort, raw, source

    def run(self, number: int) -> None:
        """Ask what is asked of one input; whatever must not be is raised."""
        from tests.fuzz.oracle import check_circuit, check_round_trip

        suffix, raw, source = self.input(number)
        file = self.folder / f"input{suffix}"
        file.write_bytes(raw)
        if suffix == ".yaml":
            self._pattern(file, source)
            return
        circuit = check_circuit(file)
        if circuit is None or not circuit.parts:
            if source.random() < 0.02:
                self._command(["check", str(file)], source, file, None)
            return
        self.read += 1
        for share, arguments in SHARES:  # the limit of time holds for each
            if source.random() < 1 / share / RARER:
                self._command(arguments, source, file, circuit)
        check_round_trip(circuit)

    def _pattern(self, file: Path, source: random.Random) -> None:
        from tests.fuzz.oracle import _check_words
        from topo.matching.schema import read_pattern

        _, problems = read_pattern(file.read_text(encoding="utf-8", errors="replace"), str(file))
        for problem in problems:
            _check_words(str(problem))
        if source.random() < 1 / _REVIEWED / RARER:
            self._command(["patterns", "check", str(file)], source, file, None)
        if source.random() < 1 / _USED / RARER:
            own = self.folder / "own"
            shutil.rmtree(own, ignore_errors=True)
            own.mkdir()
            shutil.copy(file, own / "own.yaml")
            sample = self.folder / "sample.net"
            sample.write_text(source.choice(self.seeds.netlists), encoding="utf-8")
            self._command(["explain", str(sample), "--patterns", str(own)], source, file, None)

    def _command(self, arguments: list[str], source: random.Random, file: Path, circuit) -> None:
        from tests.fuzz.mutating import NAMES, NUMBERS
        from tests.fuzz.oracle import check_command

        words = ["Q1", "R1", "1", "vcc", "Q1.c", *(name for name in NAMES if "\0" not in name)]
        if circuit is not None:
            words += [*(part.ref for part in circuit.parts[:40]), *circuit.nets[:40]] * 2
        values = ["100mA", "85mm", "8.5cm", *NUMBERS]
        made = next((item for item in arguments if item.startswith("MADE")), None)
        place = None if made is None else self.folder / made
        other = self.folder / "other.net"
        if "OTHER" in arguments:
            other.write_text(source.choice(self.seeds.netlists), encoding="utf-8")
        filled = []
        for item in arguments:
            item = {"FILE": str(file), "OTHER": str(other), "FOLDER": str(self.folder)}.get(item, item)
            item = item.replace("VALUE", source.choice(values)) if "VALUE" in item else item
            item = item.replace("WORD", source.choice(words)) if "WORD" in item else item
            filled.append(str(place) if item == made else item)
        self.commands += 1
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        try:
            check_command(filled, place)
        except Exception as error:
            error.add_note(f"asked: {[item[:100] for item in filled]}")
            raise
        finally:
            if place is not None:
                shutil.rmtree(place, ignore_errors=True) if place.is_dir() else place.unlink(missing_ok=True)


def work(seed: int, found: Seeds, first: int, end: int, pipe) -> None:
    """A worker: inputs from `first` on, each told before it is begun, and what came of it."""
    os.environ["TOPO_DEBUG"] = "1"
    folder = Path(tempfile.mkdtemp(dir="/dev/shm" if os.path.isdir("/dev/shm") else None))
    os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
    own = folder / "inputs"
    own.mkdir()
    trace = (folder / "trace").open("w+")
    faulthandler.register(signal.SIGPROF, file=trace, chain=True)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    stream = Stream(seed, found, own)
    pipe.send(("folder", str(folder)))
    for number in range(first, end):
        pipe.send(("begin", number))
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        start = time.process_time()
        try:
            stream.run(number)
        except (Exception, RecursionError, MemoryError):
            pipe.send(("fault", number, traceback.format_exc()[-3000:]))
        signal.setitimer(signal.ITIMER_PROF, 0)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        pipe.send(("done", number, time.process_time() - start, peak, stream.read, stream.commands))
    pipe.send(("end",))


def run(seed: int, count: int, first: int = 0, step: int = 1, note=None) -> Tally:
    """Run `count` inputs of a seed from number `first` on; `step` takes fewer pattern files for seeds.

    A worker that hangs, or that memory fails, is followed by a fresh one. `note` is called with the tally and a fault,
    or None from time to time.
    """
    tally = Tally()
    found = seeds(step)
    context = multiprocessing.get_context("fork")
    at, end = first, first + count
    while at < end:
        ours, theirs = context.Pipe(duplex=False)
        worker = context.Process(target=work, args=(seed, found, at, end, theirs))
        worker.start()
        theirs.close()
        at = _follow(ours, worker, at, tally, note)
    return tally


def _follow(pipe, worker, at: int, tally: Tally, note) -> int:
    """Take what a worker says until it ends; the number of the next input."""
    folder, done = None, False
    read, commands = tally.read, tally.commands
    try:
        while pipe.poll(_IDLE):
            match pipe.recv():
                case ("folder", name):
                    folder = Path(name)
                case ("begin", number):
                    at = number
                case ("fault", number, trace):
                    _add(tally, number, trace, note)
                case ("done", number, seconds, peak, new_read, new_commands):
                    at = number + 1
                    tally.inputs += 1
                    tally.read, tally.commands = read + new_read, commands + new_commands
                    tally.peak = max(tally.peak, peak)
                    if note is not None and tally.inputs % _SHOWN == 0:
                        note(tally, None)
                    if seconds > tally.slowest:
                        tally.slowest, tally.slowest_input = seconds, number
                case ("end",):
                    done = True
                    break
    except EOFError:
        pass
    if not done:
        worker.kill()
        worker.join()
        trace = "" if folder is None else (folder / "trace").read_text(errors="replace")
        _add(tally, at, f"no answer, the worker ended with {worker.exitcode}\n{trace[:3000]}", note)
        tally.inputs += 1
        at += 1
    worker.join()
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)
    return at


def _add(tally: Tally, number: int, trace: str, note) -> None:
    fault = {"input": number, "trace": trace}
    tally.faults.append(fault)
    if note is not None:
        note(tally, fault)


def _print(tally: Tally, fault: dict | None) -> None:
    print(json.dumps(fault) if fault is not None else _words(tally), flush=True)


def _words(tally: Tally) -> str:
    return (
        f"{tally.inputs} inputs, {tally.read} circuits read, {tally.commands} commands, {len(tally.faults)} faults; "
        f"the slowest {tally.slowest:.1f} s of processor (input {tally.slowest_input}), "
        f"at most {tally.peak / 1024:.0f} MiB"
    )


def main() -> None:
    """The run by hand: faults as they come, one JSON object a line; the tally at the end."""
    count, seed, first = (int(item) for item in (*sys.argv[1:4], *("0", "0")[len(sys.argv[1:4]) - 1 :]))
    start = time.time()
    tally = run(seed, count, first, note=_print)
    print(f"{_words(tally)}; {time.time() - start:.0f} s")


if __name__ == "__main__":
    main()
