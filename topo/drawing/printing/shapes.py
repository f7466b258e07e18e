"""The shapes of an SVG text that this package has written, in millimetres of the page, with their inks.

Read is what the package writes and no more: groups, paths, rectangles, circles, runs of lines, texts, isometric
transforms, arrow heads. All curves become cubic ones.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

Matrix = tuple[float, float, float, float, float, float]
Stroke = tuple[str, tuple[float, ...]]

_SPACE = "{http://www.w3.org/2000/svg}"
_UNITS = {"mm": 1.0, "pt": 25.4 / 72, "": 25.4 / 96}
_TOKEN = re.compile(r"([MLHVCAZmlhvcaz])|(-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?)")
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "A": 7, "Z": 0}
_CALL = re.compile(r"(matrix|translate|rotate|scale)\(([^)]*)\)")
_INHERITED = (
    "fill",
    "stroke",
    "stroke-width",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-dasharray",
    "font-size",
    "font-weight",
    "font-style",
    "text-anchor",
)
_START = {"fill": "#000000", "stroke": "none", "stroke-width": "1", "font-size": "16", "text-anchor": "start"}


@dataclass(frozen=True)
class Shape:
    """A path: strokes ("M" | "L" | "C" | "Z", coordinates); colours are "#rrggbb" or "" for none; lengths in mm."""

    strokes: tuple[Stroke, ...]
    fill: str = ""
    stroke: str = ""
    weight: float = 0.0
    cap: str = "butt"
    join: str = "miter"
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Lettering:
    """A line of text: where its baseline is anchored, its size in mm, and the degrees that it is turned to the left."""

    words: str
    x: float
    y: float
    size: float
    anchor: str = "start"
    bold: bool = False
    italic: bool = False
    fill: str = "#000000"
    angle: float = 0.0


@dataclass
class Page:
    """The shapes of a figure in the order of drawing; width and height in millimetres."""

    width: float
    height: float
    title: str = ""
    description: str = ""
    drawn: list[Shape | Lettering] = field(default_factory=list)


def page_of(svg: str) -> Page:
    """The page of an SVG text of this package."""
    root = ElementTree.fromstring(svg)
    width, height = _length(root.get("width", "0")), _length(root.get("height", "0"))
    x, y, wide, tall = (float(item) for item in root.get("viewBox", f"0 0 {width} {height}").split())
    across, down = width / wide, height / tall
    page = Page(width, height, _words(root, "title"), _words(root, "desc"))
    heads = {item.get("id", ""): item for item in root.iter(f"{_SPACE}marker")}
    matrix = (across, 0.0, 0.0, down, -x * across, -y * down)
    for child in root:
        _read(child, {**_START, **_own(root)}, matrix, page, heads)
    return page


def _words(element: ElementTree.Element, name: str) -> str:
    found = element.find(f"{_SPACE}{name}")
    return (found.text or "") if found is not None else ""


def _length(text: str) -> float:
    number = re.match(r"[\d.]+", text)
    return float(number.group()) * _UNITS[text[number.end() :]] if number else 0.0


def _own(element: ElementTree.Element) -> dict[str, str]:
    return {name: value for name in _INHERITED if (value := element.get(name)) is not None}


def _read(element: ElementTree.Element, look: Mapping[str, str], matrix: Matrix, page: Page, heads: Mapping) -> None:
    name = element.tag.removeprefix(_SPACE)
    look = {**look, **_own(element)}
    matrix = _transformed(matrix, element.get("transform", ""))
    if name in ("g", "svg"):
        if name == "svg":
            matrix = after(matrix, (1, 0, 0, 1, float(element.get("x", 0)), float(element.get("y", 0))))
        for child in element:
            _read(child, look, matrix, page, heads)
        return
    if name == "text":
        page.drawn.append(_lettering(element, look, matrix))
        return
    strokes = list(_strokes(element, name))
    if not strokes:
        return
    page.drawn.append(_shape(strokes, look, matrix))
    head = heads.get(element.get("marker-end", "").removeprefix("url(#").removesuffix(")"))
    if head is not None:
        _read_head(head, strokes, matrix, page)


def _transformed(matrix: Matrix, text: str) -> Matrix:
    for call, inside in _CALL.findall(text):
        numbers = [float(item) for item in re.split(r"[ ,]+", inside.strip())]
        if call == "matrix":
            own = tuple(numbers)
        elif call == "translate":
            own = (1, 0, 0, 1, numbers[0], numbers[1] if len(numbers) > 1 else 0.0)
        elif call == "scale":
            own = (numbers[0], 0, 0, numbers[-1], 0, 0)
        else:
            turn = math.radians(numbers[0])
            cos, sin = math.cos(turn), math.sin(turn)
            x, y = (numbers[1], numbers[2]) if len(numbers) > 2 else (0.0, 0.0)
            own = (cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y)
        matrix = after(matrix, own)
    return matrix


def after(outer: Matrix, inner: tuple[float, ...]) -> Matrix:
    """The transform that does `inner` first, then `outer`; both as in an SVG matrix."""
    a, b, c, d, e, f = outer
    p, q, r, s, t, u = inner
    return (
        a * p + c * q,
        b * p + d * q,
        a * r + c * s,
        b * r + d * s,
        a * t + c * u + e,
        b * t + d * u + f,
    )


def _scale(matrix: Matrix) -> float:
    return math.sqrt(abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]))


def _lettering(element: ElementTree.Element, look: Mapping[str, str], matrix: Matrix) -> Lettering:
    x, y = float(element.get("x", 0)), float(element.get("y", 0))
    a, b, c, d, e, f = matrix
    return Lettering(
        element.text or "",
        a * x + c * y + e,
        b * x + d * y + f,
        float(look["font-size"]) * _scale(matrix),
        look["text-anchor"],
        look.get("font-weight") == "bold",
        look.get("font-style") == "italic",
        _ink(look["fill"]) or "#000000",
        -math.degrees(math.atan2(b, a)),
    )


def _shape(strokes: list[Stroke], look: Mapping[str, str], matrix: Matrix) -> Shape:
    a, b, c, d, e, f = matrix
    placed = []
    for kind, numbers in strokes:
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        placed.append((kind, tuple(n for x, y in pairs for n in (a * x + c * y + e, b * x + d * y + f))))
    scale = _scale(matrix)
    dash = look.get("stroke-dasharray", "none")
    return Shape(
        tuple(placed),
        _ink(look["fill"]),
        _ink(look["stroke"]),
        float(look["stroke-width"]) * scale,
        look.get("stroke-linecap", "butt"),
        look.get("stroke-linejoin", "miter"),
        tuple(float(item) * scale for item in re.split(r"[ ,]+", dash)) if dash != "none" else (),
    )


def _ink(colour: str) -> str:
    return "" if colour == "none" else colour


def _read_head(head: ElementTree.Element, strokes: list[Stroke], matrix: Matrix, page: Page) -> None:
    """An arrow head at the end of a path, in the path's own units."""
    points = [numbers for _, numbers in strokes if numbers]
    x, y = points[-1][-2:]
    before = points[-1][-4:-2] if len(points[-1]) > 2 else points[-2][-2:]
    turn = math.atan2(y - before[1], x - before[0])
    cos, sin = math.cos(turn), math.sin(turn)
    rx, ry = float(head.get("refX", 0)), float(head.get("refY", 0))
    own = (cos, sin, -sin, cos, x - cos * rx + sin * ry, y - sin * rx - cos * ry)
    for child in head:
        _read(child, dict(_START), after(matrix, own), page, {})


