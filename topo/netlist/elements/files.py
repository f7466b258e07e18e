"""Reads the files that a list includes: only from beneath the list's own folder, whatever the case of their names."""

from __future__ import annotations

import os
from errno import EFBIG
from pathlib import Path

from topo.netlist.lines import LONGEST_TEXT
from topo.resources import contents

MOST_FILES = 200
# Names in one folder that are looked through for one that differs in case alone.
MOST_NAMES = 10_000


class FileError(ValueError):
    """A file that is not read, and why."""


class Files:
    """The files beneath one folder; `folder` None (standard input) has none."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = None if folder is None else folder.resolve()
        self._left = LONGEST_TEXT
        self._count = 0

    def read(self, name: str, beside: str) -> tuple[str, str]:
        """The text of a file named in another, and the name to show for it.

        A name is looked for beside the file that names it, then in the list's own folder.

        Raises:
            FileError: it is not there, lies elsewhere, is too large or no text.
        """
        if self._folder is None:
            raise FileError("a text from standard input has no folder to read it from")
        if "\0" in name or not name.strip():
            raise FileError("it has no proper name")
        relative = Path(name.replace("\\", "/"))
        if relative.is_absolute() or relative.drive or name[1:2] == ":":
            raise FileError("only files beneath the list's own folder are read")
        for start in dict.fromkeys((Path(beside).resolve().parent, self._folder)):
            try:
                found = self._find(start, relative)
            except OSError as error:
                raise FileError((error.strerror or "it cannot be read").lower()) from None
            if found is not None:
                return self._text(found), os.path.relpath(found, self._folder)
        raise FileError("it is not there")

    def _find(self, start: Path, relative: Path) -> Path | None:
        """The file of that name from a folder on, in any case of letters; None where there is none."""
        here = start
        for piece in relative.parts:
            if piece == "..":
                here = here.parent
            elif piece != ".":
                exact = here / piece
                here = exact if exact.exists() else self._of_other_case(here, piece)
            if not self._beneath(here):
                raise FileError("only files beneath the list's own folder are read")
        return here if here.is_file() else None

    def _beneath(self, path: Path) -> bool:
        assert self._folder is not None
        try:
            real = path.resolve()
        except (OSError, RuntimeError):
            return False
        return real == self._folder or self._folder in real.parents

    def _of_other_case(self, folder: Path, piece: str) -> Path:
        try:
            with os.scandir(folder) as entries:
                for _, entry in zip(range(MOST_NAMES), entries, strict=False):
                    if entry.name.casefold() == piece.casefold():
                        return folder / entry.name
        except OSError:
            pass
        return folder / piece

    def _text(self, path: Path) -> str:
        self._count += 1
        if self._count > MOST_FILES:
            raise FileError(f"more than {MOST_FILES} files are included")
        try:
            raw = contents(path, self._left)
        except OSError as error:
            if error.errno == EFBIG:
                raise FileError("it is too large") from None
            raise FileError((error.strerror or "it cannot be read").lower()) from None
        self._left -= len(raw)
        return decoded(raw)


def decoded(raw: bytes) -> str:
    """The text of a file: UTF-8, else the one-byte encoding that old files have (Latin-1)."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")
