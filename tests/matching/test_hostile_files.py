"""Pattern files and stores that are damaged or mean harm: refused with a word, or made anew."""

import random

import pytest
from click.testing import CliRunner

from topo.cli import main
from topo.matching import shelf
from topo.matching.schema import read_pattern
from topo.matching.shelf import library


def messages(text) -> str:
    document, problems = read_pattern(text, "a.yaml")
    assert document is None
    return "\n".join(map(str, problems))


def test_aliases_that_multiply_are_refused():
    rows = ["a: &a [x, x, x, x, x, x, x, x, x]"]
    rows += [f"{two}: &{two} [{', '.join([f'*{one}'] * 9)}]" for one, two in zip("abcdefgh", "bcdefghi", strict=True)]

    assert "nested too deeply or repeats itself" in messages("\n".join(rows))


@pytest.mark.parametrize("text", ["[" * 100_000, "{a: " * 100_000, "".join(" " * n + "a:\n" for n in range(500))])
def test_deep_nesting_is_refused(text):
    assert messages(text)


def test_a_text_of_megabytes_is_refused():
    assert "more than 200000 characters" in messages("a: " + "x" * 5_000_000)


def test_a_tag_that_asks_for_an_object_makes_none():
    assert messages("name: !!python/object/apply:os.system [echo]\n")


@pytest.mark.parametrize("sign", ["\u202e", "\u200b", "\\x1b", "\\x07"])
def test_a_sign_that_nobody_sees_is_refused_in_a_text(sign):
    assert "control character" in messages(f'name: "a{sign}b"\n')


def test_a_pattern_file_of_gigabytes_is_refused_by_its_size(tmp_path):
    file = tmp_path / "a.yaml"
    with file.open("wb") as stream:
        stream.truncate(3 << 30)

    for arguments in (["patterns", "check", str(file)], ["patterns", "list", "--patterns", str(tmp_path)]):
        shown = CliRunner().invoke(main, arguments)
        assert shown.exit_code == 2
        assert "the file is too large" in shown.stderr


def test_a_pattern_file_that_is_no_utf8_is_told_without_a_fault(tmp_path):
    (tmp_path / "a.yaml").write_bytes(b"name: \xff\xfe\n")

    shown = CliRunner().invoke(main, ["patterns", "check", str(tmp_path)])

    assert shown.exit_code == 1
    assert "Internal error" not in shown.stderr


def test_a_damaged_store_costs_time_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    sound = shelf.load_library(library().files).patterns
    source = random.Random(3)
    for damage in ("cut", "flip", "other", "empty", "folder"):
        for file in sorted((tmp_path / "topo").glob("*.json")):
            raw = bytearray(file.read_bytes())
            if damage == "cut":
                del raw[source.randrange(len(raw)) :]
            elif damage == "flip":
                for _ in range(20):
                    raw[source.randrange(len(raw))] ^= 1 << source.randrange(7)
            elif damage == "other":
                raw = bytearray(b'[{"slug": 5}, null]')
            else:
                raw = bytearray()
            file.unlink()
            file.mkdir() if damage == "folder" else file.write_bytes(raw)

        made = shelf.load_library(library().files)

        if damage != "flip":
            assert made.patterns == sound
        assert len(made.patterns) == len(sound)
