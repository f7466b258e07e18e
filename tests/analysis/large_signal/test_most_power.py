import math
from pathlib import Path

from pytest import approx

import topo
from tests.analysis.large_signal.driving import power_limit
from topo.analysis import most_power, operating_point
from topo.graph import normalise

ROOT = Path(__file__).resolve().parents[3]

FOLLOWERS = """
    device n npn IS=1e-9 N=0.02 hFE=1e6
    device p pnp IS=1e-9 N=0.02 hFE=1e6
    supply vp 25V
    supply vn -25V
    input in
    output o
    Q1 n : b=b c=vp e=o
    Q2 p : b=b c=vn e=o
    R1 4 : o gnd
    R2 10k : in gnd
    U1 opamp VMAX=25 : in+=in in-=fb out=b
    R3 10k : b fb
    R4 1k : fb gnd
"""


def test_a_class_b_pair_clips_where_its_supplies_end():
    # An op-amp that clips at the rails drives ideal followers: 10 % distortion is met a little above VCC^2 / (2 RL).
    limit = power_limit(FOLLOWERS, frequency=1e3)
    ideal = 25.0**2 / 8

    assert limit.status == "found"
    assert limit.criterion in ("distortion of 10 %", "gain 1 dB less than at two thirds of the drive")
    assert ideal < limit.power < 1.35 * ideal
    assert limit.limit.output.max() == approx(25.0, rel=0.01)
    assert limit.efficiency > math.pi / 4


def test_a_class_b_pair_dissipates_most_at_half_its_efficiency():
    # F15 of the check values, computed: VCC^2 / (pi^2 RL) in each, at 0.6366 of the swing.
    limit = power_limit(FOLLOWERS, frequency=1e3)
    worst = next(item for item in limit.worst if item.ref == "Q1")

    assert worst.watts == approx(25.0**2 / (math.pi**2 * 4), rel=0.02)
    assert math.sqrt(2 * 4 * worst.output_power) == approx(0.6366 * 25, rel=0.1)


def test_a_class_a_stage_dissipates_most_without_a_signal():
    # F18 of the check values: VCEQ times ICQ (Malvino example 12-4).
    limit = power_limit(
        """
        supply vcc 30V
        input in
        output out
        C1 1000u : in b
        R1 490 : vcc b
        R2 68 : b gnd
        R3 120 : vcc c
        R4 20 : e gnd
        C2 10m : e gnd
        C3 10m : c out
        R5 180 : out gnd
        Q1 npn IS=3e-13 hFE=100 : b=b c=c e=e
        """,
        source=200.0,
        frequency=1e3,
    )

    assert limit.worst[0].ref == "Q1"
    assert limit.worst[0].amplitude < 0.1 * limit.amplitude
    # W39, Malvino example 12-1: 18 V peak to peak is the most; ten percent of distortion come before it.
    assert 0.5 * 18 < limit.limit.output.max() - limit.limit.output.min() < 1.1 * 18


def test_the_drives_of_a_sweep_are_in_order_and_their_power_grows():
    limit = power_limit(FOLLOWERS, frequency=1e3)
    amplitudes = [row.amplitude for row in limit.drives]

    assert amplitudes == sorted(amplitudes)
    assert all(a.power <= b.power * 1.001 for a, b in zip(limit.drives, limit.drives[1:], strict=False))


def test_a_circuit_without_ports_has_no_power():
    limit = power_limit("R1 1k : a gnd")

    assert (limit.status, limit.limit) == ("no ports", None)
    assert "input" in limit.missing[0]


def test_a_resistive_divider_never_clips():
    limit = power_limit("supply v 9V\nR9 1k : v gnd\ninput a\noutput b\nR1 1k : a b\nR2 1k : b gnd", frequency=1e3)

    assert limit.status == "not reached"
    assert limit.thd < 1e-9


def test_nothing_at_the_output_is_said():
    limit = power_limit("supply v 9V\ninput a\noutput b\nR1 1k : a gnd\nR2 1k : v b\nR3 1k : b gnd")

    assert limit.status == "not found"
    assert limit.missing


def test_samples_have_a_limit_of_power():
    for name, least, most in (("gate-speaker-class-ab", 0.2, 1.5), ("hall-amplifier", 25.0, 40.0)):
        graph = normalise(topo.load(str(ROOT / "samples" / f"{name}.net")))
        limit = most_power(graph, operating_point(graph), source=600.0 if name != "hall-amplifier" else 100.0)
        assert limit.status == "found", name
        assert least < limit.power < most, name
        assert 0.2 < limit.efficiency < 0.8, name


