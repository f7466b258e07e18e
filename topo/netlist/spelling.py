"""Names that are nearly the same: what a slip of the hand makes of one name."""

from __future__ import annotations

from collections.abc import Iterable

# Beyond this many characters a name is not compared: nobody types it by hand.
LONGEST_COMPARED = 40


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """The known name most like a word, "" if none is like it."""
    from difflib import get_close_matches

    by_folded = {name.casefold(): name for name in known}
    found = get_close_matches(word.casefold(), list(by_folded), 1, cutoff)
    return by_folded[found[0]] if found else ""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`Did you mean ...?` with the nearest name, or ""."""
    name = nearest(word, known)
    return f"Did you mean {name}?" if name else ""


class NearNames:
    """Finds the names that one slip parts from another: a letter more, fewer, other, or two exchanged.

    A name that differs in the value of one digit alone is not near: `n1` and `n2` are meant to differ.
    """

    def __init__(self, names: Iterable[str]) -> None:
        self._by_part: dict[str, list[str]] = {}
        for name in names:
            for part in _with_one_gone(name.casefold()):
                self._by_part.setdefault(part, []).append(name)

    def near(self, name: str) -> tuple[str, ...]:
        """The near names in the order in which they were given."""
        folded = name.casefold()
        found: dict[str, None] = {}
        for part in _with_one_gone(folded):
            for other in self._by_part.get(part, ()):
                if other.casefold() != folded and _one_slip(folded, other.casefold()):
                    found[other] = None
        return tuple(found)


def _with_one_gone(name: str) -> tuple[str, ...]:
    """The name, and the name with each of its characters left out."""
    if len(name) > LONGEST_COMPARED:
        return ()
    return (name, *dict.fromkeys(name[:at] + name[at + 1 :] for at in range(len(name))))


def _one_slip(one: str, two: str) -> bool:
    """Whether one slip of the hand makes one name of the other."""
    if len(one) > len(two):
        one, two = two, one
    at = next((place for place, (a, b) in enumerate(zip(one, two, strict=False)) if a != b), len(one))
    if len(one) < len(two):
        return len(one) >= 2 and one[at:] == two[at + 1 :]
    if one[at + 1 :] == two[at + 1 :]:
        return len(one) >= 3 and not (one[at].isdigit() and two[at].isdigit())
    exchanged = one[at : at + 2] == two[at : at + 2][::-1] and one[at + 2 :] == two[at + 2 :]
    return exchanged and not one[at : at + 2].isdigit()
