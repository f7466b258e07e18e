"""Reviews pattern files for their authors: the form of each file, and every example tried."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from topo.errors import UsageError
from topo.matching.pattern import Pattern
from topo.matching.schema import Document, read_pattern
from topo.matching.shelf import Library, pattern_files, problems_between, text_of, unknown_slugs
from topo.matching.trying import shown_roles, try_example
from topo.resources import own_folder


def review(paths: Sequence[Path], folders: Sequence[Path], verbose: bool = False) -> Iterator[tuple[str, bool]]:
    """Lines to print, each with whether it is good news.

    The files of the shipped library, and of further folders, serve as company: their compounds are known.
    """
    for path in paths:
        if not path.exists():
            raise UsageError(f"There is no file or folder `{path}`.")
    files = pattern_files(paths)
    documents: dict[str, Document] = {}
    trials = failures = 0
    for file in files:
        document, problems = read_pattern(text_of(file), str(file))
        for problem in problems:
            yield str(problem), False
        if document is not None:
            documents[document.pattern.slug] = document
    library = _company([document.pattern for document in documents.values()], files, folders)
    for problem in problems_between([document.pattern for document in documents.values()]):
        if problem.code == "twice":
            yield str(problem), False
    slugs = {pattern.slug for pattern in library.patterns}
    for slug, document in documents.items():
        for other in unknown_slugs(document.pattern, slugs):
            yield f"{document.pattern.file}: there is no pattern `{other}` (yet).", len(paths) == 1
        for example in document.examples:
            trial = try_example(document.pattern, example, library)
            trials += 1
            failures += not trial.passed
            sign = "matches" if example.matches else "does not match"
            if trial.passed:
                shown = "".join(f"\n      {shown_roles(match)}" for match in trial.matches)
                yield f"ok    {slug}: {example.words}" + (f" - {sign}{shown}" if verbose else ""), True
            else:
                where = f"{document.pattern.file}, line {example.line}"
                yield f"FAIL  {slug}: {example.words}\n      {where}\n      should be: {sign}; {trial.words}", False
    yield f"{len(files)} files, {len(documents)} well formed; {trials} examples, {failures} failed.", failures == 0


def _company(patterns: Sequence[Pattern], files: Sequence[Path], folders: Sequence[Path]) -> Library:
    """The reviewed patterns with those of the library beside them that can be read; broken ones are left out."""
    found = {pattern.slug: pattern for pattern in patterns}
    try:
        others = pattern_files([own_folder("patterns"), *folders])
    except (FileNotFoundError, UsageError):
        others = ()
    reviewed = {file.resolve() for file in files}
    for file in others:
        if file.resolve() in reviewed or file.stem in found:
            continue
        document, _ = read_pattern(text_of(file), str(file))
        if document is not None:
            found[file.stem] = document.pattern
    ordered = sorted(found.values(), key=lambda pattern: (pattern.family, pattern.slug))
    return Library(tuple(ordered))
