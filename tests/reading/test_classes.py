"""Class of operation, with the numbers it rests on."""

from __future__ import annotations

from circuits import COMPLEMENTARY, PREAMPLIFIER, RADIO_STAGE, TWO_TRANSFORMERS


def letters(reading):
    return {frozenset(item.devices): item.letter for item in reading.classes}


def test_a_single_stage_that_conducts_is_class_a(reading):
    assert letters(reading(PREAMPLIFIER))[frozenset({"Q1"})] == "A"


def test_a_pair_that_idles_at_a_part_of_its_swing_is_class_ab(reading):
    assert letters(reading(TWO_TRANSFORMERS))[frozenset({"Q2", "Q3"})] == "AB"


def test_the_basis_names_current_voltage_and_load(reading):
    basis = next(item.basis for item in reading(TWO_TRANSFORMERS).classes if len(item.devices) == 2)

    assert "mA at rest" in basis and "128 Ω" in basis  # 8 ohm times 4 squared: one half of the winding


def test_a_pair_without_bias_is_class_b(reading):
    text = TWO_TRANSFORMERS.replace("R5 1k : vcc tap", "R5 1k : vcc elsewhere").replace(
        "D1 diode : tap gnd", "R8 1 : tap gnd"
    )

    assert letters(reading(text))[frozenset({"Q2", "Q3"})] == "B"


def test_a_pair_that_idles_at_most_of_its_swing_is_class_a(reading):
    text = TWO_TRANSFORMERS.replace("R5 1k", "R5 150").replace("D1 diode : tap gnd", "R8 22 : tap gnd")

    assert letters(reading(text))[frozenset({"Q2", "Q3"})] == "A"


def test_between_the_two_it_is_said_to_be_near_the_limit(reading):
    text = TWO_TRANSFORMERS.replace("R5 1k", "R5 225").replace("D1 diode : tap gnd", "R8 22 : tap gnd")
    item = next(item for item in reading(text).classes if len(item.devices) == 2)

    assert item.near_limit and "near the limit" in item.basis


def test_complementary_followers_are_classed_by_the_load_at_their_middle(reading):
    item = next(item for item in reading(COMPLEMENTARY).classes if len(item.devices) == 2)

    assert item.letter == "AB" and abs(item.ohms - 8) < 0.2 and abs(item.volts - 6) < 0.4


def test_a_radio_stage_without_bias_is_class_c(reading):
    assert letters(reading(RADIO_STAGE)) == {frozenset({"Q1"}): "C"}
