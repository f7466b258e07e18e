"""The forms of a collection of files: read once, then kept in the user's cache folder.

A form is kept under the hash of its file's text, together with all forms of one library and one state of the package's
own code. Whatever is wrong with the store only costs time.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from topo.comparison.forms import Form, form_from_plain, form_of
from topo.errors import TopoError, UsageError
from topo.matching.shelf import Library
from topo.matching.store import read_store, write_store
from topo.resources import cache_folder, contents

SUFFIX = ".net"
MOST_FILES = 200_000
LARGEST_FILE = 4_000_000
# From so many texts on, several processes are faster than one.
_WORTH_A_PROCESS = 24
# A store in this many pieces: only those in which something is new are written again.
_PIECES = 16
# After so many fresh forms what is known is written down, so that a run that is broken off is not lost.
_BETWEEN = 200
# Of each piece, those of so many libraries and states of the code stay.
_GENERATIONS = 3
# Of forms that no file of a run asked for, no more than this are kept in each piece.
_MOST_KEPT = 20_000


def files_under(paths: Iterable[Path]) -> Iterator[Path]:
    """The netlist files of some folders, their sub-folders included, and files named themselves, each once, sorted.

    Links to folders are not followed.

    Raises:
        UsageError: there are more than `MOST_FILES`.
    """
    found: dict[Path, None] = {}
    for path in paths:
        if not path.is_dir():
            found.setdefault(path)
            continue
        for folder, folders, names in os.walk(path):
            folders.sort()
            found.update({Path(folder, name): None for name in sorted(names) if name.endswith(SUFFIX)})
            if len(found) > MOST_FILES:
                raise UsageError(f"There are more than {MOST_FILES} {SUFFIX} files in {path}.")
    yield from found


class Forms:
    """The forms of many files, from the store where they are there."""

    def __init__(self, library: Library, folders: Sequence[str] = (), workers: int | None = None) -> None:
        """Args: `folders` are those that the library adds to the shipped patterns; `workers` how many processes read
        what is not in the store, one for each processor when None."""
        self._library = library
        self._folders = tuple(folders)
        self._workers = (os.cpu_count() or 1) if workers is None else workers
        self._key = f"{library.key[:16]}{_code_mark()[:16]}"
        self._pieces: dict[str, dict[str, Any]] = {}
        self._changed: set[str] = set()
        self._asked: dict[str, set[str]] = {}
        self.fresh = 0

    def of_files(self, files: Iterable[Path]) -> Iterator[tuple[Path, Form | str]]:
        """Each file with its form, or with the reason in words why it cannot be read; those in the store come first."""
        waiting: dict[str, list[Path]] = {}
        texts: dict[str, bytes] = {}
        for file in files:
            try:
                text = _text_of(file)
            except (OSError, TopoError) as error:
                yield file, (getattr(error, "strerror", None) or str(error)).lower()
                continue
            mark = hashlib.sha256(text).hexdigest()
            found = self._known(mark)
            if found is not None:
                yield file, found
            else:
                waiting.setdefault(mark, []).append(file)
                texts.setdefault(mark, text)
        try:
            for mark, plain in self._read(texts):
                found = plain if isinstance(plain, str) else form_from_plain(plain)
                self._keep(mark, plain)
                for file in waiting[mark]:
                    yield file, "it cannot be read" if found is None else found
        finally:
            self._write()

    def _read(self, texts: Mapping[str, bytes]) -> Iterator[tuple[str, Any]]:
        """The plain forms of texts, or the reasons why there is none, by several processes where that pays."""
        if self._workers < 2 or len(texts) < _WORTH_A_PROCESS:
            for mark, text in texts.items():
                yield mark, _plain_form(text, self._library)
            return
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        with ProcessPoolExecutor(
            self._workers, mp_context=get_context("spawn"), initializer=_begin, initargs=(self._folders,)
        ) as pool:
            yield from zip(texts, pool.map(_plain_form, texts.values(), chunksize=4), strict=True)

    def _known(self, mark: str) -> Form | str | None:
        self._asked.setdefault(mark[:1], set()).add(mark)
        kept = self._piece(mark[:1]).get(mark)
        return kept if isinstance(kept, str) else form_from_plain(kept)

    def _keep(self, mark: str, plain: Any) -> None:
        self.fresh += 1
        self._piece(mark[:1])[mark] = plain
        self._changed.add(mark[:1])
        if self.fresh % _BETWEEN == 0:
            self._write()

    def _piece(self, piece: str) -> dict[str, Any]:
        if piece not in self._pieces:
            found = read_store(self._name(piece))
            self._pieces[piece] = found if isinstance(found, dict) else {}
        return self._pieces[piece]

    def _name(self, piece: str) -> str:
        return f"forms{piece}-{self._key}"

    def _write(self) -> None:
        """Writes down what is new; of what nobody asked for in this run, only so much."""
        for piece in sorted(self._changed):
            known = self._pieces[piece]
            asked = self._asked.get(piece, set())
            spare = [mark for mark in known if mark not in asked][:_MOST_KEPT]
            kept = [*spare, *sorted(asked & known.keys())]
            write_store(self._name(piece), {mark: known[mark] for mark in kept})
            _drop_older(f"forms{piece}")
        self._changed.clear()


def _drop_older(piece: str) -> None:
    """Drops what other libraries or another state of the code left of a piece, the last few aside."""
    folder = cache_folder()
    if folder is None:
        return
    try:
        files = sorted(folder.glob(f"{piece}-*.json"), key=lambda file: file.stat().st_mtime, reverse=True)
        for file in files[_GENERATIONS:]:
            file.unlink()
    except OSError:
        return


def _text_of(file: Path) -> bytes:
    """The bytes of a file that is not too large to be a netlist."""
    return contents(file, LARGEST_FILE)


_library_here: Library | None = None


def _begin(folders: tuple[str, ...]) -> None:
    """Gives a process its library."""
    global _library_here
    from topo.matching.shelf import library

    _library_here = library(folders)


def _plain_form(text: bytes, library: Library | None = None) -> Any:
    """The form of a text as plain values, or the reason in words why there is none."""
    from topo.netlist import loads
    from topo.reading import read

    patterns = library or _library_here
    try:
        circuit = loads(text.decode("utf-8", errors="replace"), file=_THE_FILE)
        return form_of(read(circuit, patterns, advice=False), patterns).as_plain()
    except TopoError as error:
        return _in_one_line(str(error))
    except RecursionError:
        return "it is nested too deeply"
    except Exception as error:  # one file must not end the reading of ten thousand
        return f"a fault of topo: {type(error).__name__}: {error}"


_THE_FILE = "<file>"


def _in_one_line(reason: str) -> str:
    """The first line of a complaint, without the file's name: another file may have the same text."""
    first = reason.splitlines()[0] if reason else "it cannot be read"
    return first.removeprefix(f"{_THE_FILE}, ").removeprefix(f"{_THE_FILE}: ")


def _code_mark() -> str:
    """What a form depends on besides the patterns: the modules of the package."""
    package = Path(__file__).resolve().parent.parent
    mark = hashlib.sha256()
    for file in sorted(package.rglob("*.py")):
        stat = file.stat()
        mark.update(f"{file.name} {stat.st_size} {stat.st_mtime_ns}".encode())
    return mark.hexdigest()
