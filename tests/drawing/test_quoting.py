import xml.etree.ElementTree as ElementTree

import pytest

from topo.drawing.quoting import quoted
from topo.drawing.sheet import Sheet

NASTY = [
    "",
    "R1",
    "4k7 & 100n",
    "a < b > c",
    "</text><script>alert(1)</script>",
    'say "when"',
    "it's",
    "]]>",
    "<!-- -->",
    "&amp; &lt;",
    "\x00\x01\x1f",
    "\ud800 alone",
    "￾￿",
    "line\nend\ttab\rreturn",
    "Ω µ → − ± ∞",
    "${HOME} $(x) `x` %s {0}",
    "\\N \\L \\l",
    "label=<b>",
    "🔊",
    "x" * 500,
]


@pytest.mark.parametrize("text", NASTY)
def test_any_text_stands_in_svg_as_itself(text):
    sheet = Sheet()
    sheet.begin([text], text)
    sheet.text(0, 0, text, 10)
    sheet.end()

    drawn = ElementTree.fromstring(sheet.svg(10, 10, text, text).encode("utf-8"))

    expected = "".join(
        " " if sign in "\t\r\n" else sign if ord(sign) >= 32 and sign not in "\ud800￾￿" else "�" for sign in text
    )
    found = [node.text or "" for node in drawn.iter() if node.tag.endswith(("text", "title", "desc"))]
    assert found == [expected] * 4


def test_quoting_leaves_no_sign_with_a_meaning():
    assert not set(quoted("<&>\"'")) - set("&lt;gampquo#39")
