"""Bands: declared ones, those of tuned circuits, and what is assumed at the ports."""

import pytest
from pytest import approx
from viewing import seen

RECEIVER = """
circuit medium-wave receiver
supply vcc 6V
R20 100 : vcc v1
C20 electrolytic 100u : v1 gnd
T1 transformer 80:5 primary=350u k=0.9 : rod gnd | b1 bias1
C1 180p : rod gnd
R1 47k : v1 bias1
R2 10k : bias1 gnd
C2 22n : bias1 gnd
Q1 npn : b=b1 c=c1 e=e1
R3 1k : e1 gnd
C3 22n : e1 t2
T2 transformer 100:5 primary=150u k=0.9 : osc gnd | t2 gnd
C4 90p : osc p
C5 330p : p gnd
T3 transformer 50+100:10 primary=600u k=0.8 : c1 d1 x1 | b2 agc
C6 200p : c1 x1
R4 100 : v1 d1
C7 47n : d1 gnd
R5 39k : v1 agc
R55 8k2 : agc det
C8 electrolytic 10u : agc gnd
Q2 npn : b=b2 c=c2 e=e2
R6 1k : e2 gnd
C9 47n : e2 gnd
T4 transformer 50+100:40 primary=600u k=0.8 : c2 v1 x2 | dd gnd
C10 200p : c2 x2
D1 diode germanium : dd det
C11 10n : det gnd
VR1 5k at 50% : det w gnd
C12 electrolytic 4u7 : w b3
R7 47k : v1 b3
R8 10k : b3 gnd
Q3 npn : b=b3 c=c3 e=e3
R9 1k : e3 gnd
C13 electrolytic 47u : e3 gnd
T5 transformer 10:1 primary=2H : c3 vcc | sp gnd
LS1 speaker 8 : sp gnd
"""


def tank_of(found, ref):
    return next(tank for tank in found.views.tanks if tank.element == found.element(ref))


def test_a_receiver_has_the_audio_band_and_one_for_each_cluster_of_tuned_circuits():
    found = seen(RECEIVER)

    bands = [view.band for view in found.views.signals]

    assert bands[0] == (300, 3400)
    assert [(low * high) ** 0.5 for low, high in bands[1:]] == [
        approx(459e3, rel=0.01),  # both transformers: 600 uH with 200 pF
        approx(634e3, rel=0.01),  # the rod: 350 uH with 180 pF
        approx(1.543e6, rel=0.01),  # the oscillator: 150 uH with 90 pF and its padder of 330 pF
    ]


def test_a_padder_in_series_belongs_to_the_tuned_circuit():
    assert set(seen(RECEIVER).names(tank_of(seen(RECEIVER), "T2").capacitors)) == {"C4+C5"}


def test_a_capacitive_tap_belongs_to_the_tuned_circuit():
    found = seen("""
        supply vcc 9V
        signal 3MHz to 4MHz
        L1 4u7 : vcc c
        C1 470p : vcc e
        C2 1n : e c
        C3 100n : b gnd
        R1 22k : vcc b
        R2 10k : b gnd
        R3 1k : e gnd
        Q1 npn : b=b c=c e=e2
        R4 330 : e2 e
    """)

    assert set(found.names(tank_of(found, "L1").capacitors)) == {"C1", "C2"}
    assert tank_of(found, "L1").frequency == approx(4.11e6, rel=0.05)  # 4.7 uH with 470 pF and 1 nF in series


def test_a_device_belongs_to_the_bands_of_the_tuned_circuits_at_its_electrodes():
    found = seen(RECEIVER)

    belongs = {found.graph.elements[index].name: bands for index, bands in found.views.bands_of.items()}

    assert belongs["Q2"] == (1,)
    assert {1, 2} <= set(belongs["Q1"])
    assert belongs["Q3"] == (0,)


def test_a_tuning_capacitor_is_neither_short_nor_open_in_its_own_band():
    found = seen(RECEIVER)

    assert found.fate("C6", band=1) == "shaping"
    assert found.verdict("C6", band=1).remark == "tunes with T3 at 459 kHz"
    assert found.fate("C6", band=0) == "open"


