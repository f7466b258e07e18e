"""Rules that hold for the library as a whole; each failure says which rule, and how to keep it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from topo.matching import library
from topo.matching.kinds import DEVICE_GROUPS
from topo.matching.schema import FAMILIES
from topo.resources import own_folder

ROOT = Path(__file__).resolve().parents[2]
LIBRARY = library()
PATTERNS = [pytest.param(pattern, id=pattern.slug) for pattern in LIBRARY.patterns]


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_pattern_gives_its_source_and_purpose(pattern):
    assert len(pattern.source) > 5, "say where the definition comes from, `common practice` at the least"
    assert pattern.purpose.endswith("."), "the purpose is a sentence"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_slug_is_words_joined_by_hyphens(pattern):
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", pattern.slug), "the file's stem is the slug: lower case and hyphens"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_both_voices_speak_of_the_block(pattern):
    block = LIBRARY.texts(pattern.slug).block

    assert block.get("student") and block.get("technician"), "a text for the student and one for the technician"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_stage_claim_names_devices_as_its_stage(pattern):
    own = [role for role in pattern.roles.values() if not role.witness and set(role.kinds) & set(DEVICE_GROUPS)]
    if pattern.reading.claim == "stage" and own:
        assert pattern.reading.stage, "a claim `stage` says of which devices it is the stage"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_no_match_example_names_its_step(pattern):
    for example in LIBRARY.examples(pattern.slug):
        if not example.matches:
            assert len(example.words) > 10, "`as` says in which step it differs from a match"


def test_names_and_other_names_lead_to_one_pattern_each():
    owners: dict[str, set[str]] = {}
    for pattern in LIBRARY.patterns:
        for name in {pattern.name, *pattern.names.values()}:
            owners.setdefault(name.casefold(), set()).add(pattern.slug)

    assert {name: slugs for name, slugs in owners.items() if len(slugs) > 1} == {}


def test_kin_is_what_two_patterns_or_more_have_in_common():
    kin = [pattern.kin for pattern in LIBRARY.patterns if pattern.kin]

    assert [word for word in set(kin) if kin.count(word) == 1] == []


def test_kin_are_of_one_kind_of_claim_on_devices():
    staged: dict[str, set[bool]] = {}
    for pattern in LIBRARY.patterns:
        if pattern.kin:
            staged.setdefault(pattern.kin, set()).add(pattern.reading.claim in ("stage", "takes over"))

    assert [word for word, found in staged.items() if len(found) > 1] == []


def test_no_two_patterns_ask_for_the_same():
    seen: dict[tuple, str] = {}
    for pattern in LIBRARY.patterns:
        for shape in pattern.shapes:
            key = (
                tuple((role.name, role.kinds, role.when_text, role.make) for role in shape.roles),
                tuple((join.view, join.text) for join in shape.joins),
                tuple(condition.text for condition in shape.where),
            )
            assert key not in seen, f"{pattern.slug} asks for the same as {seen[key]}"
            seen[key] = pattern.slug


def test_every_file_lies_in_the_folder_of_a_family():
    folders = {file.parent.name for file in own_folder("patterns").rglob("*.yaml")}

    assert folders <= set(FAMILIES)


def test_no_pattern_is_named_in_the_code():
    slugs = [pattern.slug for pattern in LIBRARY.patterns if "-" in pattern.slug]
    named = []
    for file in (ROOT / "topo").rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        named += [f"{file.name}: {slug}" for slug in slugs if re.search(rf"[\"']{re.escape(slug)}[\"']", text)]

    assert named == [], "the engine and the reading know no pattern: put it into the pattern's file"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_pattern_proves_itself_by_three_examples_of_either_sign(pattern):
    signs = [example.matches for example in LIBRARY.examples(pattern.slug)]

    assert signs.count(True) >= 3, "a plain one, one with clutter in the leads, one with polarity or family changed"
    assert signs.count(False) >= 3, "look-alikes, each one step away"


@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_pattern_says_what_to_check(pattern):
    assert LIBRARY.texts(pattern.slug).check, "what to measure or adjust"
