"""The library: which files are in it, in what order, and what the cache may and may not do."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.matching.building import pattern_text
from topo.errors import PatternError, UsageError
from topo.matching import store
from topo.matching.shelf import load_library, pattern_files
from topo.resources import cache_folder

BODY = "roles: {feed: {kind: resistor}}\nnets: {rail: {is: rail}, n: }\njoins: {wire: [rail -feed- n]}\n"


def write(folder: Path, slug: str, body: str = BODY, name: str = "") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{slug}.yaml"
    file.write_text(pattern_text(body).replace("name: thing", f"name: {name or slug}"))
    return file


def test_patterns_are_in_the_order_of_family_and_slug(tmp_path):
    files = [write(tmp_path / "coupling", slug) for slug in ("b", "c", "a")]

    found = load_library(pattern_files([tmp_path]))

    assert [pattern.slug for pattern in found.patterns] == ["a", "b", "c"]
    assert sorted(files) == list(found.files)


def test_a_further_folder_adds_and_overrides(tmp_path):
    write(tmp_path / "one" / "coupling", "a")
    write(tmp_path / "one" / "coupling", "b")
    write(tmp_path / "two", "b", name="another b")
    write(tmp_path / "two", "c")

    found = load_library(pattern_files([tmp_path / "one", tmp_path / "two"]))

    assert {pattern.slug: pattern.name for pattern in found.patterns} == {"a": "a", "b": "another b", "c": "c"}


def test_an_unknown_pattern_is_a_wrong_request_with_the_nearest_name(tmp_path):
    write(tmp_path, "current-mirror")

    with pytest.raises(UsageError, match="current-mirror"):
        load_library(pattern_files([tmp_path])).get("curent-mirror")


def test_a_folder_that_is_not_there_is_a_wrong_request(tmp_path):
    with pytest.raises(UsageError):
        pattern_files([tmp_path / "nowhere"])


def test_problems_of_all_files_are_told_at_once(tmp_path):
    write(tmp_path, "a", BODY.replace("resistor", "resister"))
    write(tmp_path, "b", BODY.replace("-feed-", "-fed-"))

    with pytest.raises(PatternError) as error:
        load_library(pattern_files([tmp_path]))

    assert {Path(problem.place.file).stem for problem in error.value.problems} == {"a", "b"}


def test_a_name_used_twice_is_refused(tmp_path):
    write(tmp_path, "a", name="same")
    write(tmp_path, "b", name="same")

    with pytest.raises(PatternError, match="`same`"):
        load_library(pattern_files([tmp_path]))


def test_a_pattern_that_is_supposed_has_to_be_there(tmp_path):
    file = write(tmp_path, "a")
    file.write_text(file.read_text().replace("sort: coupling", "sort: coupling, supposes: {feed: [nothing-like-it]}"))

    with pytest.raises(PatternError, match="nothing-like-it"):
        load_library(pattern_files([tmp_path]))


def test_a_file_that_is_not_text_is_a_problem(tmp_path):
    (tmp_path / "a.yaml").write_bytes(b"\xff\xfe\x00")

    with pytest.raises(PatternError, match="UTF-8"):
        load_library(pattern_files([tmp_path]))


def test_what_comes_from_the_cache_is_what_was_compiled(tmp_path):
    write(tmp_path / "patterns", "a", BODY + "where: [drop(feed) > 1]\nfigures: {x: {is: drop(feed), unit: V}}\n")
    files = pattern_files([tmp_path / "patterns"])

    first, second = load_library(files), load_library(files)

    assert first.patterns == second.patterns
    assert first.texts("a") == second.texts("a")
    assert list(cache_folder().glob("patterns-*.json"))


def test_a_changed_file_is_compiled_again(tmp_path):
    file = write(tmp_path / "patterns", "a")
    files = pattern_files([tmp_path / "patterns"])
    load_library(files)

    file.write_text(file.read_text().replace("Does something.", "Does another thing."))

    assert load_library(files).get("a").purpose == "Does another thing."


@pytest.mark.parametrize("content", ["", "null", "[]x", "[[1]]", '{"a": 1}', "[" * 5000, '[["a"]]', "\x00"])
def test_a_corrupt_cache_only_costs_time(tmp_path, content: str):
    write(tmp_path / "patterns", "a")
    files = pattern_files([tmp_path / "patterns"])
    load_library(files)
    for kept in cache_folder().glob("*.json"):
        kept.write_text(content)

    found = load_library(files)

    assert [pattern.slug for pattern in found.patterns] == ["a"]
    assert found.texts("a").block["student"]


def test_a_cache_that_cannot_be_written_only_costs_time(tmp_path, monkeypatch):
    write(tmp_path / "patterns", "a")
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder is wanted")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))

    assert load_library(pattern_files([tmp_path / "patterns"])).get("a").slug == "a"


def test_the_cache_does_not_grow_without_end(tmp_path):
    for number in range(store.KEPT_FILES + 5):
        store.write_store(f"patterns-{number}", [number])
        os.utime(cache_folder() / f"patterns-{number}.json", (number, number))

    assert len(list(cache_folder().glob("patterns-*.json"))) <= store.KEPT_FILES + 1


def test_a_warm_start_reads_neither_yaml_nor_lark(tmp_path):
    import subprocess
    import sys

    write(tmp_path / "patterns", "a")
    code = (
        "import sys; from topo.matching.shelf import load_library, pattern_files;"
        f"load_library(pattern_files([{str(tmp_path / 'patterns')!r}]));"
        "print([name for name in ('yaml', 'lark', 'numpy', 'networkx') if name in sys.modules])"
    )
    run = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True) for _ in range(2)]

    assert run[1].stdout.strip() == "[]"


@pytest.mark.parametrize("harm", [lambda raw: raw[:-3], lambda raw: raw.replace(b"17", b"18"), lambda raw: raw[40:]])
def test_a_cache_file_that_was_damaged_counts_for_nothing(harm):
    store.write_store("patterns-damaged", {"value": 17})
    assert store.read_store("patterns-damaged") == {"value": 17}
    file = cache_folder() / "patterns-damaged.json"
    file.write_bytes(harm(file.read_bytes()))

    assert store.read_store("patterns-damaged") is None
