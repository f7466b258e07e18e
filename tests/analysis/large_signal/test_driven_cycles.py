import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

import topo
from tests.analysis.large_signal.driving import driven
from topo.analysis import distortion_by_bias, drive, operating_point
from topo.graph import normalise
from topo.netlist import loads

ROOT = Path(__file__).resolve().parents[3]

STAGE = """
    supply vcc 12V
    input in
    output out
    C1 10u : in b
    R1 47k : vcc b
    R2 10k : b gnd
    Q1 npn IS=1e-14 hFE=100 : b=b c=c e=e
    R3 2.2k : vcc c
    R4 470 : e gnd
    C2 10u : c out
    R5 10k : out gnd
"""

PAIR = """
    supply vp 12V
    supply vn -12V
    input in
    output out
    R1 2k : vp up
    D1 diode IS=1e-13 : up in
    D2 diode IS=1e-13 : in low
    R2 2k : low vn
    Q1 npn IS=1e-13 hFE=200 : b=up c=vp e=out
    Q2 pnp IS=1e-13 hFE=200 : b=low c=vn e=out
    R3 100 : out gnd
"""


def test_small_drives_have_the_gain_of_the_linear_circuit():
    graph = normalise(loads(STAGE))
    point = operating_point(graph)
    cycle = drive(graph, point, amplitude=1e-4, frequency=1e3, method="time stepping")
    from topo.analysis import linearise

    linear = linearise(graph, point)
    wanted = abs(linear.transfer(graph.node_of["in"], graph.node_of["out"], 1e3))

    assert cycle.gain == approx(wanted, rel=3e-4)
    assert cycle.thd < 1e-4


def test_what_supplies_and_generator_give_is_what_the_parts_take():
    for text, amplitude in ((STAGE, 1.5), (PAIR, 8.0)):
        for method in ("time stepping", "quasi-static"):
            cycle = driven(text, amplitude, source=600.0, frequency=1e3, method=method)
            assert cycle.steady
            assert abs(cycle.balance) < 2e-4 * cycle.supply_power


def test_the_quasi_static_path_agrees_with_time_stepping():
    chosen = driven(STAGE, 1.5, source=600.0, frequency=1e3)
    stepped = driven(STAGE, 1.5, source=600.0, frequency=1e3, method="time stepping")

    assert (chosen.method, stepped.method) == ("quasi-static", "time stepping")
    assert chosen.gain == approx(stepped.gain, rel=0.002)
    assert chosen.thd == approx(stepped.thd, rel=0.02)
    assert chosen.supply_power == approx(stepped.supply_power, rel=0.002)


def test_a_capacitor_that_matters_at_the_frequency_is_stepped_through_time():
    bright = STAGE.replace("C2 10u : c out", "C2 10u : c out\n    C3 10n : c gnd")

    assert driven(bright, 0.5, frequency=1e3).method == "time stepping"
    assert "neither keeps still" in driven(bright, 0.5, frequency=1e3).reason
    refused = driven(bright, 0.5, frequency=1e3, method="quasi-static")
    assert (refused.status, refused.output.size) == ("not solved", 0)


def test_a_long_time_constant_takes_few_cycles():
    # 10 s of time constant at 1 kHz would take tens of thousands of plain cycles.
    slow = STAGE.replace("C1 10u", "C1 1000u")
    cycle = driven(slow, 3.0, source=600.0, frequency=1e3, method="time stepping")

    assert cycle.steady and cycle.cycles < 15
    across = cycle.volts("in") - cycle.volts("b")
    assert across[-1] == approx(across[0], abs=1e-3)
    assert abs(cycle.current("Q1", "b").mean()) > 0


def test_an_overdriven_stage_moves_its_bias_so_that_no_current_is_left_in_the_coupling_capacitor():
    cycle = driven(STAGE, 4.0, source=600.0, frequency=1e3, method="time stepping")
    into_base = (12.0 - cycle.volts("b")) / 47e3 - cycle.volts("b") / 10e3 - cycle.current("Q1", "b")

    assert abs(into_base.mean()) < 2e-3 * np.abs(into_base).max()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("R1 1k : a gnd", "an input and an output"),
        ("input a\nR1 1k : a gnd", "an output"),
        ("output a\nR1 1k : a gnd", "an input"),
    ],
)
def test_a_circuit_without_ports_says_so(text, words):
    cycle = driven(text, 1.0)

    assert cycle.status == "no ports"
    assert words in cycle.missing[0]
    assert math.isnan(cycle.output_power)


