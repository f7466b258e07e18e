"""Writes a drawing as SVG: text to be read back by `extracting`, and to be printed in the wanted width."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from topo.drawing.lettering import FONTS, lines
from topo.drawing.quoting import quoted
from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.drawing import Drawing, Edge, Text, rail_edges, segments, whole_box
from topo.drawing.schematic.fitting import LINE, TYPE_SIZE, rail_symbol
from topo.drawing.schematic.layout import Placed
from topo.drawing.schematic.symbols import Symbol

MODULE = 2.5
"""Millimetres of a module where no width is asked for."""
MARGIN = 1.0
_FINE, _HEAVY, _WIRE, _DOT = 0.14, 0.24, 0.14, 0.22
_MORE = 1.8
_INK = "#000000"
_MOST_LINES = 12


@dataclass(frozen=True)
class Extras:
    """What is drawn beside the plain circuit.

    `heavier` are designators drawn in a heavier line, `heavier_wires` unit steps of wires likewise; `under` and `over`
    are SVG elements beneath and above the circuit, in modules; `notes` are texts set beneath the figure; `box` is the
    part of the plane that is shown, in place of the box about all that is drawn.
    """

    heavier: Collection[str] = ()
    heavier_wires: Collection[Edge] = ()
    under: Sequence[str] = ()
    over: Sequence[str] = ()
    notes: Sequence[str] = ()
    box: g.Box | None = None


def heavier_extras(drawing: Drawing, refs: Collection[str]) -> Extras:
    """Parts in a heavier line, with the wires of the nets that join nothing but them."""
    others: set[str] = set()
    own: set[str] = set()
    wires: set[Edge] = set()
    for place in drawing.placed:
        if place.item.key in refs:
            own.update(pin.net for pin in place.fit.pins)
            wires.update(rail_edges(place))
        elif place.item.key:
            others.update(pin.net for pin in place.fit.pins)
    wires.update(edge for net, edges in drawing.wires.items() if net in own - others for edge in edges)
    return Extras(heavier=frozenset(refs), heavier_wires=frozenset(wires))


def svg_of(
    drawing: Drawing, title: str, description: str, width: float | None = None, extras: Extras | None = None
) -> str:
    """The SVG text of a drawing.

    Args:
        drawing: what is drawn.
        title: title of the figure.
        description: alternative text.
        width: width in millimetres; None for the natural size, 2.5 mm a module.
        extras: what is drawn beside the plain circuit.
    """
    extras = extras or Extras()
    x0, y0, x1, y1 = g.grown(extras.box or whole_box(drawing), MARGIN)
    notes = [line for note in extras.notes for line in lines(note, TYPE_SIZE, x1 - x0 - 2, most=_MOST_LINES)]
    foot = y1
    y1 += LINE * len(notes) + (0.5 if notes else 0.0)
    wide, tall = x1 - x0, y1 - y0
    across = width if width is not None else wide * MODULE
    down = across * tall / wide
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(across)}mm" height="{number(down)}mm" '
        f'viewBox="{number(x0)} {number(y0)} {number(wide)} {number(tall)}" role="img" '
        f'font-family="{quoted(FONTS)}" font-size="{TYPE_SIZE}">',
        f"<title>{quoted(title)}</title><desc>{quoted(description)}</desc>",
        f'<rect x="{number(x0)}" y="{number(y0)}" width="{number(wide)}" height="{number(tall)}" fill="#ffffff"/>',
        *extras.under,
    ]
    for heavy in (False, True):
        runs = _runs(drawing, extras.heavier_wires, heavy)
        if runs or not heavy:
            weight = number(_WIRE * _MORE if heavy else _WIRE)
            rows.append(f'<g fill="none" stroke="{_INK}" stroke-width="{weight}" stroke-linecap="square">')
            rows += [f'<path class="w" d="M{ax} {ay}L{bx} {by}"/>' for (ax, ay), (bx, by) in runs]
            rows.append("</g>")
    for heavy in (False, True):
        places = [place for place in drawing.placed if (place.item.key in extras.heavier) == heavy]
        if places or not heavy:
            weight = number(_FINE * _MORE if heavy else _FINE)
            join = 'stroke-linejoin="round" stroke-linecap="round"'
            rows.append(f'<g fill="none" stroke="{_INK}" stroke-width="{weight}" {join}>')
            for place in places:
                rows += _symbols(place, _HEAVY * (_MORE - 0.3) if heavy else _HEAVY)
            rows.append("</g>")
    rows.append(f'<g fill="{_INK}">')
    rows += [f'<circle class="dot" cx="{x}" cy="{y}" r="{_DOT}"/>' for x, y in drawing.dots()]
    rows += [_text(text) for text in drawing.texts]
    for place in drawing.placed:
        rows += _inner_words(place)
    rows += [
        f'<text x="{number(x0 + MARGIN)}" y="{number(foot + LINE * (index + 0.8))}">{quoted(line)}</text>'
        for index, line in enumerate(notes)
    ]
    rows += ["</g>", *extras.over, "</svg>", ""]
    return "\n".join(rows)


def _runs(drawing: Drawing, chosen: Collection[Edge], heavy: bool) -> list[tuple[g.Point, g.Point]]:
    """The straight runs of wires that are drawn heavier, or of the others; they meet at points, never on a line."""
    if not chosen:
        return [] if heavy else segments(drawing)
    return segments(drawing, lambda edge: (edge in chosen) == heavy)


def _text(text: Text) -> str:
    size = f' font-size="{number(text.size)}"' if text.size != TYPE_SIZE else ""
    style = {"italic": ' font-style="italic"', "bold": ' font-weight="bold"'}.get(text.style, "")
    where = f'x="{number(text.x)}" y="{number(text.y)}" text-anchor="{text.anchor}"'
    return f"<text {where}{size}{style}>{quoted(text.words)}</text>"


def _symbols(place: Placed, heavy: float) -> list[str]:
    item = place.item
    found = [_symbol(item.key, item.symbol.name, item.rail, place.fit.turn, place.x, place.y, item.symbol, heavy)]
    for rail in place.fit.rails:
        art = rail_symbol(rail.rail)
        found.append(_symbol("", art.name, rail.rail.net, rail.turn, place.x + rail.x, place.y + rail.y, art, heavy))
    return found


def _symbol(ref: str, name: str, net: str, turn: g.Turn, x: int, y: int, art: Symbol, heavy: float) -> str:
    strokes = f'<path d="{art.fine}"/>' if art.fine else ""
    if art.heavy:
        strokes += f'<path d="{art.heavy}" stroke-width="{number(heavy)}" stroke-linecap="butt"/>'
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
        x *= place.fit.turn[0] or 1
        anchor = "start" if x < 0 else "end"
        found.append(
            f'<text x="{number(place.x + x)}" y="{number(place.y + y + 0.35)}" font-size="0.95" '
            f'text-anchor="{anchor}">{quoted(words)}</text>'
        )
    return found


def number(value: float) -> str:
    """A coordinate with at most two decimals, the same on every machine."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
