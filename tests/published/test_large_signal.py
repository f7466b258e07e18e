"""Powers, efficiencies, conduction angles and distortion under drive, of worked examples and of exact formulas.

Books as in `test_power_stages`. "Ideal" devices here have a junction that opens within a few millivolts and next to no
base current, so that a circuit solved step by step must come to what the formulas for straight lines say.
"""

import math

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.analysis.large_signal import drive
from topo.graph import normalise
from topo.netlist import loads

IDEAL = """
device n npn IS=1e-9 N=0.02 hFE=1e6
device p pnp IS=1e-9 N=0.02 hFE=1e6
"""


def driven(text, amplitude, **options):
    graph = normalise(loads(text))
    cycle = drive(graph, operating_point(graph), amplitude=amplitude, frequency=1e3, **options)
    assert cycle.steady, cycle.missing
    return cycle


def followers(volts, ohms):
    return f"""{IDEAL}
        supply vp {volts}V
        supply vn {-volts}V
        input in
        output o
        Q1 n : b=in c=vp e=o
        Q2 p : b=in c=vn e=o
        R1 {ohms} : o gnd
    """


def single_supply(volts, ohms):
    return f"""{IDEAL}
        supply vcc {volts}V
        input in
        output out
        R1 10k : vcc in
        R2 10k : in gnd
        Q1 n : b=in c=vcc e=o
        Q2 p : b=in c=gnd e=o
        C1 1 : o out
        R3 {ohms} : out gnd
    """


def test_a_class_b_single_supply_follower_reaches_its_published_efficiency():
    # W41, Malvino examples 12-8 and 12-9, pp. 397-398: 6.25 W, average current 397.9 mA besides the bias; 63.66 % with
    # 10 V lost to the bias chain, left out here: 78.5 % of the output pair alone.
    cycle = driven(single_supply(20, 8), 10.0)

    assert cycle.output_power == approx(6.25, rel=0.005)
    assert cycle.device("Q1").mean == approx(397.9e-3, rel=0.005)
    assert cycle.device("Q1").dissipation < 1.25


def test_a_diode_biased_follower_reaches_its_published_efficiency_at_full_output():
    # W42, Malvino example 12-10, p. 400: 78 %, supply 6.414 W and load 5.0 W as recomputed with ideal swing.
    cycle = driven(single_supply(20, 10), 10.0)

    assert (cycle.output_power, cycle.efficiency) == (approx(5.0, rel=0.005), approx(0.785, rel=0.01))


def test_a_single_supply_follower_gives_the_published_load_and_takes_the_published_direct_power():
    # W43, Floyd example 9-5 (result recomputed): 6.25 W, 7.96 W.
    cycle = driven(single_supply(20, 8), 10.0)

    assert (cycle.output_power, cycle.supply_power) == (approx(6.25, rel=0.005), approx(7.958, rel=0.005))


def test_class_b_peaks_are_as_published_with_split_and_single_supply():
    # W44, Floyd examples 9-3 and 9-4 (result recomputed): 20 V and 1.25 A; 10 V and 0.625 A.
    split, single = driven(followers(20, 16), 20.0), driven(single_supply(20, 16), 10.0)

    assert (split.harmonics[0], split.device("Q1").peak) == (approx(20.0, rel=0.003), approx(1.25, rel=0.003))
    assert (single.harmonics[0], single.device("Q1").peak) == (approx(10.0, rel=0.003), approx(0.625, rel=0.003))


def test_a_transformer_coupled_class_a_stage_gives_what_it_was_designed_for():
    # W45, Neamen example 8.8 (result recomputed): 5 W in 8 ohm, 8.94 V and 1.12 A crest, 12.35 W taken.
    cycle = driven(
        """
        device n npn IS=1e-9 N=0.02 hFE=100
        supply vcc 24V
        input in
        output out
        R1 4.63k : vcc in
        Q1 n : b=in c=c e=gnd
        T1 transformer 2.415:1 rdc=0 : c vcc | out gnd
        R2 8 : out gnd
        """,
        4.63e-3 * 1e4,
        source=1e4,
    )

    assert cycle.device("Q1").rest == approx(0.5144, rel=0.02)
    assert cycle.output_power == approx(5.0, rel=0.03)
    assert cycle.harmonics[0] == approx(8.944, rel=0.015)
    assert cycle.supply_power == approx(12.35, rel=0.02)
    assert cycle.device("Q1").letter == "A"