def test_an_intermediate_frequency_winding_is_a_wire_at_audio_and_a_part_in_its_band():
    found = seen(RECEIVER)

    assert found.joined("c2", "v1", band=0)
    assert not found.joined("c2", "v1", band=1)


def test_an_audio_transformer_is_a_part_at_audio():
    found = seen(RECEIVER)

    assert not found.joined("c3", "vcc", band=0)


FILTER = """
supply vcc 9V
signal 1.8MHz to 30MHz
input b
output c
{coil} : vcc n
{capacitor} : n gnd
R1 1k : n c
Q1 npn : b=b c=c e=gnd
R2 220k : c b
"""


@pytest.mark.parametrize(
    ("coil", "capacitor"),
    [
        ("FB1 inductor 1u", "C1 electrolytic 10u"),
        ("L1 choke 10u", "C1 10n"),
        ("L1 inductor 10u", "C1 10n"),
        ("FB1 bead", "C1 100n"),
    ],
)
def test_a_supply_filter_is_no_tuned_circuit(coil, capacitor):
    found = seen(FILTER.format(coil=coil, capacitor=capacitor))

    assert found.views.tanks == ()
    assert len(found.views.signals) == 1


def test_a_coil_and_capacitor_at_a_collector_are_a_tuned_circuit():
    found = seen("""
        supply vcc 9V
        signal 6.9MHz to 7.2MHz
        input b
        output c
        L1 2u2 : vcc c
        C1 220p : c gnd
        Q1 npn : b=b c=c e=gnd
        R2 220k : c b
    """)

    assert found.names(tank_of(found, "L1").capacitors) == ("C1",)
    assert found.fate("L1") == found.fate("C1") == "shaping"


def test_a_tuned_circuit_within_the_declared_band_makes_no_band_of_its_own():
    found = seen("""
        supply vcc 9V
        signal 6.9MHz to 7.2MHz
        input b
        output c
        L1 2u2 : vcc c
        C1 220p : c gnd
        Q1 npn : b=b c=c e=gnd
        R2 220k : c b
    """)

    assert [view.band for view in found.views.signals] == [(6.9e6, 7.2e6)]


TRAP = """
supply vcc 9V
signal 3.5MHz to 3.8MHz
input in
output o
R1 10k : vcc b
R2 1k : b gnd
C1 10n : in b
Q1 npn : b=b c=c e=e
R3 22 : e gnd
L1 choke 100u : vcc c
L2 1u : c m
C2 129p : c m
R5 50 : o gnd
C3 100n : m o
"""


def test_a_harmonic_trap_does_not_take_its_device_out_of_the_declared_band():
    found = seen(TRAP)

    assert 0 in found.views.bands_of[found.element("Q1")]


def test_a_coil_that_is_damped_by_its_load_is_no_tuned_circuit():
    found = seen("""
        supply vcc 9V
        signal 6.9MHz to 7.2MHz
        input b
        output c
        L1 2u2 : vcc c
        C1 220p : c gnd
        R3 100 : c vcc
        Q1 npn : b=b c=c e=gnd
        R2 220k : c b
    """)

    assert found.views.tanks == ()


SECTIONS = """
supply vcc 9V
input in
output out
signal 300Hz to 3.4kHz
R1 10k : vcc c
Q1 npn : b=b c=c e=gnd
R2 1M : c b
C1 10n : in b
C2 100n : c out
R3 10k : out gnd
section head
signal 1MHz to 2MHz
R4 1k : vcc c2
Q2 npn : b=b2 c=c2 e=gnd
R5 220k : c2 b2
C3 10n : b2 x
R6 50 : x gnd
"""


def test_a_section_with_a_band_has_a_view_of_its_own_and_its_devices():
    found = seen(SECTIONS)

    assert [view.band for view in found.views.signals] == [(300, 3400), (1e6, 2e6)]
    assert found.views.bands_of[found.element("Q2")] == (1,)
    assert found.views.bands_of[found.element("Q1")] == (0,)
    assert found.fate("C3", band=1) == "short"


