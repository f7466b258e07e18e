"""Scales of axes."""

import pytest

from topo.drawing.plots.scales import scale


@pytest.mark.parametrize(
    "values, unit, prefixed, words",
    [
        ([-67e-6, 67e-6], "V", "µV", ("−50", "0", "50")),
        ([0.0398], "A", "mA", ("0", "10", "20", "30", "40")),
        ([-1.7, 1.7], "V", "V", ("−1", "0", "1")),
        ([0.002], "s", "ms", ("0", "0.5", "1", "1.5", "2")),
        ([0.0], "A", "A", ("0", "0.25", "0.5", "0.75", "1")),
    ],
)
def test_marks_are_round_numbers_in_a_suitable_multiple_of_the_unit(values, unit, prefixed, words):
    found = scale(values, unit)

    assert (found.unit, found.words) == (prefixed, words)


def test_all_values_and_zero_lie_within_the_scale():
    found = scale([3.0, 4.7], "V")

    assert found.low == 0
    assert 0 < found.share(4.7) < 1
