"""Blocks as tinted regions."""

import re

import topo
from topo.drawing import figure
from topo.drawing.marks.tinting import Area, Room, tint
from topo.drawing.palette import EDGES, TINTS
from topo.drawing.schematic.engine import draw

TWO = """
circuit Two stages
supply vcc 12V
input in
output out
C1 10u : in b1
R1 100k : vcc b1
R2 22k : b1 gnd
R3 2k2 : vcc c1
R4 470 : e1 gnd
Q1 npn : b=b1 c=c1 e=e1
C2 10u : c1 b2
R5 100k : vcc b2
R6 22k : b2 gnd
R7 2k2 : vcc out
R8 470 : e2 gnd
Q2 npn : b=b2 c=out e=e2
"""
AREAS = [Area(1, "First stage", "stage", ("Q1", "R1", "R2", "R3", "R4", "C1")), Area(2, "Second", "output", ("Q2",))]


def loops(element):
    """The corner points of each closed line of a region."""
    path = re.search(r' d="([^"]*)"', element).group(1)
    return [re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", part) for part in path.split("Z") if part]


def inside(x, y, lines):
    hits = 0
    for line in lines:
        points = [(float(a), float(b)) for a, b in line]
        for (ax, ay), (bx, by) in zip(points, points[1:] + points[:1], strict=True):
            if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
                hits += 1
    return hits % 2 == 1


def test_a_region_holds_its_parts_and_no_others():
    drawing = draw(topo.loads(TWO))
    made = tint(drawing, AREAS, Room(drawing))

    regions = [loops(element) for element in made.under]
    for place in drawing.placed:
        for area, lines in zip(AREAS, regions, strict=True):
            x0, y0, x1, y1 = place.fit.body
            middle = (place.x + (x0 + x1) / 2, place.y + (y0 + y1) / 2)
            if place.item.key in area.parts or place.item.kind in ("resistor", "npn", "capacitor"):
                assert inside(*middle, lines) == (place.item.key in area.parts)


def test_each_block_has_its_name_in_the_figure_or_beneath_it():
    found = figure(topo.read(topo.loads(TWO)), blocks=True)

    for block in found.values()["blocks"]:
        assert any(block["name"].split()[0] in words for words in (found.svg, *found.notes))
    assert found.svg.count('class="block"') == len(found.values()["blocks"]) >= 2


def test_names_in_a_figure_are_quoted():
    drawing = draw(topo.loads(TWO))
    made = tint(drawing, [Area(1, "A & <b>", "stage", ("Q1", "R4"))], Room(drawing))
    drawing.texts += made.texts

    from topo.drawing.schematic.writing import svg_of

    assert "A &amp; &lt;b&gt;" in svg_of(drawing, "", "")


def _luminance(colour):
    """Relative luminance of sRGB (IEC 61966-2-1), without its linear foot."""
    red, green, blue = (int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5))
    return 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2


def test_lettering_on_tints_and_edges_stay_visible_in_greys():
    for sort, edge in EDGES.items():
        assert (_luminance(TINTS[sort]) + 0.05) / 0.05 > 15  # contrast of black letters (WCAG 2.1 asks for 7)
        assert (_luminance(TINTS[sort]) + 0.05) / (_luminance(edge) + 0.05) > 3  # WCAG 2.1, 1.4.11


SUPPLY = """
supply vcc 12V
T1 19:1+1 : live neutral | a gnd b
D1 rectifier : a vcc
D2 rectifier : b vcc
C1 1000u : vcc gnd
R1 100 : vcc gnd
"""


def test_the_symbol_of_a_wired_supply_lies_in_the_region_that_it_is_joined_to():
    drawing = draw(topo.loads(SUPPLY))
    areas = [Area(1, "Supply", "supply", ("T1", "D1", "D2", "C1", "R1"))]

    (lines,) = (loops(element) for element in tint(drawing, areas, Room(drawing)).under)

    symbol = next(place for place in drawing.placed if place.item.kind == "supply")
    assert inside(symbol.x, symbol.y - 0.4, lines)
