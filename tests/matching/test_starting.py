"""A pattern file is started from the nearest entry, well formed, and never over another."""

from __future__ import annotations

import pytest

from topo.errors import UsageError
from topo.matching import library
from topo.matching.reviewing import review
from topo.matching.starting import nearest_entry, slug_of, start_file


def test_a_started_file_keeps_to_the_form_and_to_its_examples(tmp_path):
    file, entry = start_file(library(), "twin-triode cathode follower", tmp_path)

    assert file.name == "twin-triode-cathode-follower.yaml"
    assert entry.slug == nearest_entry(library(), "twin-triode cathode follower").slug
    assert all(passed for _, passed in review([file], []))


def test_the_nearest_entry_has_most_words_in_common():
    assert nearest_entry(library(), "silicon long-tailed pair").slug == "long-tailed-pair"
    assert nearest_entry(library(), "bridge-tied load").slug == "bridge-output"


def test_an_entry_may_be_named_to_start_from(tmp_path):
    _, entry = start_file(library(), "something new", tmp_path, "cascode")

    assert entry.slug == "cascode"


def test_a_file_that_is_there_is_left_as_it_is(tmp_path):
    file = tmp_path / "something-new.yaml"
    file.write_text("mine")

    with pytest.raises(UsageError, match="left as it is"):
        start_file(library(), "something new", tmp_path)
    assert file.read_text() == "mine"


def test_a_name_of_the_library_is_refused(tmp_path):
    with pytest.raises(UsageError, match="already"):
        start_file(library(), "cascode", tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_missing_is_told(tmp_path):
    with pytest.raises(UsageError, match="no folder"):
        start_file(library(), "something new", tmp_path / "nowhere")


@pytest.mark.parametrize("name", ["", "...", "x" * 80])
def test_a_name_without_words_or_without_end_is_refused(name):
    with pytest.raises(UsageError):
        slug_of(name)


@pytest.mark.parametrize("name", ['a "quoted" name', "back\\slash", "colon: here", "# hash"])
def test_odd_signs_in_a_name_still_give_a_well_formed_file(tmp_path, name):
    file, _ = start_file(library(), name, tmp_path, "cascode")

    assert all(passed for _, passed in review([file], []))
