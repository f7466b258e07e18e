"""From a text or a file to a Circuit."""

from __future__ import annotations

import os
from errno import EFBIG
from pathlib import Path
from typing import BinaryIO

from topo.errors import NetlistError, Place, Problem, UsageError
from topo.netlist.circuit import Circuit
from topo.netlist.drafting import Drafter
from topo.netlist.lines import LONGEST_TEXT, MOST_LINES
from topo.resources import collecting_paused, contents


def loads(text: str, file: str = "<text>") -> Circuit:
    """The circuit of a netlist's text, or of an element list's; its warnings are in `circuit.warnings`.

    Raises:
        NetlistError: the text has errors; it holds every one of them.
    """
    if len(text) > LONGEST_TEXT:
        raise _too_long(file)
    return _circuit(text, file, None)


def _circuit(text: str, file: str, folder: Path | None) -> Circuit:
    """The circuit of a netlist, an element list or JSON; `folder` is where the files that a list includes may lie."""
    from topo.netlist.elements.telling import is_element_list

    if text.lstrip("\ufeff \t\r\n")[:1] == "{":
        from topo.netlist.json_form import from_json

        return from_json(text, file)
    if text.count("\n") + text.count("\r") > 2 * MOST_LINES or len(text.splitlines()) > MOST_LINES:
        raise NetlistError((Problem(Place(file), f"the text has more than {MOST_LINES} lines.", code="too-long"),))
    if is_element_list(text, file):
        from topo.netlist.elements import read_elements

        return read_elements(text, file, folder)
    with collecting_paused():
        return Drafter(text, file).circuit()


def load(path: str | os.PathLike[str]) -> Circuit:
    """The circuit of a netlist's file (UTF-8), or of an element list's, with the files that it includes.

    Raises:
        NetlistError: the file has errors; it holds every one of them.
        UsageError: there is no such file, or it cannot be read.
    """
    file = Path(path)
    try:
        raw = contents(path, LONGEST_TEXT)
    except OSError as error:
        if error.errno == EFBIG:
            raise _too_long(str(path)) from None
        raise UsageError(f"{path}: {(error.strerror or 'cannot be read').lower()}.") from None
    except ValueError:
        raise UsageError(f"{str(path)!a} can be no file's name.") from None
    return _circuit(_decoded(raw, str(path)), str(path), file.parent)


def load_stream(stream: BinaryIO, file: str) -> Circuit:
    """The circuit of what a stream gives, such as standard input; as `load`, without files that a list includes."""
    raw = stream.read(LONGEST_TEXT + 1)
    if len(raw) > LONGEST_TEXT:
        raise _too_long(file)
    return _circuit(_decoded(raw, file), file, None)


def _too_long(file: str) -> NetlistError:
    return NetlistError((Problem(Place(file), f"the text has more than {LONGEST_TEXT} characters.", code="too-long"),))


def _decoded(raw: bytes, file: str) -> str:
    """The text of a file in UTF-8, or of an element list in an older encoding."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        text = _old_text(raw, file)
        if not text:
            line = raw.count(b"\n", 0, error.start) + 1
            column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
            wide = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
            message = f"this is {'UTF-16, not UTF-8 text' if wide else 'not UTF-8 text'}."
            place = Place(file, line, column)
            raise NetlistError((Problem(place, message, "a text file in UTF-8", code="encoding"),)) from None
        return text


def _old_text(raw: bytes, file: str) -> str:
    """The text of an element list in an older encoding, which such lists may have; "" if it is no such list."""
    from topo.netlist.elements import is_element_list
    from topo.netlist.elements.files import decoded

    text = decoded(raw)
    return text if is_element_list(text, file) else ""
