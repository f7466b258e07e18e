"""Figures as element lists have them.

Scale factors: T G MEG K MIL M U N P F, letters behind them without meaning, are common practice of the form since the
1970s; letter-for-point marking is IEC 60062.
"""

import pytest

from topo.netlist.elements.figures import figure
from topo.netlist.elements.spelling import number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("10MEG", 10e6),
        ("10meg", 10e6),
        ("2.2Megohm", 2.2e6),
        ("10M", 10e-3),
        ("4.7K", 4700.0),
        ("4.7kOhm", 4700.0),
        ("100nF", 100e-9),
        ("1F", 1e-15),
        ("10mil", 254e-6),
        ("3x", 3e6),
        ("1T", 1e12),
        ("2g", 2e9),
        ("47\u00b5", 47e-6),
        ("1e3k", 1e6),
        ("1.E-14", 1e-14),
        (".5u", 0.5e-6),
        ("-3.3", -3.3),
        ("12V", 12.0),
        ("5Amps", 5.0),
        ("1k$tail", 1000.0),
        ("50%", 50.0),
    ],
)
def test_a_figure_is_read_with_its_scale_factor(text, value):
    assert figure(text).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "value"), [("4k7", 4700.0), ("2R2", 2.2), ("1MEG5", 1.5e6), ("4u7", 4.7e-6)])
def test_a_letter_between_figures_is_a_decimal_point_and_said_to_be(text, value):
    assert figure(text) == (pytest.approx(value), True)


@pytest.mark.parametrize("text", ["abc", "", "k1", "1k2k3", "--5", "0x10", "1e999", "1e-3k0", "9" * 65, "nan", "inf"])
def test_what_is_no_figure_is_none(text):
    assert figure(text) is None


@pytest.mark.parametrize("value", [4700.0, 10e6, 1e-7, 2.2, 4.7e-6, 123456.789, 1e-14, 0.0, -12.0, 3.3e-3, 1 / 3])
def test_a_number_is_written_so_that_it_reads_back_the_same(value):
    assert figure(number(value)).value == value
