"""Random but plausible circuits of building blocks, and what every figure must hold."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import topo
from topo.drawing import figure


class _Bench:
    """The lines of a circuit under construction; names are counted, values drawn."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.lines: list[str] = []
        self.counts: dict[str, int] = {}
        self.nets = 0

    def net(self) -> str:
        self.nets += 1
        return f"n{self.nets}"

    def add(self, letter: str, words: str, *nets: str) -> None:
        self.counts[letter] = self.counts.get(letter, 0) + 1
        self.lines.append(f"{letter}{self.counts[letter]} {words} : {' '.join(nets)}")

    def device(self, kind: str, base: str, collector: str, emitter: str) -> None:
        self.add("Q", kind, f"b={base}", f"c={collector}", f"e={emitter}")

    def ohms(self, *values: str) -> str:
        return self.rng.choice(values)


def _common_emitter(bench: _Bench, entry: str) -> str:
    base, collector, emitter = bench.net(), bench.net(), bench.net()
    bench.add("C", "electrolytic 10u", base, entry)
    bench.add("R", bench.ohms("47k", "100k"), "vcc", base)
    if bench.rng.random() < 0.8:
        bench.add("R", bench.ohms("10k", "22k"), base, "gnd")
    bench.add("R", bench.ohms("2k2", "4k7"), "vcc", collector)
    bench.device("npn", base, collector, emitter)
    bench.add("R", bench.ohms("470", "1k"), emitter, "gnd")
    if bench.rng.random() < 0.7:
        bench.add("C", "electrolytic 100u", emitter, "gnd")
    if bench.rng.random() < 0.2:
        bench.add("C", "47p", collector, base)
    return collector


def _follower(bench: _Bench, entry: str) -> str:
    emitter = bench.net()
    bench.device("npn", entry, "vcc", emitter)
    bench.add("R", bench.ohms("1k", "2k2"), emitter, "gnd")
    return emitter


def _long_tailed(bench: _Bench, entry: str) -> str:
    base, other, out, tail = (bench.net() for _ in range(4))
    bench.add("C", "1u", entry, base)
    for side in (base, other):
        bench.add("R", "100k", side, "half")
    bench.device("npn", base, "vcc", tail)
    bench.device("npn", other, out, tail)
    bench.add("R", "4k7", tail, "gnd")
    bench.add("R", "4k7", "vcc", out)
    bench.add("C", "10u", other, "gnd")
    if bench.rng.random() < 0.5:
        bench.add("R", "22k", out, other)
    return out


def _filter(bench: _Bench, entry: str) -> str:
    out = bench.net()
    bench.add("R", bench.ohms("1k", "10k"), entry, out)
    bench.add("C", bench.ohms("1n", "10n"), out, "gnd")
    return out


def _volume(bench: _Bench, entry: str) -> str:
    out, top = bench.net(), bench.net()
    bench.add("C", "100n", entry, top)
    bench.add("VR", "pot 10k at 50%", top, out, "gnd")
    return out


def _op_amp(bench: _Bench, entry: str) -> str:
    turned, out = bench.net(), bench.net()
    bench.add("R", "10k", entry, turned)
    bench.add("R", "47k", turned, out)
    bench.add("U", "opamp", "in+=half", f"in-={turned}", f"out={out}")
    return out


def _complementary(bench: _Bench, entry: str) -> str:
    base, high, low, up, down, mid, out = (bench.net() for _ in range(7))
    bench.add("C", "10u", entry, base)
    bench.device("npn", base, low, "gnd")
    bench.add("R", "1k", "vcc", high)
    bench.add("D", "diode", high, bench_mid := bench.net())
    bench.add("D", "diode", bench_mid, low)
    bench.device("npn", high, "vcc", up)
    bench.device("pnp", low, "gnd", down)
    bench.add("R", "0R47", up, mid)
    bench.add("R", "0R47", down, mid)
    bench.add("R", "22k", mid, base)
    bench.add("R", "3k9", base, "gnd")
    bench.add("C", "electrolytic 470u", mid, out)
    return out


def _push_pull(bench: _Bench, entry: str) -> str:
    base, collector, one, tap, two, up, down, out = (bench.net() for _ in range(8))
    bench.add("C", "10u", entry, base)
    bench.add("R", "47k", "vcc", base)
    bench.device("npn", base, collector, "gnd")
    bench.add("T", "transformer 2:1+1", "vcc", collector, "|", one, tap, two)
    bench.add("R", "1k", "vcc", tap)
    bench.add("D", "diode", tap, "gnd")
    emitters = (bench.net(), bench.net()) if bench.rng.random() < 0.5 else ("gnd", "gnd")
    for side, end, emitter in ((one, up, emitters[0]), (two, down, emitters[1])):
        bench.device("npn", side, end, emitter)
        if emitter != "gnd":
            bench.add("R", "2R2", emitter, "gnd")
    bench.add("T", "transformer 3+3:1", up, "vcc", down, "|", out, "gnd")
    return out


_Stage = Callable[[_Bench, str], str]
_STAGES: tuple[_Stage, ...] = (_common_emitter, _common_emitter, _follower, _long_tailed, _filter, _volume, _op_amp)
_ENDS: tuple[_Stage, ...] = (_complementary, _push_pull, _follower)


def netlist(seed: int, most: int = 40) -> str:
    """A circuit of 5 to `most` parts, the same for the same seed."""
    rng = random.Random(seed)
    bench = _Bench(rng)
    wanted = rng.randint(5, most)
    here = "in"
    while len(bench.lines) < max(4, wanted - 14):
        here = rng.choice(_STAGES)(bench, here)
    here = rng.choice(_ENDS)(bench, here) if wanted > 12 else _common_emitter(bench, here)
    bench.add("R", "8", here, "gnd")
    if any(" half" in line or "=half" in line for line in bench.lines):
        bench.add("R", "10k", "vcc", "half")
        bench.add("R", "10k", "half", "gnd")
        bench.add("C", "electrolytic 100u", "half", "gnd")
    return "\n".join([f"circuit Generated {seed}", "supply vcc 12V", "input in", f"output {here}", *bench.lines])


def chain(stages: int) -> str:
    """A receiver's worth of stages one behind the other, with a feed by the side."""
    bench = _Bench(random.Random(stages))
    here = "in"
    for number in range(stages):
        here = _common_emitter(bench, here)
        if number % 3 == 2:
            here = _volume(bench, _follower(bench, here))
    here = _push_pull(bench, here)
    bench.add("LS", "speaker 8", here, "gnd")
    return "\n".join(["circuit Chain", "supply vcc 12V", "input in", f"output {here}", *bench.lines])


def faults(text: str) -> Iterator[str]:
    """What a figure of a netlist has that none may have, in words. Reading back is part of drawing it."""
    result = figure(topo.read(topo.loads(text)))
    found = result.metrics
    for words, count in (
        ("symbols overlap", found.symbol_overlaps),
        ("wires run through symbols", found.wires_through_symbols),
        ("texts overlap", found.text_overlaps),
        ("four-way junctions", found.four_way),
    ):
        if count:
            yield f"{count} {words}"
