"""Preferred values and their marking, class letters of designators: standards, each as its entry was seen."""

import pytest
from pytest import approx

from topo.netlist.kinds import CHOICES, LETTERS
from topo.quantities import E24, is_preferred, parse

E6 = (10, 15, 22, 33, 47, 68)
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)


def test_preferred_values_are_those_of_the_series():
    # F100 to F103, table of IEC 60063 values, read.
    assert E24[::2] == E12
    assert E12[::2] == E6
    assert set(E24) - set(E12) == {11, 13, 16, 20, 24, 30, 36, 43, 51, 62, 75, 91}


@pytest.mark.parametrize("ohms", [870e3])
def test_a_value_that_a_textbook_calls_chosen_is_not_preferred(ohms):
    # F103, W11: 870 k is on neither series (checked with the table).
    assert not is_preferred(ohms)


@pytest.mark.parametrize(
    "text, ohms",
    [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470),
        ("4K7", 4.7e3),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        ("1K0", 1e3),
        ("100R", 100),
        ("1G0", 1e9),
    ],
)
def test_a_letter_stands_at_the_decimal_point_of_a_resistance(text, ohms):
    # F104, F105, encyclopaedia article on IEC 60062, read; the last three from memory (F108).
    assert parse(text, "ohm") == approx(ohms, rel=1e-12)


@pytest.mark.parametrize(
    "text, farads",
    [
        ("4n7", 4.7e-9),
        ("1u0", 1e-6),
        ("10p", 10e-12),
        ("p33", 0.33e-12),
        ("3p3", 3.3e-12),
        ("33p", 33e-12),
        ("n15", 150e-12),
        ("1n5", 1.5e-9),
        ("33n", 33e-9),
        ("2u2", 2.2e-6),
    ],
)
def test_a_letter_stands_at_the_decimal_point_of_a_capacitance(text, farads):
    # F106, F107, read in articles on the marking code; from p33 on from memory (F108).
    assert parse(text, "F") == approx(farads, rel=1e-12)


@pytest.mark.parametrize(
    "letters, kind",
    [
        *[("R", "resistor"), ("C", "capacitor"), ("K", "relay"), ("J", "jack"), ("L", "inductor"), ("D", "diode")],
        *[("LS", "speaker"), ("MK", "microphone"), ("M", "meter"), ("BT", "battery"), ("F", "fuse"), ("S", "switch")],
        *[("Y", "crystal"), ("RT", "thermistor")],
    ],
)
def test_class_letters_tell_the_kind(letters, kind):
    # F111, IEEE 315 and ASME Y14.44: R, C, K and J read in an article on reference designators, the rest from memory.
    assert LETTERS[letters] == kind


@pytest.mark.parametrize(
    "letters, kinds", [("Q", {"npn", "pnp"}), ("V", {"triode", "pentode"}), ("U", {"opamp", "ic"})]
)
def test_class_letters_of_devices_leave_a_choice(letters, kinds):
    # F111: U read, Q and V (transistor, electron tube) from memory.
    assert kinds <= set(CHOICES[letters])
