"""A PDF page as a bitmap."""

from __future__ import annotations

from io import BytesIO

from topo.drawing.printing import needs
from topo.errors import UsageError

_MOST_PIXELS = 150_000_000


def png_of(page: bytes, dpi: int) -> bytes:
    """The PNG file of a one-page PDF at so many dots per inch; grey where the page has no colour.

    Raises:
        UsageError: the package that makes it is not installed, or there would be too many dots.
    """
    try:
        import pypdfium2
    except ImportError:
        raise needs("pypdfium2", "A PNG") from None
    document = pypdfium2.PdfDocument(page)
    try:
        width, height = document[0].get_size()
        scale = dpi / 72
        pixels = width * height * scale * scale
        if pixels > _MOST_PIXELS:
            raise UsageError(
                f"At {dpi} dots per inch the bitmap would have {pixels / 1e6:.0f} million dots; "
                f"{_MOST_PIXELS // 1_000_000} million are the most. "
                "Ask for fewer by --dpi, or for a smaller --width."
            )
        image = document[0].render(scale=scale).to_pil().convert("RGB")
    finally:
        document.close()
    red, green, blue = image.split()
    if red.tobytes() == green.tobytes() == blue.tobytes():
        image = red
    file = BytesIO()
    image.save(file, "PNG", dpi=(dpi, dpi), optimize=True)
    return file.getvalue()
