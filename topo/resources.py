"""Where the package's own files are: grammars and patterns, inside an installed package or beside it; and the cache."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path


@cache
def own_folder(name: str) -> Path:
    """The folder `grammar` or `patterns`: inside the package where it is installed, beside it in a checkout."""
    package = Path(__file__).resolve().parent
    inside = package / name
    return inside if inside.is_dir() else package.parent / name


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
