"""Makes verbs agree with a subject of several parts: "C1 holds its charge", "C1 and C2 hold their charge"."""

from __future__ import annotations

import re

# After one of these, or at the beginning of a clause, a designator is the subject of the verb behind it.
_BEFORE_A_SUBJECT = re.compile(
    r"(?:^|[.:;,]|\b(?:that|if|when|while|so|and|or|then|what|which|whatever|as|because))\s*$", re.IGNORECASE
)
# "Between A and B is ..." has another subject.
_NO_SUBJECT = re.compile(r"\bbetween\b[^.:;]*\band\s*$", re.IGNORECASE)
_VERB = re.compile(r"^ (?P<verb>[a-z]+s)\b(?P<its> its\b)?")
_FURTHER = re.compile(r"\b(?P<join>and|but|or) (?P<verb>[a-z]+s)\b(?P<its> its\b)?")
_IRREGULAR = {"is": "are", "has": "have", "was": "were", "does": "do", "goes": "go"}
_NO_VERB = re.compile(r"as|its|this|thus|across|\w+wards|always|perhaps|plus|minus|less")
# What a second verb of one subject may be: others behind "and" are mostly nouns in the plural.
_SECOND_VERB = re.compile(
    "acts|adds|amplifies|brings|carries|charges|conducts|drains|draws|drives|drops|feeds|fills|gives|goes|hands|has|"
    "holds|is|keeps|leads|lends|lets|makes|passes|picks|pulls|puts|rectifies|sends|sets|stands|steadies|takes|turns|"
    "works"
)
_CLAUSE = re.compile(r"[.:;]|, and\b")


def is_subject(before: str) -> bool:
    """Whether designators behind these words are the subject of what follows.

    >>> is_subject(""), is_subject("Hum means that "), is_subject("the current of ")
    (True, True, False)
    """
    return _BEFORE_A_SUBJECT.search(before) is not None and _NO_SUBJECT.search(before) is None


class Agreement:
    """The verbs of one text, told piece by piece: `subject` for designators, `words` for what stands between them.

    >>> text = Agreement()
    >>> text.subject("", several=True), text.words(" holds its charge, keeps "), text.words(" and is full; it goes on")
    (None, ' hold their charge, keeps ', ' and are full; it goes on')
    """

    def __init__(self) -> None:
        self._first = self._further = False

    def subject(self, before: str, several: bool) -> None:
        """Designators come, behind these words."""
        found = is_subject(before)
        self._first = found and several
        if found:
            self._further = False

    def words(self, text: str) -> str:
        """The words that come next, their verbs in the plural where the subject is several parts."""
        if self._first:
            found = _VERB.match(text)
            if found is not None and not _NO_VERB.fullmatch(found["verb"]):
                text = f" {_plural(found['verb'])}{' their' if found['its'] else ''}{text[found.end() :]}"
                self._further = True
        self._first = False
        if not self._further:
            return text
        end = _CLAUSE.search(text)
        if end is None:
            return _FURTHER.sub(_further, text)
        self._further = False
        return _FURTHER.sub(_further, text[: end.start()]) + text[end.start() :]


def _further(found: re.Match[str]) -> str:
    if _SECOND_VERB.fullmatch(found["verb"]) is None:
        return found[0]
    return f"{found['join']} {_plural(found['verb'])}{' their' if found['its'] else ''}"


def _plural(verb: str) -> str:
    """The form for several of a verb in the third person.

    >>> [_plural(verb) for verb in ("is", "carries", "passes", "reaches", "does", "holds", "lies", "gives")]
    ['are', 'carry', 'pass', 'reach', 'do', 'hold', 'lie', 'give']
    """
    if verb in _IRREGULAR:
        return _IRREGULAR[verb]
    if verb.endswith("ies") and len(verb) > 4:
        return f"{verb[:-3]}y"
    return verb[:-2] if verb.endswith(("sses", "ches", "shes", "xes")) else verb[:-1]
