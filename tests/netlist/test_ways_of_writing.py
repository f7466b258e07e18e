"""Values typed as no other of their file: what a slip of the pen leaves is asked about, a file's own manner is not."""

import pytest

import topo


def asked(text):
    found = [problem for problem in topo.loads(text).warnings if problem.code == "odd-form"]
    return {problem.place.line: problem.mend for problem in found}


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("C1 47u0 : a b", "Write 470u if that was meant."),
        ("C1 1u0 : a b\nR1 1k : a b\nR2 3k : a b", "Write 10u if that was meant."),
        ("R1 0k47 : a b", "Write 4k7 if that was meant."),
        ("R1 4700 : a b\nR2 10k : b c\nR3 4k7 : c d", "Write 470 if that was meant."),
        ("C1 1000n : a b\nC2 1u : b c\nC3 4u7 : c d", "Write 100n if that was meant."),
    ],
)
def test_a_value_of_a_form_of_its_own_is_asked_about(text, mend):
    assert asked(text) == {1: mend}


@pytest.mark.parametrize(
    "text",
    [
        "R1 49R9 : a b\nR2 10k0 : b c",  # a file of 1 % values
        "C1 10n0 : a b\nC2 47n0 : b c",  # its manner
        "R1 4700 : a b\nR2 2200 : b c\nR3 10k : c d\nR4 4k7 : d e",
        "R1 1k0 : a b\nC1 1u0 : b c\nR2 0R47 : c d\nC2 0u1 : d e",  # usual forms
        "C1 4700u : a b\nC2 1000p : b c\nC3 1u : c d\nC4 10u : d e",
    ],
)
def test_the_manner_of_a_file_is_not_asked_about(text):
    assert asked(text) == {}
