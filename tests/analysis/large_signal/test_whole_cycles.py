"""Cycles of which all instants are solved together, against the same steps taken one after another."""

from pathlib import Path

import numpy as np
import pytest
from pytest import approx

import topo
from topo.analysis import operating_point
from topo.analysis.large_signal.collocating import Collocation
from topo.analysis.large_signal.driving import set_up
from topo.analysis.large_signal.repeating import repeat
from topo.graph import normalise
from topo.netlist import loads

ROOT = Path(__file__).resolve().parents[3]
INSTANTS = 128
RECTIFIER = """
    input a
    output c
    R1 10 : a b
    D1 rectifier IS=1e-14 : b c
    C1 47u : c gnd
    R2 1k : c gnd
"""
CLASS_C = """
    supply vcc 15V
    input in
    output out
    C1 10n : in b
    R1 10k : b gnd
    Q1 npn IS=1e-14 hFE=100 : b=b c=c e=gnd
    L1 2u rdc=0.652 : vcc c
    C2 470p : c vcc
    C3 100n : c out
    R2 1k : out gnd
"""
OSCILLATOR = """
    supply vcc 12V
    input in
    output c
    R0 1M : in b
    R1 47k : vcc b
    R2 10k : b gnd
    C1 100n : b gnd
    Q1 npn : b=b c=c e=e
    L1 10u rdc=0.1 : vcc c
    C2 100p : c e
    C3 1n : e gnd
    R3 1k : e gnd
"""


def bench_of(circuit, **options):
    graph = normalise(circuit)
    return set_up(graph, operating_point(graph), method="time stepping", instants=INSTANTS, **options)


def wave(amplitude):
    return amplitude * np.sin(2 * np.pi * np.arange(1, INSTANTS + 1) / INSTANTS)


@pytest.mark.parametrize(
    ("text", "amplitude", "frequency"), [(RECTIFIER, 10.0, 50.0), (CLASS_C, 0.8, 5.191e6), (CLASS_C, 1.5, 5.191e6)]
)
def test_a_cycle_solved_as_a_whole_is_that_of_steps_in_time(text, amplitude, frequency):
    bench = bench_of(loads(text), frequency=frequency, source=50.0)

    whole = Collocation(bench.stepper, INSTANTS).cycle(wave(amplitude))
    stepped = repeat(bench.stepper, wave(amplitude))

    assert whole is not None and stepped.steady
    assert whole.cycle.controls == approx(stepped.cycle.controls, abs=2e-4)
    assert np.sort(np.abs(np.linalg.eigvals(whole.cycle.slopes))) == approx(
        np.sort(np.abs(np.linalg.eigvals(stepped.cycle.slopes))), abs=1e-3
    )


@pytest.mark.parametrize("name", ["hall-amplifier", "intercom", "hf-link"])
def test_the_whole_cycle_of_a_sample_is_that_of_steps_in_time(name):
    bench = bench_of(topo.load(str(ROOT / "samples" / f"{name}.net")), source=50.0)
    amplitude = {"hall-amplifier": 0.5, "intercom": 50e-6, "hf-link": 2.0}[name]

    whole = Collocation(bench.stepper, INSTANTS).cycle(wave(amplitude))
    stepped = repeat(bench.stepper, wave(amplitude))

    assert whole is not None and whole.cycles < 20 and stepped.steady
    assert whole.cycle.controls == approx(stepped.cycle.controls, abs=1e-4)


def test_a_drive_far_beyond_the_last_one_is_approached_by_those_between():
    bench = bench_of(loads(CLASS_C), frequency=5.191e6, source=50.0)
    collocation = Collocation(bench.stepper, INSTANTS)

    assert collocation.cycle(wave(1e-3)) is not None
    found = collocation.cycle(wave(8.0)).cycle

    # Stepped once more from where it begins, it comes back to there, by the same way.
    again = bench.stepper.cycle(found.before[0], found.controls[-1], wave(8.0), False)
    assert again.solved
    assert again.controls == approx(found.controls, abs=1e-4)
    assert again.after == approx(found.before[0], rel=1e-5)


def test_an_oscillator_that_is_driven_says_that_it_oscillates():
    cycle = bench_of(loads(OSCILLATOR), frequency=5.28e6).run(1e-3)

    assert cycle.status == "not steady"
    assert "oscillates by itself" in cycle.missing[0] or "does not repeat itself" in cycle.missing[0]


def test_a_bench_without_patience_gives_a_drive_up_soon():
    bench = bench_of(loads(CLASS_C), frequency=5.191e6, source=50.0)
    bench.patience = 0.0

    cycle = bench.run(100.0)

    assert cycle.steady or cycle.status == "not solved"
    assert bench.stepped == 0
