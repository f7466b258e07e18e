from __future__ import annotations

import json
from pathlib import Path

import pytest

from topo.comparison import collection
from topo.comparison.collection import Forms, files_under
from topo.errors import UsageError
from topo.matching import library
from topo.matching.store import checksum

STAGE = """
circuit A stage
supply vcc 9V
input  a
output o
C1  1u    : a b
R1  47k   : vcc b
R2  10k   : b gnd
Q1  npn   : b=b c=c e=e
R3  4k7   : vcc c
R4  1k    : e gnd
C3  1u    : c o
R5  47k   : o gnd
"""


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    """A cache folder of the test's own, with the compiled patterns of the real one."""
    library()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "topo"


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "circuits"
    (made / "deeper").mkdir(parents=True)
    (made / "a.net").write_text(STAGE, encoding="utf-8")
    (made / "deeper" / "b.net").write_text(STAGE + "# another file\n", encoding="utf-8")
    (made / "notes.txt").write_text("no netlist", encoding="utf-8")
    return made


def forms_of(folder, **options):
    """What is found in the files of a folder, by name, and how many of them were read afresh."""
    forms = Forms(library(), workers=1, **options)
    found = {path.name: item for path, item in forms.of_files(files_under([folder]))}
    return found, forms.fresh


def test_netlists_are_found_in_sub_folders_and_nothing_else(folder):
    assert [path.name for path in files_under([folder])] == ["a.net", "b.net"]


def test_a_file_named_itself_is_taken_whatever_its_name(folder):
    assert [path.name for path in files_under([folder / "notes.txt", folder])] == ["notes.txt", "a.net", "b.net"]


def test_a_file_is_listed_once_however_often_its_folder_is_named(folder):
    assert len(list(files_under([folder, folder]))) == 2


def test_more_files_than_the_limit_are_refused(folder, monkeypatch):
    monkeypatch.setattr(collection, "MOST_FILES", 1)

    with pytest.raises(UsageError, match="more than 1"):
        list(files_under([folder]))


def test_a_second_run_reads_nothing_afresh(folder):
    first, fresh = forms_of(folder)
    second, none = forms_of(folder)

    assert (fresh, none) == (2, 0)
    assert {name: form.features for name, form in first.items()} == {n: form.features for n, form in second.items()}


def test_only_a_changed_file_is_read_again(folder):
    forms_of(folder)
    (folder / "a.net").write_text(STAGE.replace("1k ", "2k2"), encoding="utf-8")

    assert forms_of(folder)[1] == 1


def test_files_of_one_text_are_read_once(folder):
    (folder / "c.net").write_text(STAGE, encoding="utf-8")

    found, fresh = forms_of(folder)

    assert (len(found), fresh) == (3, 2)


def test_a_file_that_cannot_be_read_is_given_with_its_reason(folder):
    (folder / "bad.net").write_text("supply vcc\n", encoding="utf-8")

    for found in (forms_of(folder)[0], forms_of(folder)[0]):
        assert found["bad.net"].startswith("line 1")
        assert not isinstance(found["a.net"], str)


def test_a_file_that_is_too_large_is_given_with_its_reason(folder, monkeypatch):
    monkeypatch.setattr(collection, "LARGEST_FILE", 10)

    assert forms_of(folder)[0]["a.net"] == "the file is too large"


def test_one_file_that_cannot_be_opened_does_not_end_the_run(folder):
    (folder / "gone.net").symlink_to(folder / "nowhere")

    found, _ = forms_of(folder)

    assert isinstance(found["gone.net"], str)
    assert not isinstance(found["a.net"], str)


def test_a_fault_in_one_file_does_not_end_the_run(folder, monkeypatch):
    def fails(*_):
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(collection, "form_of", fails)

    assert forms_of(folder)[0]["a.net"].startswith("a fault of topo")


@pytest.mark.parametrize("content", ["", "{", "[]", "7", '{"%s": 3}', '{"%s": ["a"]}', '{"%s": {"b": []}}', "\x00"])
@pytest.mark.parametrize("sealed", [True, False])
def test_a_spoilt_store_only_costs_time(folder, cache, content, sealed):
    good, _ = forms_of(folder)
    for file in cache.glob("forms*.json"):
        seal, _, raw = file.read_bytes().partition(b"\n")
        spoilt = content.replace("%s", next(iter(json.loads(raw)))).encode()
        file.write_bytes((checksum(spoilt) if sealed else seal) + b"\n" + spoilt)

    found, fresh = forms_of(folder)

    assert fresh == 2
    assert {name: form.features for name, form in found.items()} == {n: form.features for n, form in good.items()}


def test_no_cache_folder_only_costs_time(folder, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", "/proc/nowhere")

    assert forms_of(folder)[1] == 2
    assert forms_of(folder)[1] == 2


def test_what_earlier_states_left_in_the_store_is_dropped_in_time(folder, cache):
    cache.mkdir(parents=True, mode=0o700)
    for number in range(6):
        for piece in "0123456789abcdef":
            (cache / f"forms{piece}-{number:032d}.json").write_text("{}", encoding="utf-8")

    forms_of(folder)

    touched = {file.name[:6] for file in cache.glob("forms*.json") if len(list(cache.glob(f"{file.name[:6]}-*"))) == 3}
    assert touched


def test_several_processes_find_the_same_as_one(folder, monkeypatch):
    monkeypatch.setattr(collection, "_WORTH_A_PROCESS", 2)
    forms = Forms(library(), workers=2)

    found = {path.name: item.features for path, item in forms.of_files(files_under([folder]))}

    assert found["a.net"] == found["b.net"] == forms_of(folder)[0]["a.net"].features


def test_the_store_lies_in_the_cache_folder_alone(folder, cache):
    before = sorted(Path(folder).rglob("*"))
    forms_of(folder)

    assert sorted(Path(folder).rglob("*")) == before
    assert list(cache.glob("forms*.json"))
