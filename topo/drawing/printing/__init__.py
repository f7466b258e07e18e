"""Figures for print.

Takes the SVG text of a figure of this package, gives the same figure as PDF (lines and text, the type embedded) or as
PNG. The shapes are those of the SVG, point by point; nothing is laid out anew. The same SVG gives the same bytes. Needs
the packages of the extra `print`, and says so where they are missing. The folder must not know what a figure shows, nor
where it is written.
"""

from __future__ import annotations

from topo.errors import UsageError

FORMATS = ("svg", "pdf", "png")
DPI = 600
"""Dots per inch of line art, as presses ask for."""


def format_of(path: str) -> str:
    """The format that a file's name asks for.

    Raises:
        UsageError: the name ends in none of the known suffixes.
    """
    from os.path import splitext

    suffix = splitext(path)[1].casefold()[1:]
    if suffix not in FORMATS:
        raise UsageError(f"{path}: the name of a figure's file says its format.", tuple(f".{name}" for name in FORMATS))
    return suffix


def printed(svg: str, form: str, dpi: int = DPI) -> str | bytes:
    """A figure in one of the formats: the SVG text itself, or the bytes of a PDF or PNG file.

    Raises:
        UsageError: a package is missing, or the bitmap would be too large.
    """
    if form == "svg":
        return svg
    from topo.drawing.printing.pdf import pdf_of

    page = pdf_of(svg)
    if form == "pdf":
        return page
    from topo.drawing.printing.png import png_of

    return png_of(page, dpi)


def needs(package: str, form: str) -> UsageError:
    """The error that says which package is missing for a format."""
    return UsageError(
        f"{form} needs the package {package}, which is not installed. Install it: pip install 'topo[print]'"
    )
