"""Ranks forms by how much of their structure they share with one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from topo.comparison.forms import Form, weight

# What two circuits share that are not of one form.
_LESS_THAN_SAME = 0.999


@dataclass(frozen=True)
class Near:
    """A circuit of a collection beside the one that was asked about.

    `likeness` is the shared share of the weighted features, 0 to 1. `shares` are the names of blocks that both have,
    `lacks` those that only the circuit asked about has, `adds` those that only this one has; "2 × NAME" where it
    is several, "1 more NAME" where some are shared.
    """

    file: str
    form: Form
    likeness: float
    shares: tuple[str, ...]
    lacks: tuple[str, ...]
    adds: tuple[str, ...]

    @property
    def same_form(self) -> bool:
        """Whether the two have one and the same form."""
        return self.likeness == 1.0


def rank(asked: Form, collection: Iterable[tuple[str, Form]], most: int | None = None) -> list[Near]:
    """The circuits of a collection, the likest first; of equally like ones in the order of their files.

    Args:
        collection: (file, form) of each circuit.
        most: how many to give, all when None.
    """
    rated = [(likeness(asked, form), file, form) for file, form in collection]
    rated.sort(key=lambda row: (-row[0], row[1]))
    return [_near(asked, file, form, value) for value, file, form in rated[:most]]


def likeness(one: Form, other: Form) -> float:
    """The weighted share of features that two forms have in common, 0 to 1; 0 where neither has any."""
    mine, theirs = one.features, other.features
    if mine == theirs:
        return 1.0 if mine else 0.0
    shared = sum(weight(key) * min(count, mine[key]) for key, count in theirs.items() if key in mine)
    both = sum(weight(key) * count for key, count in mine.items())
    both += sum(weight(key) * count for key, count in theirs.items())
    return min(shared / (both - shared), _LESS_THAN_SAME) if both else 0.0


def _near(asked: Form, file: str, form: Form, value: float) -> Near:
    mine, theirs = _blocks(asked), _blocks(form)
    names = {key: _name(key, asked, form) for key in (*mine, *theirs)}
    shared = {key: min(count, theirs[key]) for key, count in mine.items() if key in theirs}
    return Near(
        file,
        form,
        value,
        _named(shared, names),
        _named({key: count - theirs.get(key, 0) for key, count in mine.items()}, names, shared),
        _named({key: count - mine.get(key, 0) for key, count in theirs.items()}, names, shared),
    )


def _name(key: str, asked: Form, form: Form) -> str:
    """The name of a block: the one that both give it, else what its kin have in common."""
    mine, theirs = asked.blocks.get(key), form.blocks.get(key)
    if mine and theirs and mine[0] != theirs[0]:
        return mine[1]
    found = mine or theirs
    return found[0] if found else ""


def _blocks(form: Form) -> dict[str, int]:
    """The blocks of a form, those that count most first."""
    found = {key: count for key, count in form.features.items() if key in form.blocks}
    return dict(sorted(found.items(), key=lambda row: (-weight(row[0]), row[0])))


def _named(
    counts: Mapping[str, int], names: Mapping[str, str], shared: Mapping[str, int] | None = None
) -> tuple[str, ...]:
    """Names of blocks, with how many there are where it is more than one, or more than those that are shared."""
    said = []
    for key, count in counts.items():
        if count > 0 and shared and key in shared:
            said.append(f"{count} more {names[key]}")
        elif count > 0:
            said.append(names[key] if count == 1 else f"{count} × {names[key]}")
    return tuple(said)