def test_a_series_fed_class_a_stage_gives_the_published_power_and_efficiency():
    # W47, Boylestad example 12.1 (result recomputed): base current 10 mA crest; 0.625 W, 9.65 W, 6.48 %.
    cycle = driven(
        """
        supply vcc 20V
        input b
        output c
        R1 1k : vcc b
        R2 20 : vcc c
        R3 1M : c gnd
        Q1 npn IS=1e-12 hFE=25 : b=b c=c e=gnd
        """,
        10e-3 * 1e5,
        source=1e5,
    )
    alternating = cycle.current("Q1")

    # The base takes a little less than the generator's 10 mA, since 1 kilohm lies beside it.
    assert 20 * alternating.var() == approx(0.625, rel=0.02)
    assert 20.0 * alternating.mean() == approx(9.65, rel=0.01)
    assert 20 * alternating.var() / (20.0 * alternating.mean()) == approx(0.0648, rel=0.02)


@pytest.mark.parametrize(("peak", "efficiency"), [(12.0, 0.50), (6.0, 0.125), (8.0, 0.2222)])
def test_a_choke_fed_class_a_stage_has_half_the_square_of_its_swing_as_efficiency(peak, efficiency):
    # W48 (Boylestad example 12.6), W54 (Kulshreshtha example 9.3, p. 334, the same shares), F10 and F21.
    cycle = driven(
        """
        device n npn IS=1e-9 N=0.02 hFE=1000
        supply vcc 12V
        input in
        output o
        R1 11.99k : vcc in
        Q1 n : b=in c=c e=gnd
        L1 choke 10 rdc=0 : vcc c
        C1 100m : c o
        R2 12 : o gnd
        """,
        peak / 12.0 * 1e-3 * 1e6,
        source=1e6,
    )

    assert cycle.output.max() == approx(peak, rel=0.015)
    assert cycle.efficiency == approx(efficiency, rel=0.015)
    assert cycle.volts("c").max() == approx(12.0 + peak, rel=0.015)


@pytest.mark.parametrize(("volts", "peak", "efficiency"), [(30, 20.0, 0.5236), (24, 22.0, 0.72), (24, 12.0, 0.3927)])
def test_class_b_efficiency_is_78_54_percent_times_the_swing(volts, peak, efficiency):
    # W49, Boylestad examples 12.7 and 12.9 (result recomputed), and F12.
    cycle = driven(followers(volts, 16), peak)

    assert cycle.efficiency == approx(efficiency, rel=0.004)
    assert sum(cycle.supply_currents.values()) == approx(0.0, abs=1e-6)
    assert cycle.supply_currents["vp"] + -cycle.supply_currents["vn"] == approx(2 * peak / 16 / math.pi, rel=0.004)


def test_the_largest_class_b_power_is_as_published():
    # W49, Boylestad example 12.8: 28.125 W, 35.81 W, 78.54 %; F11 and F20.
    cycle = driven(followers(30, 16), 30.0)

    assert (cycle.output_power, cycle.supply_power) == (approx(28.125, rel=0.004), approx(35.81, rel=0.004))
    assert cycle.efficiency == approx(math.pi / 4, rel=0.003)


def test_class_b_followers_give_and_dissipate_as_published():
    # W50, Boylestad examples 12.10 to 12.12 (result recomputed): 16.97 V crest: 36.0 W, 67.5 W, 15.76 W each, 53.3 %.
    cycle = driven(followers(25, 4), 12.0 * math.sqrt(2))

    assert cycle.output_power == approx(36.0, rel=0.005)
    assert cycle.supply_power == approx(67.52, rel=0.005)
    assert cycle.device("Q1").dissipation == approx(15.76, rel=0.005)
    assert cycle.efficiency == approx(0.533, rel=0.005)
    assert cycle.device("Q1").peak == approx(4.243, rel=0.003)


@pytest.mark.parametrize(
    ("share", "each"), [(0.1, 0.0587), (0.3, 0.1460), (0.5, 0.1933), (0.6366, 0.2026), (0.8, 0.1893)]
)
def test_class_b_dissipation_follows_its_formula(share, each):
    # F14 to F16, computed: VCC Vp/(pi RL) - Vp^2/(4 RL), as a share of the largest load power VCC^2/(2 RL).
    cycle = driven(followers(25, 4), 25.0 * share)

    assert cycle.device("Q2").dissipation / (25.0**2 / 8) == approx(each, rel=0.008)


