"""Placeholders of texts: `{role}`, `{net}`, `{figure}`, `{is role}`, `{expression}`, read once into segments.

A segment is `["text", words]`, `["role", name]`, `["word", role]`, `["net", name]`, `["figure", name]` or
`["value", tree, unit]`. In a composite a role is `component.role`.
"""

from __future__ import annotations

import re
from typing import Any

from topo.errors import Place
from topo.matching.checking import Checker
from topo.matching.schema_texts import Segments
from topo.matching.vocabulary import Vocabulary

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


def read_placeholders(text: str, place: Place, vocabulary: Vocabulary, checker: Checker) -> Segments:
    """The segments of a text; placeholders that mean nothing are noted."""
    found: Segments = []
    end = 0
    for hit in _PLACEHOLDER.finditer(text):
        if hit.start() > end:
            found.append(["text", text[end : hit.start()]])
        end = hit.end()
        where = Place(place.file, place.line, place.column + hit.start() if "\n" not in text else place.column)
        segment = _segment(hit[1].strip(), where, vocabulary, checker)
        if segment is not None:
            found.append(segment)
    if end < len(text):
        found.append(["text", text[end:]])
    rest = _PLACEHOLDER.sub("", text)
    if "{" in rest or "}" in rest:
        checker.complain(place, "A brace in the text has no partner.", expected="`{role}`, `{net}`, `{figure}`")
    return found


def _segment(word: str, place: Place, vocabulary: Vocabulary, checker: Checker) -> list[Any] | None:
    if word.startswith("is ") and vocabulary.is_role(word[3:].strip()):
        return ["word", word[3:].strip()]
    if vocabulary.is_role(word):
        return ["role", word]
    if word in vocabulary.figures:
        return ["figure", word]
    if word in vocabulary.nets:
        return ["net", word]
    if not re.search(r"[(*/+]|\.|^-?[0-9]|'", word):
        names = [*vocabulary.roles, *vocabulary.nets, *vocabulary.figures]
        expected = "a role, a net, a figure of this pattern, `is role` or an expression"
        checker.unknown(place, "placeholder", word, names, expected=expected)
        return None
    tree = vocabulary.expression(word, place, checker)
    if tree is None:
        return None
    unit = vocabulary.unit(tree, word, place, checker)
    return ["value", tree, "" if unit is None else unit]
