from __future__ import annotations

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import topo
from topo.comparison.forms import Form, form_from_plain, form_of
from topo.comparison.ranking import likeness, rank

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "properties"))

from variations import can_turn_over, renamed, reordered, turned_over, with_rail_capacitor  # noqa: E402

NAMES = sorted(path.stem for path in (ROOT / "samples").glob("*.net"))
few = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@cache
def sample(name):
    return topo.load(ROOT / "samples" / f"{name}.net")


@cache
def form(name):
    return form_of(topo.read(sample(name)))


def features_of(variant):
    return form_of(topo.read(variant.circuit)).features


@few
@given(st.sampled_from(NAMES), st.integers(0, 10_000))
def test_names_are_none_of_a_form(name, seed):
    assert features_of(renamed(sample(name), seed)) == form(name).features


@few
@given(st.sampled_from(NAMES), st.integers(0, 10_000))
def test_the_order_of_lines_is_none_of_a_form(name, seed):
    assert features_of(reordered(sample(name), seed)) == form(name).features


@pytest.mark.parametrize("name", [name for name in NAMES if can_turn_over(sample(name))])
def test_polarity_is_none_of_a_form(name):
    assert likeness(form(name), form_of(topo.read(turned_over(sample(name)).circuit))) > 0.95


@pytest.mark.parametrize("name", NAMES)
def test_a_capacitor_across_a_rail_is_none_of_a_form(name):
    assert features_of(with_rail_capacitor(sample(name), 0)) == form(name).features


def test_a_form_comes_back_from_plain_values():
    assert form_from_plain(form("intercom").as_plain()).features == form("intercom").features


@pytest.mark.parametrize(
    "plain",
    [None, 7, "text", [], {}, ["a", "b", 1, {}], ["a", "b", 1, {"x": "y"}, {}], ["a", "b", 1, {"x": 1}, {"x": "y"}]],
)
def test_what_is_no_form_gives_none(plain):
    assert form_from_plain(plain) is None


def test_a_circuit_is_wholly_like_itself_alone():
    for name in NAMES:
        for other in NAMES:
            assert (likeness(form(name), form(other)) == 1.0) == (name == other)


def test_likeness_is_the_same_from_either_side():
    for name in NAMES:
        for other in NAMES:
            assert likeness(form(name), form(other)) == pytest.approx(likeness(form(other), form(name)))


def test_circuits_without_any_block_are_not_called_alike():
    nothing = Form("Nothing", "", 1)

    assert likeness(nothing, nothing) == 0.0


def test_the_two_builds_of_one_amplifier_are_nearest_to_each_other():
    others = [(name, form(name)) for name in NAMES if name != "gate-speaker-class-b"]

    assert rank(form("gate-speaker-class-b"), others, 1)[0].file == "gate-speaker-class-ab"


def test_the_nearest_says_what_is_shared_and_what_differs():
    near = rank(form("gate-speaker-class-b"), [("ab", form("gate-speaker-class-ab"))])[0]

    assert "voltage-amplifier driver" in near.shares
    assert near.adds == ("diode spreader",)
    assert near.lacks == ()


def test_equally_like_circuits_come_in_the_order_of_their_files():
    same = form("intercom")

    assert [near.file for near in rank(same, [("b", same), ("a", same), ("c", same)])] == ["a", "b", "c"]


@pytest.mark.parametrize("name", [name for name in NAMES if can_turn_over(sample(name))])
def test_a_copy_renamed_shuffled_turned_over_and_revalued_is_nearest_of_all(name):
    copy = reordered(turned_over(renamed(revalued(sample(name)), 7).circuit).circuit, 7)

    others = [(other, form(other)) for other in NAMES if other != name]
    first = rank(form(name), [*others, ("copy", form_of(topo.read(copy.circuit)))])[0]

    assert first.file == "copy"
    assert first.same_form


def revalued(circuit):
    """All resistances a tenth larger and all capacitances a tenth smaller: the same corners."""
    factors = {"resistor": 1.1, "capacitor": 1 / 1.1}
    parts = [
        replace(part, value=float(f"{part.value * factors[part.kind]:.4g}"), value_text="")
        if part.kind in factors and part.value is not None
        else part
        for part in circuit.parts
    ]
    return replace(circuit, parts=tuple(parts))
