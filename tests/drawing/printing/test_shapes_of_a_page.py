"""The shapes read from the SVG that the package writes."""

import math

import pytest

from topo.drawing.printing.shapes import Lettering, Shape, page_of

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="-5 0 10 5">'
HAIR = 0.001
"""Millimetres: far below what a press resolves."""


def drawn(inside):
    return page_of(HEAD + inside + "</svg>").drawn


def ends(shape):
    return [numbers[-2:] for _, numbers in shape.strokes if numbers]


def test_lengths_are_millimetres_of_the_page():
    page = page_of(HEAD + "<title>A &amp; B</title><desc>two</desc></svg>")

    assert (page.width, page.height, page.title, page.description) == (20, 10, "A & B", "two")


def test_a_path_is_moved_and_scaled_with_its_groups():
    (shape,) = drawn(
        '<g stroke="#000000" stroke-width=".5"><path transform="matrix(0 1 -1 0 2 1)" d="M0 0L1 0M0 2L3 2"/></g>'
    )

    assert ends(shape) == [(14, 2), (14, 4), (10, 2), (10, 8)]
    assert (shape.stroke, shape.weight) == ("#000000", 1.0)


@pytest.mark.parametrize("sweep", (0, 1))
def test_an_arc_passes_the_points_of_its_circle(sweep):
    (shape,) = drawn(f'<path d="M-1 1a1 1 0 0 {sweep} 2 0"/>')

    points = ends(shape)
    assert points[-1] == pytest.approx((12, 2), abs=HAIR)
    assert all(math.hypot(x - 10, y - 2) == pytest.approx(2, abs=HAIR) for x, y in points)
    assert (points[1][1] < 2) == bool(sweep)


def test_a_circle_and_a_rectangle_are_closed():
    circle, box = drawn('<circle cx="0" cy="2" r="1"/><rect x="0" y="0" width="2" height="1" rx=".25"/>')

    assert circle.strokes[-1][0] == box.strokes[-1][0] == "Z"
    assert max(x for x, _ in ends(circle)) == pytest.approx(12, abs=HAIR)


def test_a_text_keeps_size_place_style_and_turn():
    (text,) = drawn(
        '<g font-size="2" font-weight="bold"><text x="1" y="2" text-anchor="end" font-style="italic" '
        'transform="rotate(-90 1 2)">4.7 k&#937;</text></g>'
    )

    assert isinstance(text, Lettering)
    assert (text.x, text.y) == pytest.approx((12, 4))
    assert (text.words, text.size, text.anchor, text.bold, text.italic) == ("4.7 kΩ", 4, "end", True, True)
    assert text.angle == pytest.approx(90)


def test_an_arrow_head_stands_at_the_end_of_its_line():
    marker = '<defs><marker id="head" refX="8" refY="3"><path d="M0,0L8,3L0,6z" fill="#000000"/></marker></defs>'
    line, head = drawn(marker + '<path d="M0 0L2 0" stroke="#000000" fill="none" marker-end="url(#head)"/>')

    assert isinstance(head, Shape) and head.fill == "#000000" and not line.fill
    assert ends(head)[1] == pytest.approx((14, 0))
