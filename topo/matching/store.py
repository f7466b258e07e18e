"""A small store of JSON values in the user's cache folder. Whatever is wrong with it, it only costs time.

A file's first line is the checksum of what follows, so that one that was damaged or cut off is made again.
"""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

from topo.resources import cache_folder, contents

LARGEST_FILE = 30_000_000
KEPT_FILES = 16


def read_store(name: str) -> Any | None:
    """The value kept under a name, None where there is none or it cannot be read."""
    try:
        folder = cache_folder()
        if folder is None:
            return None
        said, _, raw = contents(folder / f"{name}.json", LARGEST_FILE).partition(b"\n")
        return json.loads(raw) if said == checksum(raw) else None
    except (OSError, ValueError, RecursionError, RuntimeError):
        return None


def write_store(name: str, value: Any) -> None:
    """Keeps a value under a name, at once or not at all; older ones of the same sort are dropped in time."""
    try:
        folder = cache_folder()
        if folder is None:
            return
        handle, temporary = tempfile.mkstemp(dir=folder, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                raw = json.dumps(value, separators=(",", ":"), ensure_ascii=False).encode()
                file.write(checksum(raw) + b"\n" + raw)
            os.replace(temporary, folder / f"{name}.json")
        except BaseException:
            os.unlink(temporary)
            raise
        _drop_old(folder, name.partition("-")[0])
    except (OSError, ValueError, RuntimeError):
        return


def checksum(raw: bytes) -> bytes:
    """The checksum of some bytes, in hexadecimal figures."""
    from hashlib import blake2b

    return blake2b(raw, digest_size=16).hexdigest().encode()


def _drop_old(folder: Path, sort: str) -> None:
    files = sorted(folder.glob(f"{sort}-*.json"), key=lambda file: file.stat().st_mtime, reverse=True)
    for file in files[KEPT_FILES:]:
        file.unlink()
