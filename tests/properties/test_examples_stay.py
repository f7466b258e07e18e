"""The plain example of every pattern keeps its claims under other names, order, polarity, and split parts."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from variations import (
    Variant,
    can_turn_over,
    renamed,
    reordered,
    split_in_parallel,
    split_in_series,
    turned_over,
)

from topo.matching import library
from topo.netlist import loads
from topo.reading.interpretation import settle

LIBRARY = library()
SLUGS = [pattern.slug for pattern in LIBRARY.patterns]
once = settings(max_examples=1, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@cache
def plain(slug):
    """The first example of a pattern that is one."""
    return loads(next(example.netlist for example in LIBRARY.examples(slug) if example.matches))


def kept(circuit, variant: Variant | None = None) -> set[tuple[str, frozenset[str]]]:
    """What is kept with which parts in its own roles; leftovers, which may be grouped otherwise, aside."""
    original = variant.original if variant else {}
    found = set()
    for claim in settle(circuit, LIBRARY).claims:
        if claim.kind != "leftover":
            refs = {ref for role in own_roles(claim.match) for ref in claim.match.roles[role]}
            found.add((claim.pattern, frozenset(original.get(ref, ref) for ref in refs)))
    return found


def own_roles(match, prefix: str = "") -> list[str]:
    """Bound roles that are no witnesses, for of several that would do as a witness any may be named."""
    if match.components:
        return [name for key, part in match.components.items() for name in own_roles(part, f"{prefix}{key}.")]
    roles = {role.name: role for shape in LIBRARY.get(match.pattern).shapes for role in shape.roles}
    return [f"{prefix}{name}" for name in match.roles if not roles[name].witness]


@cache
def kept_plain(slug):
    return kept(plain(slug))


def check(slug: str, variant: Variant) -> None:
    assert kept(variant.circuit, variant) == kept_plain(slug)


# Of two emitter resistors that lead to one output either may be named as the one that isolates it.
EITHER = {"bridge-output", "bridge-amplifier"}


@pytest.mark.parametrize("slug", [slug for slug in SLUGS if slug not in EITHER])
@once
@given(st.integers(0, 10_000))
def test_names_and_order_do_not_matter(slug, seed):
    other = renamed(plain(slug), seed)
    check(slug, Variant(reordered(other.circuit, seed).circuit, other.original))


@pytest.mark.parametrize("slug", SLUGS)
def test_polarity_does_not_matter(slug):
    if not can_turn_over(plain(slug)):
        pytest.skip("has parts of one polarity only")
    check(slug, turned_over(plain(slug)))


@pytest.mark.parametrize("slug", SLUGS)
@once
@given(st.data())
def test_a_resistor_in_two_parts_reads_as_one(slug, data):
    refs = [part.ref for part in plain(slug).parts if part.kind == "resistor"]
    if refs:
        split = data.draw(st.sampled_from([split_in_series, split_in_parallel]))
        check(slug, split(plain(slug), data.draw(st.sampled_from(refs))))
