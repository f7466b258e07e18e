"""The art of each symbol meets its pins."""

import re

import pytest

from topo.drawing.schematic.symbols import fixed_names, symbol

NAMES = [
    *fixed_names(),
    *("triode", "tetrode", "pentode", "opamp", "opamp:pm", "potentiometer:12", "potentiometer:1:z"),
    *("coil:2", "coil:2:c", "coil:3", "coil:4:c"),
    *(
        "transformer:1|1",
        "transformer:2|1",
        "transformer:2|2",
        "transformer:1|1,1",
        "transformer:3|2,1",
        "box:1",
        "box:2",
        "box:7",
    ),
]


def ends(path):
    """The points where strokes of straight lines begin, bend or end."""
    found, here = set(), (0.0, 0.0)
    for letter, rest in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        numbers = [float(number) for number in re.findall(r"-?\d*\.?\d+", rest)]
        if letter in "ML":
            for index in range(0, len(numbers), 2):
                here = (numbers[index], numbers[index + 1])
                found.add(here)
        elif letter == "a":
            here = (here[0] + numbers[-2], here[1] + numbers[-1])
            found.add(here)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_a_stroke_ends_at_every_pin(name):
    art = symbol(name)
    points = ends(art.fine)
    assert [pin.name for pin in art.pins if (pin.x, pin.y) not in points] == []


@pytest.mark.parametrize("name", NAMES)
def test_pins_lie_apart_and_outside_of_the_body(name):
    art = symbol(name)
    places = [(pin.x, pin.y) for pin in art.pins]
    assert len(set(places)) == len(places)
    x0, y0, x1, y1 = art.body
    assert not [pin for pin in art.pins if x0 < pin.x < x1 and y0 < pin.y < y1]


def test_a_dot_marks_the_start_of_each_winding():
    art = symbol("transformer:2|1,1").filled

    assert art.count("M") == 3


def test_the_tap_of_a_coil_lies_between_its_ends():
    art = symbol("coil:2")

    assert [(pin.name, pin.x, pin.y) for pin in art.pins] == [("0", -4, 0), ("1", 0, 2), ("2", 4, 0)]


def test_a_choke_with_a_tap_shows_its_core_and_a_coil_of_air_none():
    assert symbol("coil:2:c").fine.startswith(symbol("coil:2").fine)
    assert len(symbol("coil:2:c").fine) > len(symbol("coil:2").fine)