def test_one_half_of_a_class_b_pair_takes_and_gives_as_published():
    # W55, Kulshreshtha example 9.4, p. 336: 20 V, 4 ohm, 15 V crest: 23.87 W in, 14.06 W out, 58.9 %, both per device
    # of a pair that shares the cycle, so that these are half of the pair's supplies and load.
    cycle = driven(followers(20, 4), 15.0)

    assert (cycle.supply_power / 2, cycle.output_power / 2) == (approx(23.87, rel=0.004), approx(14.06, rel=0.004))
    assert cycle.efficiency == approx(0.589, rel=0.004)


CENTRE_TAPPED = """
    device n npn IS=1e-9 N=0.02 hFE=1000
    supply vcc 9V
    input in
    output out
    T1 transformer 1:1+1 rdc=0 : in gnd | s1 gnd s2
    Q1 n : b=s1 c=c1 e=gnd
    Q2 n : b=s2 c=c2 e=gnd
    T2 transformer 5+5:1 rdc=0 : c1 vcc c2 | out gnd
    LS1 speaker 8 : out gnd
"""


def test_a_centre_tapped_class_b_stage_comes_to_its_ideal_figures():
    # W63 and F42 to F45, computed: 200 ohm for each half, crests of 45 mA and 18 V, 202.5 mW of 257.8 mW, 28.65 mA.
    cycle = driven(CENTRE_TAPPED, 45e-6 * 1e6, source=1e6)

    assert cycle.device("Q1").peak == approx(45e-3, rel=0.01)
    assert cycle.volts("c2").max() == approx(18.0, rel=0.01)
    assert (cycle.output_power, cycle.supply_power) == (approx(202.5e-3, rel=0.01), approx(257.8e-3, rel=0.01))
    assert cycle.supply_currents["vcc"] == approx(28.65e-3, rel=0.01)
    assert cycle.efficiency == approx(0.7854, rel=0.01)
    assert [cycle.device(ref).letter for ref in ("Q1", "Q2")] == ["B", "B"]


def test_a_centre_tapped_class_b_stage_dissipates_most_at_63_7_percent_of_its_swing():
    # W63, computed: 41.0 mW in each device.
    cycle = driven(CENTRE_TAPPED, 0.637 * 45e-6 * 1e6, source=1e6)

    assert cycle.device("Q1").dissipation == approx(41.0e-3, rel=0.01)


@pytest.mark.parametrize(("share", "angle"), [(0.05, 185.7), (0.1, 191.5), (0.2, 203.1), (0.5, 240.0), (1.0, 360.0)])
def test_a_class_ab_pair_conducts_for_the_angle_of_its_idle_current(share, angle):
    # F22, computed: 2 acos(-Iq/Ipk), straight-line devices; here 1 V of bias behind 1 ohm for each side.
    wanted = 2 * math.degrees(math.acos(-share))
    assert wanted == approx(angle, abs=0.1)
    cycle = driven(
        f"""{IDEAL}
        supply vp 1000V
        supply vn -1000V
        input in
        output o
        BT1 battery 10V : a in
        BT2 battery 10V : in b
        Q1 n : b=a c=vp e=e1
        Q2 p : b=b c=vn e=e2
        R1 10 : e1 gnd
        R2 10 : e2 gnd
        R3 1k : in o
        R4 1k : o gnd
        """,
        10.0 / share * 0.9999,
        instants=1024,
    )

    # A device counts as open from a hundredth of its crest: that much is subtracted here.
    seen = 2 * math.degrees(math.acos(max(-1.0, (0.01 * (1 + share) - share))))
    assert cycle.device("Q1").angle == approx(min(seen, 360.0), abs=1.5)


def dead_band(share):
    """Followers that each want 1 V more than the zero of the input, driven with 1 V / share."""
    text = f"""{IDEAL}
        supply vp 1000V
        supply vn -1000V
        input in
        output o
        BT1 battery 1V : in a
        BT2 battery 1V : b in
        Q1 n : b=a c=vp e=o
        Q2 p : b=b c=vn e=o
        R1 1k : o gnd
        """
    return driven(text, 1.0 / share, instants=1024)


