"""Writes result files: all of them, or none."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from errno import EISDIR
from pathlib import Path


def write_files(texts: Mapping[str | Path, str | bytes]) -> None:
    """Write each text, or bytes, to its path; the folders are made where they are missing.

    Every file is written beside its place first and then moved there, so that a file is never half
    written, and an error before the last one is written leaves no file changed. A link stays a link; a device or a
    pipe, such as /dev/stdout, is written to.

    Raises:
        OSError: a folder or file cannot be written.
    """
    waiting: list[tuple[str, Path]] = []
    streams: list[tuple[Path, str | bytes]] = []
    try:
        for name, text in texts.items():
            path = Path(name)
            if path.is_dir():
                raise IsADirectoryError(EISDIR, "there is a folder of that name", str(path))
            if path.exists() and not path.is_file():
                streams.append((path, text))
                continue
            path = Path(os.path.realpath(path))
            path.parent.mkdir(parents=True, exist_ok=True)
            number, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
            waiting.append((beside, path))
            with os.fdopen(number, "wb") as stream:
                stream.write(_bytes(text))
            os.chmod(beside, 0o666 & ~_mask())
        while waiting:
            beside, path = waiting[0]
            os.replace(beside, path)
            waiting.pop(0)
        for path, text in streams:
            path.write_bytes(_bytes(text))
    finally:
        for beside, _ in waiting:
            Path(beside).unlink(missing_ok=True)


def _bytes(text: str | bytes) -> bytes:
    return text if isinstance(text, bytes) else text.encode("utf-8")


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
