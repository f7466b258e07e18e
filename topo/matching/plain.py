"""Patterns and texts as plain JSON values, and back; for the cache of compiled patterns."""

from __future__ import annotations

from typing import Any

from topo.matching.pattern import (
    Component,
    Condition,
    Exclusion,
    Figure,
    Join,
    Link,
    Net,
    Pattern,
    ReadingRule,
    Role,
    Shape,
    Spot,
)
from topo.matching.schema_texts import Texts


def to_plain(pattern: Pattern) -> list[Any]:
    """A pattern as nested lists; tuples of names become lists by themselves in JSON."""
    return list(pattern)


def from_plain(plain: list[Any]) -> Pattern:
    """The pattern that `to_plain` was given, after a trip through JSON.

    Raises:
        ValueError, TypeError, IndexError, KeyError, AttributeError: it is not such a value.
    """
    row = dict(zip(Pattern._fields, plain, strict=True))
    if not isinstance(row["slug"], str) or not isinstance(row["names"], dict):
        raise ValueError("not a pattern")
    claim, rank, stage, sort, supposes, restless, section, converts, hands_on = row["reading"]
    supposed = tuple((role, tuple(slugs)) for role, slugs in supposes)
    row["reading"] = ReadingRule(
        claim, rank, tuple(stage), sort, supposed, restless, section, tuple(converts), tuple(hands_on)
    )
    row["also"] = tuple(row["also"])
    row["shapes"] = tuple(_shape(shape) for shape in row["shapes"])
    row["symmetry"] = tuple(tuple(names) for names in row["symmetry"])
    row["made_of"] = tuple(Component(name, tuple(slugs), optional) for name, slugs, optional in row["made_of"])
    row["where"] = _conditions(row["where"])
    row["figures"] = tuple(
        Figure(name, tree, unit, text, tuple(names)) for name, tree, unit, text, names in row["figures"]
    )
    row["cautions"] = tuple(row["cautions"])
    row["coincide"] = tuple((one, other) for one, other in row["coincide"])
    row["distinct"] = tuple((one, other) for one, other in row["distinct"])
    return Pattern(**row)


def _shape(plain: list[Any]) -> Shape:
    variant, roles, nets, joins, where, exclusions = plain
    return Shape(
        variant,
        _roles(roles),
        tuple(Net(*net) for net in nets),
        _joins(joins),
        _conditions(where),
        tuple(
            Exclusion(
                words, _roles(own), tuple(Net(*net) for net in own_nets), _joins(own_joins), _conditions(own_where)
            )
            for words, own, own_nets, own_joins, own_where in exclusions
        ),
    )


def _roles(plain: list[Any]) -> tuple[Role, ...]:
    return tuple(Role(name, tuple(kinds), *rest) for name, kinds, *rest in plain)


def _joins(plain: list[Any]) -> tuple[Join, ...]:
    return tuple(
        Join(view, text, tuple(Spot(*spot) for spot in spots), tuple(Link(*link) for link in links), line)
        for view, text, spots, links, line in plain
    )


def _conditions(plain: list[Any]) -> tuple[Condition, ...]:
    return tuple(Condition(text, tree, tuple(names)) for text, tree, names in plain)


def texts_to_plain(texts: Texts) -> list[Any]:
    """The texts of a pattern as nested lists and maps."""
    return [texts.block, texts.roles, texts.check, texts.cautions, texts.near_miss, texts.omit]


def texts_from_plain(plain: list[Any]) -> Texts:
    """The texts that `texts_to_plain` was given."""
    block, roles, check, cautions, near_miss, omit = plain
    if not isinstance(block, dict) or not isinstance(roles, dict):
        raise ValueError("not texts")
    return Texts(block, roles, check, cautions, near_miss, omit)
