"""Figures as PDF and PNG."""

import base64
import builtins
import io
import re
import subprocess
import sys
import zlib
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from topo.drawing.printing import format_of, printed
from topo.drawing.printing.pdf import lacking, pdf_of
from topo.errors import UsageError

ROOT = Path(__file__).parents[3]
FIGURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="85mm" height="34mm" viewBox="0 0 50 20" font-size="1.15">'
    "<title>Stage &lt;one&gt;</title><desc>A resistor.</desc>"
    '<rect x="0" y="0" width="50" height="20" fill="#ffffff"/>'
    '<path class="w" d="M10 10L40 10" stroke="#000000" stroke-width=".5"/>'
    '<text x="25" y="8" text-anchor="middle">R1 4.7 kΩ, 3 µF, −9 V</text></svg>'
)
A_HUNDREDTH = 0.01
"""Of a millimetre."""


def page(svg=FIGURE):
    return pypdfium2.PdfDocument(pdf_of(svg))[0]


def test_a_pdf_page_is_as_wide_as_the_figure_in_millimetres():
    width, height = page().get_size()

    assert width * 25.4 / 72 == pytest.approx(85, abs=A_HUNDREDTH)
    assert height * 25.4 / 72 == pytest.approx(34, abs=A_HUNDREDTH)


def test_text_in_a_pdf_is_text_in_an_embedded_type():
    assert page().get_textpage().get_text_range() == "R1 4.7 kΩ, 3 µF, −9 V"
    assert b"/FontFile2" in pdf_of(FIGURE)


def test_all_texts_of_a_pdf_are_narrowed_alike():
    texts = ("R1", "+9 V", "line", "470 Ω", "2.2 µF")
    rows = "".join(f'<text x="2" y="{3 * row + 3}">{words}</text>' for row, words in enumerate(texts))
    file = pdf_of(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="85mm" height="34mm" viewBox="0 0 50 20">{rows}</svg>'
    )
    streams = re.findall(rb"/ASCII85Decode.*?stream\r?\n(.*?)~>", file, re.DOTALL)
    page = b"".join(zlib.decompress(base64.a85decode(part)) for part in streams)

    assert len(re.findall(rb"([\d.]+) Tz", page)) == len(texts)
    assert len(set(re.findall(rb"([\d.]+) Tz", page))) == 1


def test_a_pdf_says_its_title_and_what_it_shows():
    told = pypdfium2.PdfDocument(pdf_of(FIGURE)).get_metadata_dict()

    assert told["Title"] == "Stage <one>"
    assert told["Subject"] == "A resistor."


def test_lines_are_where_the_svg_has_them():
    image = Image.open(io.BytesIO(printed(FIGURE, "png", 254))).convert("L")

    assert image.size == pytest.approx((850, 340), abs=1)
    assert image.info["dpi"] == pytest.approx((254, 254), abs=0.1)
    assert [image.getpixel((x, 170)) < 128 for x in (160, 180, 670, 690)] == [False, True, True, False]


def test_a_figure_in_black_is_a_grey_bitmap_and_a_tinted_one_has_colour():
    tinted = FIGURE.replace('fill="#ffffff"', 'fill="#ddeefa"')

    assert Image.open(io.BytesIO(printed(FIGURE, "png", 100))).mode == "L"
    assert Image.open(io.BytesIO(printed(tinted, "png", 100))).mode == "RGB"


@pytest.mark.parametrize("form", ("pdf", "png"))
def test_a_figure_is_the_same_bytes_in_every_process(form, tmp_path):
    (tmp_path / "figure.svg").write_text(FIGURE, encoding="utf-8")
    code = (
        "import sys; from topo.drawing.printing import printed\n"
        f"sys.stdout.buffer.write(printed(open({str(tmp_path / 'figure.svg')!r}, encoding='utf-8').read(), {form!r}))"
    )

    def bytes_of(seed):
        command = [sys.executable, "-c", code]
        return subprocess.run(command, capture_output=True, check=True, cwd=ROOT, env={"PYTHONHASHSEED": seed}).stdout

    assert bytes_of("0") == bytes_of("42") == printed(FIGURE, form)


def test_a_missing_package_is_told_with_the_way_to_get_it(monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **options):
        if name.startswith(("reportlab", "pypdfium2")):
            raise ImportError(name)
        return real(name, *rest, **options)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(UsageError, match=r"reportlab, which is not installed.*pip install 'topo\[print\]'"):
        printed(FIGURE, "pdf")


def test_a_bitmap_of_too_many_dots_is_refused():
    wide = FIGURE.replace('"85mm"', '"2000mm"').replace('"34mm"', '"800mm"')

    with pytest.raises(UsageError, match="million dots"):
        printed(wide, "png", 1200)


def test_the_format_is_that_of_the_files_name():
    assert [format_of(name) for name in ("a.svg", "b/c.PDF", "d.e.png")] == ["svg", "pdf", "png"]
    for name in ("figure", "figure.eps", "svg"):
        with pytest.raises(UsageError, match=r"\.pdf, \.png, \.svg"):
            format_of(name)


def test_signs_that_the_type_lacks_are_named():
    assert lacking(FIGURE) == ""
    assert lacking(FIGURE.replace("R1", "μ→→")) == "→"
