"""Figures of handbook entries."""

import re

from click.testing import CliRunner

from topo.cli import main
from topo.drawing.entries import entry_figure
from topo.matching import library


def test_an_entry_is_drawn_from_its_first_example_with_roles_beside_the_parts():
    shelf = library()
    pattern = shelf.patterns[0]
    example = next(item for item in shelf.examples(pattern.slug) if item.matches)

    found = entry_figure(shelf, pattern.slug)

    words = re.findall(r"<text[^>]*>([^<]*)</text>", found.svg)
    for role, refs in example.roles.items():
        assert any(text.startswith(ref) for ref in refs for text in words), role
        assert role.split()[-1] in " ".join(words)
    assert found.title == pattern.name
    assert pattern.purpose in found.description


def test_patterns_show_writes_the_drawing_to_a_file(tmp_path):
    slug = library().patterns[0].slug

    result = CliRunner().invoke(main, ["patterns", "show", slug, "-o", str(tmp_path / "entry.svg"), "--width", "85mm"])

    assert (result.exit_code, result.output) == (0, "")
    assert 'width="85mm"' in (tmp_path / "entry.svg").read_text(encoding="utf-8")


def test_an_unknown_entry_or_format_is_told(tmp_path):
    for arguments in (["teapot", "-o", str(tmp_path / "a.svg")], [library().patterns[0].slug, "-o", "a.eps"]):
        result = CliRunner().invoke(main, ["patterns", "show", *arguments])
        assert result.exit_code == 2


def test_a_long_role_is_broken_into_lines_and_a_component_of_a_composite_is_not_named():
    shelf = library()
    for slug in (pattern.slug for pattern in shelf.patterns if pattern.made_of):
        words = re.findall(r"<text[^>]*>([^<]*)</text>", entry_figure(shelf, slug).svg)
        assert not [text for text in words if "." in text and not re.search(r"\d\.\d", text)]
        assert max(len(text) for text in words) < 24
        break
