"""Values in and out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from topo.quantities import (
    QuantityError,
    is_preferred,
    nearest_preferred,
    parse,
    rkm,
    show,
    show_percent,
    show_range,
    split,
    with_unit,
)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("4k7", 4700.0, ""),
        ("4.7k", 4700.0, ""),
        ("4700", 4700.0, ""),
        ("2R2", 2.2, "ohm"),
        ("0R22", 0.22, "ohm"),
        ("R47", 0.47, "ohm"),
        ("100n", 1e-7, ""),
        ("4u7", 4.7e-6, ""),
        ("4µ7", 4.7e-6, ""),
        ("4μ7F", 4.7e-6, "F"),
        ("1M", 1e6, ""),
        ("1m", 1e-3, ""),
        ("47p", 47e-12, ""),
        ("8ohm", 8.0, "ohm"),
        ("8Ω", 8.0, "ohm"),
        ("4k7Ω", 4700.0, "ohm"),
        ("9V", 9.0, "V"),
        ("-12V", -12.0, "V"),
        ("5V6", 5.6, "V"),
        ("500mA", 0.5, "A"),
        ("3.5MHz", 3.5e6, "Hz"),
        ("30%", 30.0, "%"),
        ("1e-14", 1e-14, ""),
        ("10f", 1e-14, ""),
        (".5", 0.5, ""),
    ],
)
def test_a_typed_value_is_read_exactly(text, value, unit):
    assert split(text) == (value, unit)


@pytest.mark.parametrize("text", ["", "k", "4x7", "4k7k", "4.7.1", "4k7H5", "nan", "inf", "1e999", "9" * 100, "٣k"])
def test_what_is_no_value_is_refused(text):
    with pytest.raises(QuantityError):
        split(text)


def test_a_value_in_another_unit_is_refused_and_told():
    with pytest.raises(QuantityError, match="is in V"):
        parse("9V", "ohm")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (4700, "ohm", "4.7 kΩ"),
        (0.22, "ohm", "0.22 Ω"),
        (0.65, "V", "0.65 V"),
        (0.0121, "V", "12.1 mV"),
        (0.0029, "A", "2.9 mA"),
        (199.99999999999997e-3, "A", "200 mA"),
        (0.999999, "A", "1 A"),
        (0.9996, "V", "1 V"),
        (1e-7, "F", "100 nF"),
        (4.7e-3, "F", "4700 µF"),
        (47e-12, "F", "47 pF"),
        (3.5e6, "Hz", "3.5 MHz"),
        (0.19, "W", "0.19 W"),
        (-0.0, "V", "0 V"),
        (0.0, "A", "0 A"),
        (-12.0, "V", "-12 V"),
        (20.04, "dB", "20 dB"),
        (math.nan, "V", "not known"),
        (None, "V", "not known"),
        (math.inf, "ohm", "∞ Ω"),
        (12.34, "", "12.3"),
    ],
)
def test_a_value_is_shown_as_people_write_it(value, unit, shown):
    assert show(value, unit) == shown


def test_fewer_figures_are_shown_where_asked_for():
    assert show(0.0029408, "A", 2) == "2.9 mA"


def test_a_range_says_a_common_unit_once():
    assert show_range(300, 3400, "Hz") == "300 Hz to 3.4 kHz"
    assert show_range(2, 5, "V") == "2 to 5 V"
    assert show_range(2, 2.0001, "V") == "2 V"


def test_a_fraction_is_shown_in_percent():
    assert show_percent(0.0532) == "5.3 %"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4700, "ohm", "4k7"),
        (2.2, "ohm", "2R2"),
        (0.22, "ohm", "0R22"),
        (47, "ohm", "47"),
        (1e-7, "F", "100n"),
        (5.6, "V", "5V6"),
    ],
)
def test_letter_for_point_marking_follows_iec_60062(value, unit, text):
    assert rkm(value, unit) == text


@given(st.floats(min_value=1e-18, max_value=1e15), st.sampled_from(["ohm", "F", "H", "V"]))
def test_a_marked_value_reads_back_to_exactly_itself(value, unit):
    assert split(rkm(value, unit))[0] == value


@given(st.floats(min_value=-1e15, max_value=1e15), st.sampled_from(["V", "A", "W", "Hz", "ohm", "H", "%", ""]))
def test_a_value_with_its_unit_reads_back_to_exactly_itself(value, unit):
    assert split(with_unit(value, unit))[0] == value


@given(st.floats(min_value=1e-14, max_value=1e11), st.integers(min_value=2, max_value=6))
def test_a_shown_value_is_right_to_its_figures(value, digits):
    number, unit = show(value, "A", digits).split(" ")

    assert abs(split(f"{number}{unit}")[0] / value - 1) <= 0.51 * 10 ** (1 - digits)


@pytest.mark.parametrize("value", [47e3, 4.7, 1e6, 2.49e3, 1.02e3, 8.2e-12, 250.0, 5e3])
def test_values_of_the_series_are_preferred(value):
    """E24 and E96 of IEC 60063, and round figures of older parts (common practice)."""
    assert is_preferred(value)


@pytest.mark.parametrize(("value", "likely"), [(74e3, (47e3, 75e3)), (4.4e3, (4.3e3,)), (23e-9, (22e-9,))])
def test_a_value_outside_the_series_has_likely_ones(value, likely):
    assert not is_preferred(value)
    assert nearest_preferred(value) == pytest.approx(likely)
