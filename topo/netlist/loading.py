"""From a text or a file to a Circuit."""

from __future__ import annotations

import os
from pathlib import Path

from topo.errors import NetlistError, Place, Problem, UsageError
from topo.netlist.circuit import Circuit
from topo.netlist.drafting import Drafter
from topo.netlist.lines import LONGEST_TEXT


def loads(text: str, file: str = "<text>") -> Circuit:
    """The circuit of a netlist's text, or of an element list's; its warnings are in `circuit.warnings`.

    Raises:
        NetlistError: the text has errors; it holds every one of them.
    """
    if len(text) > LONGEST_TEXT:
        raise NetlistError((Problem(Place(file), f"the text has more than {LONGEST_TEXT} characters."),))
    return _circuit(text, file, None)


def _circuit(text: str, file: str, folder: Path | None) -> Circuit:
    """The circuit of a netlist, an element list or JSON; `folder` is where the files that a list includes may lie."""
    from topo.netlist.elements.telling import is_element_list

    if text.lstrip("\ufeff \t\r\n")[:1] == "{":
        from topo.netlist.json_form import from_json

        return from_json(text, file)
    if is_element_list(text, file):
        from topo.netlist.elements import read_elements

        return read_elements(text, file, folder)
    return Drafter(text, file).circuit()


def load(path: str | os.PathLike[str]) -> Circuit:
    """The circuit of a netlist's file (UTF-8), or of an element list's, with the files that it includes.

    Raises:
        NetlistError: the file has errors; it holds every one of them.
        UsageError: there is no such file, or it cannot be read.
    """
    file = Path(path)
    try:
        if file.stat().st_size > 4 * LONGEST_TEXT:
            raise NetlistError((Problem(Place(str(path)), "the file is too large."),))
        raw = file.read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: {(error.strerror or 'cannot be read').lower()}.") from None
    if len(raw) > LONGEST_TEXT:
        raise NetlistError((Problem(Place(str(path)), f"the text has more than {LONGEST_TEXT} characters."),))
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        text = _old_text(raw, str(path))
        if not text:
            line = raw.count(b"\n", 0, error.start) + 1
            column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
            message = "this is not UTF-8 text."
            raise NetlistError(
                (Problem(Place(str(path), line, column), message, "a text file in UTF-8", code="encoding"),)
            ) from None
    return _circuit(text, str(path), file.parent)


def _old_text(raw: bytes, file: str) -> str:
    """The text of an element list in an older encoding, which such lists may have; "" if it is no such list."""
    from topo.netlist.elements import is_element_list
    from topo.netlist.elements.files import decoded

    text = decoded(raw)
    return text if is_element_list(text, file) else ""
