"""The table of kinds."""

from __future__ import annotations

import doctest

import pytest

from topo.netlist import kinds
from topo.netlist.kinds import (
    ELECTRODES,
    GROUPS,
    KIND_OF_WORD,
    KINDS,
    LETTERS,
    implied_kinds,
    kind_word,
    letters_of,
    terminal_word,
)


def test_the_examples_of_the_table_hold():
    assert doctest.testmod(kinds).failed == 0


def test_every_word_is_of_one_kind():
    words = [word for kind in KINDS for word in kind.words]

    assert len(words) == len(set(words)) == len(KIND_OF_WORD)


def test_letters_and_groups_name_kinds_of_the_table():
    names = {kind.name for kind in KINDS}

    assert {kind for kind in LETTERS.values() if kind} <= names
    assert set().union(*GROUPS.values()) <= names


def test_every_amplifying_device_has_its_three_electrodes():
    assert set(ELECTRODES) == GROUPS["amplifying"]
    for name, electrodes in ELECTRODES.items():
        assert set(electrodes) <= set(KIND_OF_WORD[name].must_have)


@pytest.mark.parametrize(
    ("ref", "letters", "implied"),
    [
        ("LP1", "LP", ("lamp",)),
        ("L1", "L", ("inductor",)),
        ("A1.Q3", "Q", ("npn", "pnp", "njfet", "pjfet", "nmos", "pmos")),
        ("r12", "R", ("resistor",)),
        ("C_in", "C", ("capacitor",)),
        ("V1a", "V", ("triode", "tetrode", "pentode")),
        ("X1", "X", ()),
        ("7", "", ()),
        ("Ω1", "", ()),
    ],
)
def test_the_longest_letters_of_a_designator_win(ref, letters, implied):
    assert letters_of(ref) == letters
    assert implied_kinds(ref) == implied


def test_kinds_are_said_in_the_words_of_the_trade():
    assert kind_word("njfet") == "n-channel JFET"
    assert kind_word("speaker") == "loudspeaker"
    assert kind_word("resistor", 2) == "resistors"
    assert kind_word("switch", 2) == "switches"


def test_terminals_are_said_in_the_words_of_the_trade():
    assert terminal_word("pentode", "g2") == "screen grid"
    assert terminal_word("nmos", "b") == "substrate"
    assert terminal_word("nmos", "s") == "source"
    assert terminal_word("zener", "k") == "cathode"
    assert terminal_word("potentiometer", "w") == "wiper"
