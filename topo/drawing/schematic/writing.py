"""Writes a drawing as SVG: text to be read back by `extracting`, and to be printed in the wanted width."""

from __future__ import annotations

from topo.drawing.lettering import FONTS
from topo.drawing.quoting import quoted
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, segments, whole_box
from topo.drawing.schematic.fitting import TYPE_SIZE, rail_symbol
from topo.drawing.schematic.layout import Placed

MODULE = 2.5
"""Millimetres of a module where no width is asked for."""
MARGIN = 1.0
_FINE, _HEAVY, _WIRE, _DOT = 0.14, 0.24, 0.14, 0.22
_INK = "#000000"


def svg_of(drawing: Drawing, title: str, description: str, width: float | None = None) -> str:
    """The SVG text of a drawing.

    Args:
        drawing: what is drawn.
        title: title of the figure.
        description: alternative text.
        width: width in millimetres; None for the natural size, 2.5 mm a module.
    """
    x0, y0, x1, y1 = g.grown(whole_box(drawing), MARGIN)
    wide, tall = x1 - x0, y1 - y0
    across = width if width is not None else wide * MODULE
    down = across * tall / wide
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(across)}mm" height="{_number(down)}mm" '
        f'viewBox="{_number(x0)} {_number(y0)} {_number(wide)} {_number(tall)}" role="img" '
        f'font-family="{quoted(FONTS)}" font-size="{TYPE_SIZE}">',
        f"<title>{quoted(title)}</title><desc>{quoted(description)}</desc>",
        f'<rect x="{_number(x0)}" y="{_number(y0)}" width="{_number(wide)}" height="{_number(tall)}" fill="#ffffff"/>',
        f'<g fill="none" stroke="{_INK}" stroke-width="{_WIRE}" stroke-linecap="square">',
    ]
    rows += [f'<path class="w" d="M{ax} {ay}L{bx} {by}"/>' for (ax, ay), (bx, by) in segments(drawing)]
    rows.append("</g>")
    rows.append(
        f'<g fill="none" stroke="{_INK}" stroke-width="{_FINE}" stroke-linejoin="round" stroke-linecap="round">'
    )
    for place in drawing.placed:
        rows += _symbols(place)
    rows.append("</g>")
    rows.append(f'<g fill="{_INK}">')
    rows += [f'<circle class="dot" cx="{x}" cy="{y}" r="{_DOT}"/>' for x, y in drawing.dots()]
    for text in drawing.texts:
        rows.append(
            f'<text x="{_number(text.x)}" y="{_number(text.y)}" text-anchor="{text.anchor}">{quoted(text.words)}</text>'
        )
    for place in drawing.placed:
        rows += _inner_words(place)
    rows += ["</g>", "</svg>", ""]
    return "\n".join(rows)


def _symbols(place: Placed) -> list[str]:
    item = place.item
    found = [_symbol(item.key, item.symbol.name, item.rail, place.fit.turn, place.x, place.y, item.symbol)]
    for rail in place.fit.rails:
        art = rail_symbol(rail.rail)
        found.append(_symbol("", art.name, rail.rail.net, rail.turn, place.x + rail.x, place.y + rail.y, art))
    return found


def _symbol(ref: str, name: str, net: str, turn: g.Turn, x: int, y: int, art) -> str:
    strokes = f'<path d="{art.fine}"/>' if art.fine else ""
    if art.heavy:
        strokes += f'<path d="{art.heavy}" stroke-width="{_HEAVY}" stroke-linecap="butt"/>'
    if art.filled:
        strokes += f'<path d="{art.filled}" fill="{_INK}" stroke="none"/>'
    a, b, c, d = turn
    return (
        f'<g class="sym" data-ref="{quoted(ref)}" data-symbol="{quoted(name)}" data-name="{quoted(net)}" '
        f'transform="matrix({a} {b} {c} {d} {x} {y})">{strokes}</g>'
    )


def _inner_words(place: Placed) -> list[str]:
    """Words inside a box; they are never turned."""
    found = []
    for x, y, words in place.item.symbol.words:
        anchor = "start" if x < 0 else "end"
        found.append(
            f'<text x="{_number(place.x + x)}" y="{_number(place.y + y + 0.35)}" font-size="0.95" '
            f'text-anchor="{anchor}">{quoted(words)}</text>'
        )
    return found


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