def _strokes(element: ElementTree.Element, name: str) -> Iterator[Stroke]:
    def at(key: str) -> float:
        return float(element.get(key, 0))

    if name == "path":
        yield from _path(element.get("d", ""))
    elif name in ("polyline", "polygon"):
        numbers = [float(item) for item in re.split(r"[ ,]+", element.get("points", "").strip()) if item]
        for index in range(0, len(numbers) - 1, 2):
            yield ("L" if index else "M"), (numbers[index], numbers[index + 1])
        if name == "polygon":
            yield "Z", ()
    elif name == "line":
        yield "M", (at("x1"), at("y1"))
        yield "L", (at("x2"), at("y2"))
    elif name == "circle":
        x, y, r = at("cx"), at("cy"), at("r")
        yield from _path(f"M{x - r} {y}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z")
    elif name == "rect":
        x, y, w, h = at("x"), at("y"), at("width"), at("height")
        r = min(at("rx"), w / 2, h / 2)
        if r:
            yield from _path(
                f"M{x + r} {y}H{x + w - r}a{r} {r} 0 0 1 {r} {r}V{y + h - r}a{r} {r} 0 0 1 {-r} {r}"
                f"H{x + r}a{r} {r} 0 0 1 {-r} {-r}V{y + r}a{r} {r} 0 0 1 {r} {-r}Z"
            )
        else:
            yield from _path(f"M{x} {y}H{x + w}V{y + h}H{x}Z")


