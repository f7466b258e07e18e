"""Starts a pattern file from the nearest entry of the library, for its author to change."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from pathlib import Path

from topo.errors import UsageError
from topo.matching.pattern import Pattern
from topo.matching.shelf import Library

_LEFT_OUT = ("names:", "also:", "kin:")
_MOST_LETTERS = 60


def slug_of(name: str) -> str:
    """The file's stem for a trade name: lower case, words joined by hyphens.

    Raises:
        UsageError: no word is left, or the name is too long.
    """
    slug = "-".join(re.findall(r"[a-z0-9]+", name.casefold()))
    if not slug or len(slug) > _MOST_LETTERS:
        raise UsageError(f"`{name}` makes no file name. Give the trade name in words, {_MOST_LETTERS} letters at most.")
    return slug


def nearest_entry(library: Library, name: str) -> Pattern:
    """The pattern whose names have most in common with a name: whole words first, then letters."""
    wanted = _words(name)

    def likeness(pattern: Pattern) -> tuple[int, float]:
        names = (pattern.slug.replace("-", " "), pattern.name, *pattern.names.values(), *pattern.also)
        common = max(len(wanted & _words(other)) for other in names)
        return common, max(SequenceMatcher(None, name.casefold(), other.casefold()).ratio() for other in names)

    return max(library.patterns, key=likeness)


def start_file(library: Library, name: str, folder: Path, of: str = "") -> tuple[Path, Pattern]:
    """Writes `folder/slug.yaml`, made from the pattern `of` or the nearest one.

    Returns:
        the file, and the pattern that it was made from.

    Raises:
        UsageError: there is such a file or pattern already, or no folder, or no pattern `of`.
    """
    slug = slug_of(name)
    if slug in library:
        raise UsageError(f"There is a pattern `{slug}` already: {library.get(slug).file}")
    if not folder.is_dir():
        raise UsageError(f"There is no folder `{folder}`.")
    entry = library.get(of) if of else nearest_entry(library, name)
    file = folder / f"{slug}.yaml"
    text = _started(Path(entry.file).read_text(encoding="utf-8"), " ".join(name.split()), entry)
    try:
        with file.open("x", encoding="utf-8", newline="\n") as opened:
            opened.write(text)
    except FileExistsError:
        raise UsageError(f"There is a file `{file}` already; it was left as it is.") from None
    return file, entry


def _started(text: str, name: str, entry: Pattern) -> str:
    """The text of an entry under another name, without its other names, with what to do on top."""
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    lines = [
        f"# Started from `{entry.slug}`. First change the examples at the end, then run `topo patterns check` on this",
        "# file, and write roles and joins until it passes. Then purpose, source, figures and texts.",
        f'name: "{quoted}"',
    ]
    lines += [line for line in text.splitlines() if not line.startswith(("name:", *_LEFT_OUT))]
    return "\n".join(lines) + "\n"


def _words(text: str) -> set[str]:
    return set(re.findall(r"[a-z0-9]+", text.casefold()))
