"""Tells an element list from a text of the netlist language."""

from __future__ import annotations

import re

_ENDINGS = frozenset((".cir", ".ckt", ".sp", ".elements", ".lst"))
_DOT_LINE = re.compile(
    r"\.(?:end|ends|model|subckt|param|include|inc|lib|ac|dc|tran|op|options?|global|temp|print|plot)\b", re.I
)
_ELEMENT = re.compile(r"[A-Za-z]\S*(?:\s+\S+){2,}")
_PART = re.compile(r"[^\s:]+\s.*:(?:\s|$)|[^\s:]+\s*:\s")
_STATEMENT = re.compile(
    r"(?:circuit|supply|ground|input|output|signal|section|join|device|block|end|temperature|note)\b", re.I
)
# As many lines as say which of the two a text is.
_LOOKED_AT = 400


def is_element_list(text: str, file: str = "") -> bool:
    """Whether a text is an element list: by its file's ending, else by what most of its lines look like."""
    ending = file[file.rfind(".") :].lower() if "." in file else ""
    if ending in _ENDINGS:
        return True
    return _looks_so(text, strongly=ending == ".net" or file.startswith("<"))


def _looks_so(text: str, strongly: bool) -> bool:
    """Whether lines speak for an element list; `strongly` asks for a line that the netlist language cannot have."""
    signs, own, elements = 0, 0.0, 0
    for raw in text[:200_000].splitlines()[:_LOOKED_AT]:
        line = raw.strip().lstrip("\ufeff")
        if not line or line.startswith("#"):
            continue
        if line.startswith("*") or _DOT_LINE.match(line):
            signs += 1
        elif _PART.match(line):
            own += 1
        elif _STATEMENT.match(line):
            own += 0.5
        elif _ELEMENT.fullmatch(line) or line.startswith("+"):
            elements += 1
    if own > signs + elements:
        return False
    return bool(signs) if strongly else bool(signs or elements > 1) and signs + elements > own
