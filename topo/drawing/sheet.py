"""A sheet to draw on: shapes and text with the look of the house, written out as SVG."""

from __future__ import annotations

from collections.abc import Sequence

from topo.drawing.lettering import FONTS
from topo.drawing.quoting import quoted

INK = "#000000"
FINE = 0.75
Point = tuple[float, float]


def figure(value: float) -> str:
    """A coordinate with at most two decimals, the same on every machine."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class Sheet:
    """Collects SVG elements in the order in which they are drawn."""

    def __init__(self) -> None:
        self._drawn: list[str] = []

    def box(
        self, x: float, y: float, w: float, h: float, *, fill: str, dashed: bool = False, radius: float = 0
    ) -> None:
        """A rectangle with its upper left corner at (x, y)."""
        dash = ' stroke-dasharray="4 2"' if dashed else ""
        round_ = f' rx="{figure(radius)}"' if radius else ""
        self._drawn.append(
            f'<rect x="{figure(x)}" y="{figure(y)}" width="{figure(w)}" height="{figure(h)}"{round_} '
            f'fill="{fill}" stroke="{INK}" stroke-width="{FINE}"{dash}/>'
        )

    def line(self, *points: Point, weight: float = FINE, dash: str = "", ink: str = INK) -> None:
        """A run of straight lines."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        run = " ".join(f"{figure(x)},{figure(y)}" for x, y in points)
        self._drawn.append(f'<polyline points="{run}" fill="none" stroke="{ink}" stroke-width="{weight}"{dashes}/>')

    def curve(self, points: Sequence[Point], *, weight: float = FINE, dash: str = "", arrow: bool = True) -> None:
        """A Bezier curve of 1 + 3 n points, with an arrow head at its end."""
        start, rest = points[0], points[1:]
        path = f"M{figure(start[0])},{figure(start[1])}C" + " ".join(f"{figure(x)},{figure(y)}" for x, y in rest)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        head = ' marker-end="url(#head)"' if arrow else ""
        self._drawn.append(f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="{weight}"{dashes}{head}/>')

    def text(self, x: float, y: float, words: str, size: float, *, anchor: str = "middle", bold: bool = False) -> None:
        """A line of text, its baseline at y."""
        heavy = ' font-weight="bold"' if bold else ""
        self._drawn.append(
            f'<text x="{figure(x)}" y="{figure(y)}" font-size="{figure(size)}" text-anchor="{anchor}"{heavy}>'
            f"{quoted(words)}</text>"
        )

    def begin(self, parts: Sequence[str], words: str) -> None:
        """Open a group that stands for some parts; its words are the title that a reader's pointer shows."""
        self._drawn.append(f'<g data-parts="{quoted(" ".join(parts))}"><title>{quoted(words)}</title>')

    def end(self) -> None:
        """Close the group."""
        self._drawn.append("</g>")

    def svg(self, width: float, height: float, title: str, description: str, *, millimetres: bool = False) -> str:
        """The whole drawing; width and height in points, said in millimetres where a page is measured so."""
        per, unit = (25.4 / 72, "mm") if millimetres else (1.0, "pt")
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{figure(width * per)}{unit}" '
            f'height="{figure(height * per)}{unit}" '
            f'viewBox="0 0 {figure(width)} {figure(height)}" role="img" font-family="{quoted(FONTS)}">'
        )
        marker = (
            '<defs><marker id="head" viewBox="0 0 8 6" refX="7.5" refY="3" markerWidth="8" markerHeight="6" '
            f'markerUnits="userSpaceOnUse" orient="auto"><path d="M0,0L8,3L0,6z" fill="{INK}"/></marker></defs>'
        )
        paper = f'<rect width="{figure(width)}" height="{figure(height)}" fill="#ffffff"/>'
        words = f"<title>{quoted(title)}</title><desc>{quoted(description)}</desc>"
        return "\n".join([head, words, marker, paper, *self._drawn, "</svg>", ""])
