"""Where the package's own files are: grammars and patterns, inside an installed package or beside it; and the cache.
How a file of the user's is read: no more of it than is allowed, and nothing that never ends."""

from __future__ import annotations

import errno
import gc
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path


@cache
def own_folder(name: str) -> Path:
    """The folder `grammar` or `patterns`: inside the package where it is installed, beside it in a checkout."""
    package = Path(__file__).resolve().parent
    inside = package / name
    return inside if inside.is_dir() else package.parent / name


def contents(path: str | os.PathLike[str], most: int) -> bytes:
    """The bytes of a file, or of an open pipe such as /dev/fd/63.

    Raises:
        OSError: it cannot be read; it is a folder, a device or a named pipe, which may never end; with EFBIG: there are
            more than `most` bytes.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb", closefd=True) as stream:
        status = os.fstat(handle)
        if stat.S_ISFIFO(status.st_mode) and not os.path.exists(os.path.realpath(path)):
            os.set_blocking(handle, True)
        elif stat.S_ISDIR(status.st_mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), os.fspath(path))
        elif not stat.S_ISREG(status.st_mode):
            raise OSError(errno.EINVAL, "this is a device or a named pipe, not a file", os.fspath(path))
        raw = stream.read(most + 1) if status.st_size <= most else None
    if raw is None or len(raw) > most:
        raise OSError(errno.EFBIG, "the file is too large", os.fspath(path))
    return raw


@contextmanager
def collecting_paused() -> Iterator[None]:
    """Looks for no cycles of garbage meanwhile: for work that keeps nearly all that it makes, and makes very much."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def cache_folder() -> Path | None:
    """The user's cache folder for this tool, made if need be; None where it cannot be written.

    Nor is a folder used that others may write to: what is read from it is trusted.
    """
    base = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    folder = Path(base) / "topo"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        status = folder.stat()
        owned = not hasattr(os, "getuid") or (status.st_uid == os.getuid() and not status.st_mode & 0o022)
    except OSError:
        return None
    return folder if owned and os.access(folder, os.W_OK) else None


def lark_parser(grammar: str, start: str, transformer: object = None):
    """A LALR parser of a grammar of the folder `grammar`; its tables are kept in the cache folder (imports lark)."""
    from lark import Lark, __version__

    text = (own_folder("grammar") / f"{grammar}.lark").read_text(encoding="utf-8")
    kept: bool | str = False
    folder = cache_folder()
    if folder is not None:
        import zlib

        mark = zlib.crc32(f"{__version__} {start} {text}".encode())
        kept = str(folder / f"{grammar}-{start}-{mark:08x}.lark")
    return Lark(text, parser="lalr", lexer="contextual", start=start, transformer=transformer, cache=kept)