def test_an_unbiased_pair_is_followed_through_its_dead_band():
    # 12 V less a junction's drop into 50 ohm: (12 - 0.8)^2 / 100 = 1.25 W with crests that are just cut.
    limit = power_limit(
        """
        supply vp 12V
        supply vn -12V
        input in
        output o
        U1 opamp VMAX=12 : in+=in in-=fb out=b
        R1 9k : b fb
        R2 1k : fb gnd
        R3 10k : in gnd
        Q1 npn : b=b c=vp e=o
        Q2 pnp : b=b c=vn e=o
        R4 50 : o gnd
        """,
        frequency=1e3,
    )

    assert limit.status == "found"
    assert 1.15 < limit.power < 1.6


def test_a_gain_that_falls_slowly_is_no_clipping():
    # As its pair leaves class A the sample loses 2.6 dB over three octaves of drive; (13.3 V)^2 / 2 on 2.8 ohm, a
    # quarter of what lies between the collectors, is 32 W.
    graph = normalise(topo.load(str(ROOT / "samples" / "hf-link.net")))
    limit = most_power(graph, operating_point(graph), source=50.0)

    assert 25.0 < limit.power < 40.0


def test_a_stage_that_distorts_with_little_output_is_taken_at_a_smaller_drive():
    # A bare exponential distorts by a quarter of its drive in units of kT/q: 10 % at 10.3 mV (I2(x)/I1(x) = x/4, F32
    # of the check values), and its output there is a small share of the supply.
    limit = power_limit(
        """
        supply vcc 100V
        input in
        output c
        BT1 battery 0.5V : bias gnd
        R1 1M : bias in
        Q1 npn IS=1e-12 hFE=1e9 : b=in c=c e=gnd
        R2 1k : vcc c
        """,
        frequency=1e3,
    )

    assert limit.status == "found"
    assert limit.thd == approx(0.1, abs=0.002)
    assert limit.amplitude == approx(0.4 * 0.025864926, rel=0.03)


def test_a_loudspeaker_to_the_supply_is_the_load():
    limit = power_limit(
        """
        supply vcc 9V
        input in
        output c
        C1 10u : in b
        R1 100k : vcc b
        Q1 npn : b=b c=c e=gnd
        LS1 speaker 32 : vcc c
        """,
        source=1e3,
        frequency=1e3,
    )

    assert limit.limit.load_ohms == approx(32.0)
    assert limit.power == approx(limit.limit.output.var() / 32.0, rel=1e-6)


def test_a_capacitor_without_a_value_is_named():
    limit = power_limit("supply v 9V\ninput a\noutput b\nC1 ? : a b\nR1 1k : b gnd\nR2 1k : v a", frequency=1e3)

    assert limit.status == "not found"
    assert limit.missing == ("C1 has no value: the signal in it is not known",)


def test_a_limit_of_power_takes_counted_steps():
    # The same work on every machine, and no more than some hundreds of Newton steps of whole cycles.
    graph = normalise(topo.load(str(ROOT / "samples" / "intercom.net")))
    first, second = (most_power(graph, operating_point(graph), source=50.0) for _ in range(2))

    assert [row.amplitude for row in first.drives] == [row.amplitude for row in second.drives]
    assert first.power == second.power
    assert len(first.drives) < 40


def test_distortion_that_is_greatest_at_small_drives_is_no_limit():
    # Crossover of a pair that idles at little: over 10 % where the output is a small share of the supply, less above.
    limit = power_limit(
        """
        device n npn IS=1e-14 hFE=1e6
        device p pnp IS=1e-14 hFE=1e6
        supply vp 12V
        supply vn -12V
        input in
        output o
        U1 opamp VMAX=12 : in+=in in-=fb out=m
        R1 9k : m fb
        R2 1k : fb gnd
        R3 10k : in gnd
        BT1 battery 0.5V : up m
        BT2 battery 0.5V : m low
        Q1 n : b=up c=vp e=o
        Q2 p : b=low c=vn e=o
        R4 8 : o gnd
        """,
        frequency=1e3,
    )

    assert max(row.thd for row in limit.drives if row.power > 1e-3) > 0.1
    assert 6.0 < limit.power < 12.0  # (12 V - 0.3 V)^2 / 16 = 8.6 W, crests just cut.
