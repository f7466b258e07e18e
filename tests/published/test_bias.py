"""Worked examples of one-transistor bias. Their sources assume VBE = 0.7 V (0.6 V where said), hence the tolerances.

LIEC3: Kuphaldt and others, Lessons in Electric Circuits, volume III, "Biasing calculations", read. E84: R. Wang, E84
lecture notes, Harvey Mudd College, chapter 4, read. Malvino, Floyd: Electronic Principles and Electronic Devices, the
book's example as restated in its solved-examples companion; Floyd's results recomputed. Boylestad: from memory.
Second figures in a row, where there are any, are Ebers-Moll's with IS = 2e-15 A, recomputed.
"""

import pytest
from pytest import approx

from topo.analysis import operating_point
from topo.netlist import loads

EBERS_MOLL = 0.002  # the recomputed figures are printed to three or four digits


def solved(text, beta=100):
    point = operating_point(loads(f"device n npn IS=2e-15 hFE={beta}\ndevice p pnp IS=2e-15 hFE={beta}\n{text}"))
    assert point.status == "solved"
    assert point.residual < 1e-9
    return point


def emitter_current(point):
    return -point.current("Q1", "e")


def state(point):
    return point.states[point.graph.element_of["Q1"]]


@pytest.mark.parametrize("beta, published, recomputed", [(100, 1.02e-3, 1.0325e-3), (300, 3.07e-3, 3.07e-3)])
def test_base_bias_gives_the_published_emitter_current(beta, published, recomputed):
    # W06, LIEC3 figures 03487, 13060, 13065, read; the collector resistor is ours.
    point = solved("supply vcc 10V\nR1 910k : vcc b\nR2 1k : vcc c\nQ1 n : b=b c=c e=gnd", beta)

    assert emitter_current(point) == approx(published, rel=0.02)
    assert emitter_current(point) == approx(recomputed, rel=EBERS_MOLL)


@pytest.mark.parametrize(
    "beta, published, recomputed, collector", [(100, 0.989e-3, 0.9947e-3, 5.325), (300, 1.48e-3, 1.4842e-3, 3.024)]
)
def test_collector_feedback_bias_gives_the_published_emitter_current(beta, published, recomputed, collector):
    # W07, LIEC3 figures 03490, 13063, 13064, read.
    point = solved("supply vcc 10V\nR1 4.7k : vcc c\nR2 470k : c b\nQ1 n : b=b c=c e=gnd", beta)

    assert emitter_current(point) == approx(published, rel=0.02)
    assert emitter_current(point) == approx(recomputed, rel=EBERS_MOLL)
    assert point.voltage("c") == approx(collector, abs=0.01)


EMITTER_BIAS = {
    # id: base supply, base resistor, emitter resistor, tolerance, {beta: (published, recomputed)}
    "W08": ("2V", "82k", "470", 0.03, {100: (1.01e-3, 1.0165e-3), 300: (1.75e-3, 1.7363e-3)}),
    "W09": ("2V", "39k", "910", 0.02, {100: (1.00e-3, 1.0056e-3), 300: (1.25e-3, 1.2482e-3)}),
    "W10": ("1.5V", "33k", "470", 0.03, {100: (1.00e-3, 1.0082e-3), 300: (1.38e-3, 1.3718e-3)}),
    "W11": ("10V", "870k", "470", 0.03, {100: (1.01e-3, 1.0241e-3)}),
}


@pytest.mark.parametrize("example", EMITTER_BIAS)
def test_emitter_bias_gives_the_published_emitter_currents(example):
    # W08 to W11, LIEC3 figures 03488, 13061, 13066 to 13074, read.
    supply, base, emitter, tolerance, rows = EMITTER_BIAS[example]
    for beta, (published, recomputed) in rows.items():
        point = solved(
            f"""
            supply vcc 10V
            supply vbb {supply}
            R1 {base} : vbb b
            R2 4.7k : vcc c
            R3 {emitter} : e gnd
            Q1 n : b=b c=c e=e
            """,
            beta,
        )

        assert emitter_current(point) == approx(published, rel=tolerance)
        assert emitter_current(point) == approx(recomputed, rel=EBERS_MOLL)
        assert state(point) == "on"


def test_a_device_that_cannot_carry_the_calculated_current_is_called_saturated():
    # W11 at beta 300: the source calculates 2.76 mA, which 4.7 k cannot pass from 10 V; recomputed 1.911 mA.
    point = solved(
        """
        supply vcc 10V
        R1 870k : vcc b
        R2 4.7k : vcc c
        R3 470 : e gnd
        Q1 n : b=b c=c e=e
        """,
        300,
    )

    assert state(point) == "saturated"
    assert emitter_current(point) == approx(1.911e-3, rel=EBERS_MOLL)
    assert point.voltage("c") == approx(1.06, abs=0.01)
    assert point.voltage("c", "e") == approx(0.16, abs=0.005)


