"""The forms of conditions: two conditions of one form are true of the same things, whatever their roles are called.

Patterns ask much the same of their parts, so that what one of them was told serves the others.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from topo.matching.pattern import Tree

# So many forms are kept: more than a few libraries have.
KEPT = 20_000


class Form:
    """A form, known by its identity. `trees` keeps what it was made of where its identity tells it."""

    __slots__ = ("trees",)

    def __init__(self, *trees: Tree) -> None:
        self.trees = trees


_kept: dict[tuple, Form] = {}


def form_of(tree: Tree, names: Sequence[str], roles: Collection[str], figures: Collection[str]) -> Form:
    """The form of a condition that speaks of some names in this order, roles or nets.

    A condition that uses one of its pattern's `figures`, or has a role called like a constant, is of a form of its own.
    """
    told: tuple = ("tree", id(tree))
    if "band" not in names and not _words(tree) & set(figures):
        places = {name: f"{'role' if name in roles else 'net'} {place}" for place, name in enumerate(names)}
        told = (_renamed(tree, places), len(names))
    found = _kept.get(told)
    if found is None:
        if len(_kept) >= KEPT:
            _kept.clear()
        found = _kept[told] = Form(tree)
    return found


def _words(tree: Tree) -> set[str]:
    """The names and quoted words of a tree."""
    if tree[0] in ("name", "text"):
        return {tree[1]}
    return set().union(*(_words(part) for part in tree if isinstance(part, list)))


def _renamed(tree: Tree, places: dict[str, str]) -> tuple:
    """A tree as tuples, with names by their places; quoted words stay as they are."""
    if tree[0] == "name":
        return ("name", places.get(tree[1], f"constant {tree[1]}"), *tree[2:])
    return tuple([_renamed(part, places) if isinstance(part, list) else part for part in tree])