def _path(text: str) -> Iterator[Stroke]:
    """The strokes of path data in absolute coordinates."""
    tokens = _TOKEN.findall(text)
    x = y = sx = sy = 0.0
    place = 0
    command = ""
    while place < len(tokens):
        if tokens[place][0]:
            command = tokens[place][0]
            place += 1
        kind = command.upper()
        numbers = [float(item[1]) for item in tokens[place : place + _COUNTS[kind]]]
        place += _COUNTS[kind]
        ox, oy = (x, y) if command.islower() else (0.0, 0.0)
        if kind == "Z":
            yield "Z", ()
            x, y = sx, sy
            continue
        if kind == "C":
            points = tuple(n + (oy if i % 2 else ox) for i, n in enumerate(numbers))
            yield "C", points
            x, y = points[4], points[5]
            continue
        end = (
            (numbers[0] + ox, y)
            if kind == "H"
            else (x, numbers[0] + oy)
            if kind == "V"
            else (numbers[-2] + ox, numbers[-1] + oy)
        )
        if kind == "A":
            yield from _arc(x, y, numbers[0], numbers[1], bool(numbers[3]), bool(numbers[4]), *end)
        else:
            yield ("M" if kind == "M" else "L"), end
        x, y = end
        if kind == "M":
            sx, sy = end
            command = "l" if command == "m" else "L"


def _arc(
    x0: float, y0: float, rx: float, ry: float, large: bool, sweep: bool, x1: float, y1: float
) -> Iterator[Stroke]:
    """An upright elliptical arc as cubic curves.

    Source: W3C, Scalable Vector Graphics 1.1, appendix F.6.5 (from end points to centre).
    """
    if not rx or not ry or (x0, y0) == (x1, y1):
        yield "L", (x1, y1)
        return
    px, py = (x0 - x1) / 2 / rx, (y0 - y1) / 2 / ry
    far = px * px + py * py
    if far > 1:
        grow = math.sqrt(far)
        rx, ry, px, py, far = rx * grow, ry * grow, px / grow, py / grow, 1.0
    root = math.sqrt(max(0.0, 1 / far - 1)) * (-1 if large == sweep else 1)
    cx, cy = root * py, -root * px
    first = math.atan2(py - cy, px - cx)
    angle = math.atan2(-py - cy, -px - cx) - first
    if sweep and angle < 0:
        angle += 2 * math.pi
    elif not sweep and angle > 0:
        angle -= 2 * math.pi
    mx, my = (x0 + x1) / 2 + rx * cx, (y0 + y1) / 2 + ry * cy
    count = max(1, math.ceil(abs(angle) / (math.pi / 2) - 1e-9))
    step = angle / count
    reach = 4 / 3 * math.tan(step / 4)
    for index in range(count):
        one, two = first + index * step, first + (index + 1) * step
        a, b, c, d = math.cos(one), math.sin(one), math.cos(two), math.sin(two)
        yield (
            "C",
            (
                mx + rx * (a - reach * b),
                my + ry * (b + reach * a),
                mx + rx * (c + reach * d),
                my + ry * (d - reach * c),
                mx + rx * c,
                my + ry * d,
            ),
        )