@pytest.mark.parametrize("beta, published, recomputed", [(100, 1.00e-3, 1.0137e-3), (300, 1.38e-3, 1.3805e-3)])
def test_a_divider_made_from_a_base_supply_gives_nearly_the_same_current(beta, published, recomputed):
    # W12, LIEC3 figure 03496, read.
    point = solved(
        """
        supply vcc 10V
        R1 220k : vcc b
        R2 39k : b gnd
        R3 4.7k : vcc c
        R4 470 : e gnd
        Q1 n : b=b c=c e=e
        """,
        beta,
    )

    assert emitter_current(point) == approx(published, rel=0.03)
    assert emitter_current(point) == approx(recomputed, rel=EBERS_MOLL)


@pytest.mark.parametrize(
    "beta, published, collector, recomputed",
    [(50, 2.85e-3, 9.15, 2.819e-3), (100, 5.70e-3, 6.3, 5.629e-3), (200, 11.4e-3, 0.6, 11.24e-3)],
)
def test_fixed_bias_gives_the_published_currents_at_three_betas(beta, published, collector, recomputed):
    # W13, E84 "Biasing" examples 1 and 2, read; VBE = 0.6 V in the source.
    point = solved("supply vcc 12V\nR1 200k : vcc b\nR2 1k : vcc c\nQ1 n : b=b c=c e=gnd", beta)

    assert point.current("Q1") == approx(published, rel=0.02)
    assert point.voltage("c") == approx(collector, abs=0.2)
    assert point.current("Q1") == approx(recomputed, rel=EBERS_MOLL)


W14 = {
    50: ((1.60e-3, 1.63, 8.80, 2.33, 7.17), (1.593e-3, 1.625, 8.815, 2.333, 7.190)),
    100: ((1.94e-3, 1.96, 8.11, 2.66, 6.15), (1.932e-3, 1.951, 8.136, 2.665, 6.185)),
    200: ((2.18e-3, 2.19, 7.65, 2.89, 5.46), (2.163e-3, 2.174, 7.675, 2.890, 5.501)),
}


@pytest.mark.parametrize("beta", W14)
def test_divider_bias_gives_five_published_figures_at_three_betas(beta):
    # W14, E84 "Biasing" example 3, figure transistorbiasingb, read; solved there without neglecting base current.
    published, recomputed = W14[beta]
    point = solved(
        """
        supply vcc 12V
        R1 100k : vcc b
        R2 36k : b gnd
        R3 2k : vcc c
        R4 1k : e gnd
        Q1 n : b=b c=c e=e
        """,
        beta,
    )
    found = (point.current("Q1"), *(point.voltage(net) for net in "ecb"), point.voltage("c", "e"))

    assert found == approx(published, rel=0.02)
    assert found == approx(recomputed, rel=EBERS_MOLL)


@pytest.mark.parametrize(
    "beta, base, collector, volts",
    [(50, 27.1e-6, 1.357e-3, 6.54), (100, 19.9e-6, 1.986e-3, 4.98), (200, 12.9e-6, 2.586e-3, 3.50)],
)
def test_collector_feedback_gives_the_published_figures_at_three_betas(beta, base, collector, volts):
    # W15, E84 "Biasing" example 5, read: 27, 20, 13 uA; 1.36, 2, 2.6 mA; 6.6, 5, 3.5 V. Here as recomputed.
    point = solved("supply vcc 10V\nR1 2.5k : vcc c\nR2 215k : c b\nQ1 n : b=b c=c e=gnd", beta)

    assert point.current("Q1", "b") == approx(base, rel=0.005)
    assert point.current("Q1") == approx(collector, rel=EBERS_MOLL)
    assert point.voltage("c") == approx(volts, abs=0.01)
    assert point.current("Q1") == approx({50: 1.36e-3, 100: 2e-3, 200: 2.6e-3}[beta], rel=0.02)


def test_an_emitter_follower_with_a_base_resistor_stands_at_half_the_supply():
    # W16, E84 "Emitter Follower" example, read.
    point = solved("supply vcc 10V\nR1 100k : vcc b\nR2 1.15k : e gnd\nQ1 n : b=b c=vcc e=e")

    assert point.current("Q1", "b") == approx(43e-6, rel=0.02)
    assert emitter_current(point) == approx(4.34e-3, rel=0.02)
    assert point.voltage("e") == approx(5.0, rel=0.02)
    assert point.voltage("e") == approx(4.979, rel=EBERS_MOLL)