@pytest.mark.parametrize(
    ("share", "first", "third", "thd", "angle"),
    [
        (0.02, 0.97454, 0.008705, 0.01235, 177.71),
        (0.05, 0.93636, 0.022578, 0.03103, 174.27),
        (0.1, 0.87289, 0.047894, 0.06268, 168.52),
        (0.2, 0.74706, 0.10687, 0.1284, 156.93),
        (0.3, 0.62384, 0.17717, 0.1987, 145.08),
        (0.5, 0.39100, 0.35251, 0.3628, 120.00),
    ],
)
def test_a_dead_band_distorts_as_fouriers_integral_says(share, first, third, thd, angle):
    # F25 to F29, computed: the table of crossover distortion. The junctions open within 10 mV of the 1 V.
    cycle = dead_band(share)

    assert cycle.harmonics[0] * share == approx(first, rel=0.01)
    assert cycle.harmonics[2] / cycle.harmonics[0] == approx(third, rel=0.03)
    assert cycle.thd == approx(thd, rel=0.03)
    # A device counts as open from a hundredth of its crest on.
    seen = 180 - 2 * math.degrees(math.asin(share + 0.01 * (1 - share)))
    assert cycle.device("Q1").angle == approx(seen, abs=0.6)
    assert seen == approx(angle, abs=1.5)
    assert cycle.crossover > (0.99 if share >= 0.1 else 0.3)


def test_two_followers_without_bias_have_a_dead_band_of_a_junction_on_each_side():
    # F30, common practice: 0.6 to 0.7 V each side with silicon.
    cycle = driven(followers(12, 100).replace("IS=1e-9 N=0.02", "IS=1e-14"), 5.0)

    assert 5.0 - cycle.output.max() == approx(0.7, abs=0.1)
    still = abs(cycle.input[abs(cycle.output) < 0.05]).max()
    assert 0.55 < still < 0.75


def test_a_matched_pair_has_no_even_harmonics_and_no_direct_part():
    # F31, computed: exactly none.
    cycle = driven(followers(12, 100).replace("IS=1e-9 N=0.02", "IS=1e-14"), 5.0)

    assert max(cycle.harmonics[1:20:2]) < 1e-6 * cycle.harmonics[0]
    assert abs(cycle.output.mean()) < 1e-6


JUNCTION = """
    supply vcc 100V
    input in
    output c
    BT1 battery 0.5V : bias gnd
    R1 1M : bias in
    Q1 npn IS=1e-12 hFE=1e9 : b=in c=c e=gnd
    R2 1k : vcc c
"""


@pytest.mark.parametrize(
    ("x", "second", "third"), [(0.5, 0.1237, 0.01026), (1.0, 0.2402, 0.0392), (2.0, 0.4331, 0.134)]
)
def test_a_junction_makes_the_harmonics_of_modified_bessel_functions(x, second, third):
    # F32 and F33, computed: I2(x)/I1(x) and I3(x)/I1(x) for a drive of x kT/q.
    cycle = driven(JUNCTION, x * 0.025864926)

    assert cycle.harmonics[1] / cycle.harmonics[0] == approx(second, rel=0.002)
    assert cycle.harmonics[2] / cycle.harmonics[0] == approx(third, rel=0.004)


def test_a_differential_pair_makes_the_third_harmonic_of_a_hyperbolic_tangent():
    # F34, computed: crest of kT/q between the bases of a pair with its own current: 1.96 % exactly; tanh(v / (2 VT)).
    cycle = driven(
        """
        supply vp 100V
        supply vn -100000V
        input in
        output c2
        R1 10k : vp c1
        R2 10k : vp c2
        Q1 npn IS=1e-14 hFE=1e9 : b=in c=c1 e=t
        Q2 npn IS=1e-14 hFE=1e9 : b=gnd c=c2 e=t
        R3 100M : t vn
        R4 1k : in gnd
        """,
        0.025864926,
    )

    assert cycle.harmonics[2] / cycle.harmonics[0] == approx(0.0196, rel=0.01)
    assert cycle.harmonics[1] / cycle.harmonics[0] < 1e-4


def test_a_series_fed_class_a_stage_comes_to_a_quarter_at_its_limit():
    # W57 (Raju example 11.1, result recomputed) and F09: 16.67 W, 4.167 W, 25 %.
    cycle = driven(
        """
        supply vcc 20V
        input in
        output c
        R1 24.2k : vcc in
        Q1 npn IS=1e-9 N=0.02 hFE=1000 : b=in c=c e=gnd
        R2 12 : vcc c
        """,
        0.82e-3 * 1e5,
        source=1e5,
    )
    current = cycle.current("Q1")

    assert 20 * current.mean() == approx(16.67, rel=0.02)
    assert 12 * current.var() == approx(4.167, rel=0.05)
    assert 12 * current.var() / (20 * current.mean()) == approx(0.25, rel=0.05)
