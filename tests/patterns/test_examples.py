"""Every example of every pattern of the library goes as it says."""

from __future__ import annotations

import pytest

from topo.matching import library
from topo.matching.trying import try_example

LIBRARY = library()
EXAMPLES = [
    pytest.param(pattern, example, id=f"{pattern.slug}: {example.words}")
    for pattern in LIBRARY.patterns
    for example in LIBRARY.examples(pattern.slug)
]


@pytest.mark.parametrize(("pattern", "example"), EXAMPLES)
def test_the_example_goes_as_it_says(pattern, example):
    trial = try_example(pattern, example, LIBRARY)

    assert trial.passed, f"{pattern.file}, line {example.line}: {trial.words}"