def test_base_bias_with_an_emitter_resistor_gives_the_published_current():
    # W17, E84 "AC equivalent circuits" example 3, figure Example6, read.
    point = solved("supply vcc 12V\nR1 367k : vcc b\nR2 1.9k : vcc c\nR3 100 : e gnd\nQ1 n : b=b c=c e=e")

    assert point.current("Q1") == approx(3e-3, rel=0.02)
    assert point.voltage("c", "e") == approx(6.0, rel=0.02)
    assert point.current("Q1") == approx(2.990e-3, rel=EBERS_MOLL)


def divider(vcc, upper, lower, collector, emitter, beta):
    return solved(
        f"""
        supply vcc {vcc}
        R1 {upper} : vcc b
        R2 {lower} : b gnd
        R3 {collector} : vcc c
        R4 {emitter} : e gnd
        Q1 n : b=b c=c e=e
        """,
        beta,
    )


def test_a_high_divider_gives_the_published_current():
    # W18, E84 "Biasing" example 4, read: 2.12 mA, where the book rounds 252 to 250.
    point = divider("12V", "100k", "100k", "830", "2k", 100)

    assert point.current("Q1") == approx(2.12e-3, rel=0.02)
    assert point.voltage("c", "e") == approx(6.0, rel=0.02)
    assert point.current("Q1") == approx(2.097e-3, rel=EBERS_MOLL)


def test_a_stiff_divider_gives_the_published_voltages():
    # W19, Malvino examples 8-1 and 8-3, pp. 263 and 266, as restated in the solved-examples companion.
    point = divider("10V", "10k", "2.2k", "3.6k", "1k", 200)

    assert point.voltage("c", "e") == approx(4.92, rel=0.02)
    assert emitter_current(point) == approx(1.09e-3, rel=0.02)
    assert (point.voltage("b"), point.voltage("c")) == approx((1.7935, 6.079), rel=EBERS_MOLL)


def test_two_supply_emitter_bias_gives_the_published_collector_voltage():
    # W20, Malvino example 8-6, p. 271, as restated in the solved-examples companion; the base resistor is ours.
    point = solved(
        """
        supply vcc 15V
        supply vee -15V
        R1 2.7k : gnd b
        R2 10k : vcc c
        R3 20k : e vee
        Q1 n : b=b c=c e=e
        """,
        200,
    )

    assert point.voltage("c") == approx(7.85, rel=0.01)
    assert emitter_current(point) == approx(0.7151e-3, rel=EBERS_MOLL)


def test_a_pnp_divider_stage_gives_the_published_voltages():
    # W21, Malvino example 8-7, p. 278, as restated in the solved-examples companion.
    point = solved(
        """
        supply vee 10V
        R1 2.2k : vee b
        R2 10k : b gnd
        R3 1k : vee e
        R4 3.6k : c gnd
        Q1 p : b=b c=c e=e
        """,
        200,
    )

    assert (point.voltage("b"), point.voltage("e"), point.voltage("c")) == approx((8.2, 8.9, 3.96), rel=0.02)
    assert (point.voltage("b"), point.voltage("e"), point.voltage("c")) == approx((8.207, 8.906, 3.921), rel=0.002)


def test_a_base_with_its_own_supply_gives_the_published_current():
    # W22, Floyd example 5-1, from the solved-examples companion, result recomputed.
    point = solved(
        """
        supply vbb 10V
        supply vcc 20V
        R1 47k : vbb b
        R2 330 : vcc c
        Q1 n : b=b c=c e=gnd
        """,
        200,
    )

    assert point.current("Q1") == approx(39.6e-3, rel=0.02)
    assert point.voltage("c") == approx(6.93, rel=0.03)
    assert point.current("Q1") == approx(39.19e-3, rel=EBERS_MOLL)


def test_a_loaded_divider_is_within_a_tenth_of_the_source_that_neglects_base_current():
    # W23, Floyd example 5-3, from the solved-examples companion, result recomputed.
    point = divider("10V", "10k", "5.6k", "1k", "560", 100)

    assert point.current("Q1") == approx(5.16e-3, rel=0.10)
    assert (point.current("Q1"), point.voltage("b")) == approx((4.743e-3, 3.420), rel=EBERS_MOLL)


def test_a_pnp_stage_with_a_loaded_divider_is_within_seven_percent():
    # W24, Floyd example 5-4, from the solved-examples companion, result recomputed.
    point = solved(
        """
        supply vee 10V
        R1 10k : vee b
        R2 22k : b gnd
        R3 1k : vee e
        R4 2.2k : c gnd
        Q1 p : b=b c=c e=e
        """,
        150,
    )

    assert -point.current("Q1") == approx(2.42e-3, rel=0.07)
    assert (-point.current("Q1"), point.voltage("e", "c")) == approx((2.287e-3, 2.667), rel=EBERS_MOLL)


