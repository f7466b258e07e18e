"""Where the shipped grammars and patterns lie: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

import topo


def shipped_folder(name: str) -> Path:
    """The folder `name` ("grammar", "patterns"), looked for inside the package and then beside it.

    Raises:
        FileNotFoundError: it is in neither place (a broken installation).
    """
    package = Path(topo.__file__).resolve().parent
    for folder in (package / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"The folder {name!r} of topo is missing: install the package again.")
