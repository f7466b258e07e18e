"""The library of patterns: the shipped files, with those of further folders added or put in their place."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from topo.errors import PatternError, Place, Problem, UsageError
from topo.matching.pattern import Pattern
from topo.matching.plain import from_plain, texts_from_plain, texts_to_plain, to_plain
from topo.matching.schema_texts import Example, Texts
from topo.matching.store import read_store, write_store
from topo.matching.yaml_source import LARGEST_TEXT
from topo.resources import contents as read
from topo.resources import own_folder

if TYPE_CHECKING:
    from topo.matching.schema import Document

MOST_FILES = 2_000


@dataclass(frozen=True)
class Library:
    """Patterns in the order of their families and names. Texts and examples are read when they are asked for."""

    patterns: tuple[Pattern, ...]
    files: tuple[Path, ...] = field(default=(), compare=False, repr=False)
    key: str = field(default="", compare=False, repr=False)

    @cached_property
    def _by_slug(self) -> dict[str, Pattern]:
        return {pattern.slug: pattern for pattern in self.patterns}

    @cached_property
    def _documents(self) -> dict[str, Document]:
        return {}

    def __contains__(self, slug: str) -> bool:
        return slug in self._by_slug

    def get(self, slug: str) -> Pattern:
        """A pattern by the stem of its file.

        Raises:
            UsageError: there is none; it names the nearest.
        """
        found = self._by_slug.get(slug)
        if found is None:
            from topo.matching.checking import nearest

            near = nearest(slug, self._by_slug)
            hint = f" Perhaps `{near}` was meant." if near else ""
            raise UsageError(f"There is no pattern `{slug}`.{hint} `topo patterns list` lists them.")
        return found

    @cached_property
    def _texts(self) -> dict[str, Texts]:
        stored = read_store(f"texts-{self.key}") if self.key else None
        if stored is not None:
            try:
                return {slug: texts_from_plain(plain) for slug, plain in stored.items()}
            except (KeyError, TypeError, ValueError, AttributeError, IndexError):
                pass
        return {}

    def texts(self, slug: str) -> Texts:
        """The texts of a pattern, as segments."""
        found = self._texts.get(slug)
        if found is None:
            found = self._texts[slug] = self.document(slug).texts
        return found

    def examples(self, slug: str) -> tuple[Example, ...]:
        """The examples of a pattern."""
        return self.document(slug).examples

    def document(self, slug: str) -> Document:
        """A pattern's file, read again.

        Raises:
            PatternError: it cannot be read any more.
        """
        if slug not in self._documents:
            from topo.matching.schema import read_pattern

            file = Path(self.get(slug).file)
            document, problems = read_pattern(text_of(file), str(file))
            if document is None:
                raise PatternError(problems)
            self._documents[slug] = document
        return self._documents[slug]


_kept: dict[tuple[str, ...], Library] = {}


def library(extra_dirs: Sequence[str | Path] = ()) -> Library:
    """The shipped library, with the patterns of further folders added; one with the slug of another replaces it.

    Raises:
        PatternError: with every problem of every file.
    """
    key = tuple(str(Path(folder).resolve()) for folder in extra_dirs)
    found = _kept.get(key)
    if found is None:
        found = _kept[key] = load_library(pattern_files([own_folder("patterns"), *extra_dirs]))
    return found


def pattern_files(folders: Iterable[str | Path]) -> tuple[Path, ...]:
    """The pattern files of some folders, later ones in place of earlier ones with the same stem, in a stable order.

    Raises:
        UsageError: a folder does not exist.
        PatternError: two files of one folder have the same stem.
    """
    found: dict[str, Path] = {}
    for folder in map(Path, folders):
        if not folder.exists():
            raise UsageError(f"There is no folder `{folder}`.")
        files = [folder] if folder.is_file() else sorted(folder.rglob("*.yaml"))[: MOST_FILES + 1]
        if len(files) > MOST_FILES:
            raise UsageError(f"The folder `{folder}` holds more than {MOST_FILES} patterns.")
        here: dict[str, Path] = {}
        for file in files:
            if file.stem in here:
                message = f"The pattern `{file.stem}` is in two files; the other is {here[file.stem]}."
                raise PatternError((Problem(Place(str(file)), message, expected="one file a pattern", code="twice"),))
            here[file.stem] = file
        found.update(here)
    return tuple(sorted(found.values(), key=lambda file: (file.parent.name, file.stem)))


def bytes_of(file: Path) -> bytes:
    """The bytes of a pattern file.

    Raises:
        OSError: it cannot be read, or is far too large.
    """
    return read(file, 4 * LARGEST_TEXT)


def text_of(file: Path) -> str:
    """The text of a pattern file; what is no UTF-8 in it is replaced. Raises as `bytes_of`."""
    return bytes_of(file).decode("utf-8", errors="replace")


def load_library(files: Sequence[Path]) -> Library:
    """The library of some files, from the user's cache where it holds what these very files compile to.

    Raises:
        PatternError: with every problem of every file.
    """
    contents = [bytes_of(file) for file in files]
    digest = hashlib.sha256(_compiler_mark())
    for file, content in zip(files, contents, strict=True):
        digest.update(f"{file}\0{len(content)}\0".encode())
        digest.update(content)
    key = digest.hexdigest()[:32]
    stored = read_store(f"patterns-{key}")
    if stored is not None:
        try:
            return Library(tuple(from_plain(plain) for plain in stored), tuple(files), key)
        except (KeyError, TypeError, ValueError, AttributeError, IndexError):
            pass
    documents = _compile(files, contents)
    made = Library(tuple(document.pattern for document in documents), tuple(files), key)
    write_store(f"patterns-{key}", [to_plain(pattern) for pattern in made.patterns])
    write_store(f"texts-{key}", {document.pattern.slug: texts_to_plain(document.texts) for document in documents})
    return made


def _compile(files: Sequence[Path], contents: Sequence[bytes]) -> list[Document]:
    from topo.matching.schema import read_pattern

    documents: list[Document] = []
    problems: list[Problem] = []
    for file, content in zip(files, contents, strict=True):
        try:
            text = content.decode("utf-8")
        except UnicodeDecodeError:
            problems.append(Problem(Place(str(file)), "The file is not UTF-8.", code="encoding"))
            continue
        document, found = read_pattern(text, str(file))
        problems.extend(found)
        if document is not None:
            documents.append(document)
    problems.extend(problems_between([document.pattern for document in documents]))
    if problems:
        raise PatternError(tuple(problems))
    return documents


def problems_between(patterns: Sequence[Pattern]) -> list[Problem]:
    """What is wrong with patterns taken together: a name used twice, a pattern named that is not there."""
    found: list[Problem] = []
    slugs = {pattern.slug for pattern in patterns}
    names: dict[str, Pattern] = {}
    for pattern in patterns:
        if pattern.name in names:
            message = f"`{pattern.name}` is the name of `{names[pattern.name].slug}` as well."
            found.append(Problem(Place(pattern.file), message, expected="a name of its own", code="twice"))
        names[pattern.name] = pattern
        for slug in unknown_slugs(pattern, slugs):
            message = f"There is no pattern `{slug}`."
            found.append(Problem(Place(pattern.file), message, expected="the slug of a pattern", code="unknown"))
    return found


def unknown_slugs(pattern: Pattern, slugs: set[str]) -> list[str]:
    """Patterns that a pattern names and that are not among `slugs`."""
    named = [slug for component in pattern.made_of for slug in component.slugs]
    named += [slug for _, supposed in pattern.reading.supposes for slug in supposed]
    named += [role.make for role in pattern.roles.values() if role.make not in ("", "single", "compound")]
    return [slug for slug in dict.fromkeys(named) if slug not in slugs]


def _compiler_mark() -> bytes:
    """What the compiled form depends on besides the files: the grammars, and the modules that compile."""
    mark = hashlib.sha256(b"2")
    grammars = own_folder("grammar")
    here = Path(__file__).parent
    for file in (grammars / "joins.lark", grammars / "expressions.lark", *sorted(here.rglob("*.py"))):
        stat = file.stat()
        mark.update(f"{file.name} {stat.st_size} {stat.st_mtime_ns}".encode())
    return mark.digest()