def test_a_pnp_stage_on_a_negative_supply_is_within_eight_percent():
    # W25, Floyd example 5-5, from the solved-examples companion, result recomputed.
    point = solved(
        """
        supply vcc -6V
        R1 68k : vcc b
        R2 47k : b gnd
        R3 1.8k : vcc c
        R4 2.2k : e gnd
        Q1 p : b=b c=c e=e
        """,
        75,
    )

    assert -point.current("Q1") == approx(0.636e-3, rel=0.08)
    assert point.voltage("c", "e") == approx(-3.46, rel=0.08)
    assert (point.voltage("b"), point.voltage("e")) == approx((-2.201, -1.514), rel=EBERS_MOLL)


def test_two_supply_bias_with_a_base_resistor_gives_the_published_current():
    # W26, Floyd example 5-7, from the solved-examples companion, result recomputed.
    point = solved(
        """
        supply vcc 20V
        supply vee -20V
        R1 100k : gnd b
        R2 4.7k : vcc c
        R3 10k : e vee
        Q1 n : b=b c=c e=e
        """,
        85,
    )

    assert point.current("Q1") == approx(1.73e-3, rel=0.02)
    assert (point.current("Q1"), point.voltage("e")) == approx((1.708e-3, -2.720), rel=EBERS_MOLL)


def test_low_collector_feedback_gives_the_published_current():
    # W27, Floyd example 5-8, from the solved-examples companion, result recomputed.
    point = solved("supply vcc 10V\nR1 10k : vcc c\nR2 100k : c b\nQ1 n : b=b c=c e=gnd")

    assert point.current("Q1") == approx(0.845e-3, rel=0.02)
    assert (point.current("Q1"), point.voltage("c")) == approx((0.8385e-3, 1.531), rel=EBERS_MOLL)


def test_base_bias_gives_the_figures_of_an_older_edition():
    # W58, Boylestad example 4.1, from memory.
    point = solved("supply vcc 12V\nR1 240k : vcc b\nR2 2.2k : vcc c\nQ1 n : b=b c=c e=gnd", 50)

    found = point.current("Q1", "b"), point.current("Q1"), point.voltage("c")
    assert found == approx((47.08e-6, 2.35e-3, 6.83), rel=0.01)


def test_base_bias_with_emitter_resistor_gives_the_figures_of_an_older_edition():
    # W59, Boylestad example 4.4, from memory.
    point = solved("supply vcc 20V\nR1 430k : vcc b\nR2 2k : vcc c\nR3 1k : e gnd\nQ1 n : b=b c=c e=e", 50)

    found = point.current("Q1", "b"), point.current("Q1"), point.voltage("c", "e"), point.voltage("c")
    assert found == approx((40.1e-6, 2.01e-3, 13.97, 15.98), rel=0.02)
    assert (point.voltage("e"), point.voltage("b")) == approx((2.045, 2.760), rel=EBERS_MOLL)


def test_divider_bias_gives_the_figures_of_an_older_edition():
    # W60, Boylestad example 4.7, from memory.
    point = divider("22V", "39k", "3.9k", "10k", "1.5k", 140)

    assert (point.current("Q1"), point.voltage("c", "e")) == approx((0.85e-3, 12.22), rel=0.01)


def fixed_gate_jfet(supply):
    return solved(
        f"""
        supply vdd {supply}
        supply vgg -2V
        R1 2k : vdd d
        R2 1M : vgg g
        Q1 njfet IDSS=10mA VP=-8 : g=g d=d s=gnd
        """
    )


def test_a_jfet_with_fixed_gate_bias_carries_the_published_current_above_pinch_off():
    # W61, Boylestad example 7.1, from memory: 5.625 mA. The book's 16 V leave 4.75 V at the drain, under the 6 V of
    # pinch-off, where its saturation law does not hold; with 20 V it does.
    point = fixed_gate_jfet("20V")

    assert point.current("Q1") == approx(5.625e-3, rel=0.001)


def test_a_jfet_below_pinch_off_follows_the_ohmic_law_and_not_the_saturation_law():
    # W61 with the book's own 16 V: ID = K VDS (2 (VGS - VP) - VDS) and VDS = 16 V - 2 k ID, solved by hand: 5.0387 V.
    point = fixed_gate_jfet("16V")
    volts = point.voltage("d")

    assert volts == approx(5.0387, rel=0.001)
    assert point.current("Q1") == approx(10e-3 / 64 * volts * (12 - volts), rel=0.001)


def test_a_self_biased_jfet_gives_the_published_current():
    # W62, Boylestad example 7.2, read in the solved-examples companion (a graph there); exact root 2.5876 mA.
    point = solved(
        """
        supply vdd 20V
        R1 3.3k : vdd d
        R2 1M : g gnd
        R3 1k : s gnd
        Q1 njfet IDSS=8mA VP=-6 : g=g d=d s=s
        """
    )

    assert (point.current("Q1"), point.voltage("d", "s")) == approx((2.5876e-3, 8.873), rel=0.01)
