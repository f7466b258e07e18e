"""A figure as a PDF page of its own size: lines as lines, text as text in an embedded type."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from topo.drawing.lettering import width as room
from topo.drawing.printing import needs
from topo.drawing.printing.shapes import Lettering, Shape, page_of

_POINTS = 72 / 25.4
_FACES = {(False, False): "Vera", (True, False): "VeraBd", (False, True): "VeraIt", (True, True): "VeraBI"}
_NARROWED = 0.9
_CAPS = {"butt": 0, "round": 1, "square": 2}
_JOINS = {"miter": 0, "round": 1, "bevel": 2}
# The type knows micro by one of its two code points only.
_LIKE = {"\N{GREEK SMALL LETTER MU}": "\N{MICRO SIGN}", "\N{OHM SIGN}": "\N{GREEK CAPITAL LETTER OMEGA}"}


def pdf_of(svg: str) -> bytes:
    """The PDF file of a figure's SVG text, the same for the same text: it holds no time and no random name.

    All texts are set in the type made narrower by one measure, so that they fill the places that were measured for
    them by narrower letters; a text that would be too wide even so is narrowed further.

    Raises:
        UsageError: the package that writes PDF is not installed.
    """
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ImportError:
        raise needs("reportlab", "A PDF") from None
    page = page_of(svg)
    file = BytesIO()
    height = page.height * _POINTS
    canvas = Canvas(file, pagesize=(page.width * _POINTS, height), invariant=1, pageCompression=1)
    canvas.setTitle(page.title)
    canvas.setSubject(page.description)
    canvas.setAuthor("")
    canvas.setCreator("topo")
    for item in page.drawn:
        if isinstance(item, Shape):
            _draw(canvas, item, height)
        elif item.words.strip():
            _write(canvas, item, height)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def lacking(svg: str) -> str:
    """The signs in a figure's text that the embedded type does not have, each once; a box stands for them in print."""
    signs = dict.fromkeys(
        sign for item in page_of(svg).drawn if isinstance(item, Lettering) for sign in _spelt(item.words)
    )
    known = _font("Vera").face.charToGlyph
    return "".join(sign for sign in signs if ord(sign) not in known and not sign.isspace())


def _spelt(words: str) -> str:
    return "".join(_LIKE.get(sign, sign) for sign in words)


def _font(face: str) -> Any:
    """An embedded type, registered once."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    if face not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(face, f"{face}.ttf"))
    return pdfmetrics.getFont(face)


def _draw(canvas: Any, shape: Shape, height: float) -> None:
    path = canvas.beginPath()
    for kind, numbers in shape.strokes:
        x = [value * _POINTS if index % 2 == 0 else height - value * _POINTS for index, value in enumerate(numbers)]
        if kind == "M":
            path.moveTo(*x)
        elif kind == "L":
            path.lineTo(*x)
        elif kind == "C":
            path.curveTo(*x)
        else:
            path.close()
    if shape.stroke:
        canvas.setStrokeColor(shape.stroke)
        canvas.setLineWidth(shape.weight * _POINTS)
        canvas.setLineCap(_CAPS[shape.cap])
        canvas.setLineJoin(_JOINS[shape.join])
        canvas.setDash([item * _POINTS for item in shape.dash])
    if shape.fill:
        canvas.setFillColor(shape.fill)
    canvas.drawPath(path, stroke=int(bool(shape.stroke)), fill=int(bool(shape.fill)))


def _write(canvas: Any, item: Lettering, height: float) -> None:
    face = _FACES[item.bold, item.italic]
    font = _font(face)
    words = _spelt(item.words)
    size = item.size * _POINTS
    natural = font.stringWidth(words, size)
    stretch = min(_NARROWED, room(words, size, bold=item.bold) / natural) if natural else 1.0
    wide = natural * stretch
    left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[item.anchor]
    canvas.saveState()
    canvas.translate(item.x * _POINTS, height - item.y * _POINTS)
    if item.angle:
        canvas.rotate(item.angle)
    canvas.setFillColor(item.fill)
    text = canvas.beginText(left, 0)
    text.setFont(face, size)
    text.setHorizScale(100 * stretch)
    text.textOut(words)
    canvas.drawText(text)
    canvas.restoreState()