def test_a_circuit_with_a_missing_value_says_which():
    cycle = driven("supply v 9V\ninput a\noutput b\nR1 : v b\nR2 1k : a b\nR3 1k : b gnd", 1.0)

    assert cycle.status == "not solved"
    assert "R1" in cycle.missing[0]


def test_a_circuit_that_oscillates_by_itself_says_so():
    # A Colpitts oscillator, into whose emitter a small signal is brought: own design.
    cycle = driven(
        """
        supply v 9V
        input in
        output c
        R1 22k : v b
        R2 10k : b gnd
        C1 100n : b gnd
        Q1 npn : b=b c=c e=e
        R3 1k : e gnd
        L1 10u rdc=0.1 : v c
        C2 220p : c e
        C3 1n : e gnd
        R4 100k : in e
        """,
        1e-3,
        frequency=2.5e6,
    )

    assert cycle.status == "not steady"
    assert "oscillates" in cycle.missing[0] or "does not repeat" in cycle.missing[0]


def test_the_same_drive_gives_the_same_bytes():
    first, second = (driven(PAIR, 5.0, frequency=1e3, method="time stepping") for _ in range(2))

    assert first.node_volts.tobytes() == second.node_volts.tobytes()
    assert first.harmonics == second.harmonics


def test_no_amplitude_leaves_the_circuit_at_rest():
    cycle = driven(STAGE, 0.0, frequency=1e3)

    assert cycle.steady
    assert np.ptp(cycle.volts("c")) < 1e-6
    assert cycle.device("Q1").peak == approx(cycle.device("Q1").rest, rel=1e-6)


def test_a_load_with_other_direct_resistance_keeps_its_standing_drop():
    text = "supply v 9V\ninput in\noutput c\nR1 82k : v in\nQ1 npn : b=in c=c e=gnd\nLS1 headphones 300 rdc=60 : v c"
    graph = normalise(loads(text))
    point = operating_point(graph)
    cycle = drive(graph, point, amplitude=1e-3, source=1e3, frequency=1e3)

    assert cycle.volts("c").mean() == approx(point.voltage("c"), abs=1e-3)
    swing, current = np.ptp(cycle.volts("c")), np.ptp(cycle.current("Q1"))
    assert swing / current == approx(300.0, rel=1e-3)


def test_more_bias_takes_crossover_away():
    # Two diode drops between the bases, then less and less: a trimmer across them.
    text = """
        supply vp 12V
        supply vn -12V
        input in
        output out
        R1 2k : vp up
        VR1 trimmer 2k at 50% : up low low
        R2 2k : low vn
        R3 100k : in up
        Q1 npn IS=1e-13 hFE=200 : b=up c=vp e=out
        Q2 pnp IS=1e-13 hFE=200 : b=low c=vn e=out
        C1 100u : up low
        R4 100 : out gnd
        """
    rows = distortion_by_bias(loads(text), "VR1", (0.0, 0.1, 0.2, 0.25), amplitude=400.0, source=1.0, frequency=1e3)
    crossovers = [row.crossover for row in rows]

    assert all(row.cycle.steady for row in rows)
    order = crossovers if rows[0].rest["Q1"] < rows[-1].rest["Q1"] else crossovers[::-1]
    assert order == sorted(order, reverse=True)
    assert order[0] > 0.9 and order[-1] < 0.5


def test_explaining_does_not_load_large_signals():
    code = (
        "import sys, topo, topo.cli\n"
        "from click.testing import CliRunner\n"
        "CliRunner().invoke(topo.cli.main, ['explain', 'samples/intercom.net'])\n"
        "print([name for name in sys.modules if 'large_signal' in name])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_every_sample_with_ports_comes_to_a_steady_cycle():
    for file in sorted((ROOT / "samples").glob("*.net")):
        circuit = topo.load(str(file))
        if circuit.inputs and circuit.outputs:
            graph = normalise(circuit)
            cycle = drive(graph, operating_point(graph), amplitude=1e-3, source=50.0)
            assert cycle.steady, (file.name, cycle.missing)
            assert abs(cycle.balance) < 1e-3 * cycle.supply_power