def test_without_a_band_speech_is_assumed_and_said():
    found = seen("""
        supply vcc 9V
        R1 10k : vcc c
        Q1 npn : b=b c=c e=gnd
        R2 1M : c b
        C1 1u : in b
    """)

    assert found.views.signal.band == (300, 3400)
    assert any("300 Hz to 3.4 kHz assumed" in words for words in found.views.assumptions)


def test_without_a_band_an_aerial_and_small_coils_mean_short_wave():
    found = seen("""
        supply vcc 12V
        L1 choke 47u : vcc c
        Q1 npn : b=b c=c e=e
        R1 10k : vcc b
        R2 1k : b gnd
        R3 22 : e gnd
        C1 100n : in b
        C2 100n : c ant
        AE1 antenna 50 : ant gnd
    """)

    assert found.views.signal.band == (1.8e6, 30e6)
    assert any("assumed" in words for words in found.views.assumptions)


AMPLIFIER = """
supply vcc 12V
signal {band}
input in
output c
R1 470k : vcc b
R3 2k2 : vcc c
Q1 npn : b=b c=c e=gnd
C1 1u : in b
{source}
"""


def test_the_generator_is_a_tenth_of_the_input_impedance_at_audio():
    found = seen(AMPLIFIER.format(band="300Hz to 3.4kHz", source=""))

    assert found.views.generator == approx(108, rel=0.1)  # hFE 100 at 2.4 mA: 1.1 kohm
    assert any("generator" in words for words in found.views.assumptions)


def test_the_generator_is_fifty_ohm_at_radio_frequency():
    assert seen(AMPLIFIER.format(band="1MHz to 10MHz", source="")).views.generator == 50


def test_no_generator_is_assumed_where_a_microphone_is_drawn():
    found = seen(AMPLIFIER.format(band="300Hz to 3.4kHz", source="MK1 microphone 600 : in gnd"))

    assert found.views.generator is None
    assert "MK1" in found.views.generator_words


def test_no_generator_is_assumed_at_a_tuned_circuit():
    found = seen("""
        supply vcc 9V
        signal 600kHz to 1.6MHz
        input rod
        output c
        T1 transformer 80:5 primary=350u k=0.9 : rod gnd | b n
        C1 180p : rod gnd
        R1 470k : vcc n
        C2 100n : n gnd
        R3 2k2 : vcc c
        Q1 npn : b=b c=c e=gnd
    """)

    assert found.views.generator is None
    assert len(found.views.tanks) == 1
    assert found.views.tanks[0].q > 50


def test_an_output_coupling_capacitor_with_nothing_behind_it_meets_an_assumed_load():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        input in
        output out
        R1 470k : vcc b
        R3 2k2 : vcc c
        Q1 npn : b=b c=c e=gnd
        C1 1u : in b
        C2 1u : c out
    """)

    assert found.joined("c", "out")
    assert any("load" in words and "out" in words for words in found.views.assumptions)


def test_a_diode_behind_a_resistor_of_its_own_detects_too():
    found = seen("""
        input in
        output af
        signal 450kHz to 460kHz
        T1 transformer 10:3 primary=680u k=0.98 : in gnd | det gnd
        C1 180p : in gnd
        R1 220 : det d
        D1 diode germanium : d o
        C2 1n : o gnd
        R2 47k : o gnd
        R3 1M : o af
    """)

    assert any("audio part" in text for text in found.views.assumptions)


def test_a_circuit_that_a_device_keeps_going_hard_is_tuned_as_it_is_without_the_device():
    found = seen("""
        supply vcc 9V
        output out
        signal 450kHz to 460kHz
        R1 33k : vcc b0
        R2 6k8 : b0 gnd
        C1 47n : b0 gnd
        Q1 npn : b=b c=c e=e
        R3 1k : e gnd
        C2 47n : e gnd
        T1 transformer 30:1 primary=400u k=0.98 : c vcc | b0 b
        C4 300p : c vcc
        C5 100n : vcc gnd
        R4 100k : c out
    """)

    assert [tank.frequency for tank in found.views.tanks] == [approx(459e3, rel=0.02)]
