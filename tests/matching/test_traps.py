"""Each trap of the trade is read right, and so is the look-alike that is one step away from it."""

from __future__ import annotations

import pytest
from more_traps import OTHERS
from traps import AUDIO, Trap, stepped

from topo.matching import library
from topo.netlist import loads
from topo.reading.interpretation import settle

TRAPS = [pytest.param(trap, id=f"{number}: {trap.seen}") for number, trap in sorted((AUDIO | OTHERS).items())]


def check(netlist: str, wanted: str, forbidden: str) -> None:
    """The circuit keeps claims of all that is wanted and of nothing that is forbidden, `slug` or `slug:part`."""
    claims = settle(loads(netlist), library()).claims
    kept = {claim.pattern for claim in claims}
    about = {f"{claim.pattern}:{ref}" for claim in claims for ref in claim.match.claimed}
    assert set(wanted.split()) <= kept, f"kept: {sorted(kept)}"
    assert not set(forbidden.split()) & (kept | about), f"kept: {sorted(kept)}"


@pytest.mark.parametrize("trap", TRAPS)
def test_the_trap_is_read_as_what_it_is(trap: Trap):
    check(trap.netlist, trap.read_as, trap.not_as)


@pytest.mark.parametrize("trap", TRAPS)
def test_one_step_away_it_is_read_as_the_other(trap: Trap):
    check(stepped(trap.netlist, trap.step), trap.then_as, trap.then_not_as)


def test_all_the_traps_are_here():
    assert sorted(AUDIO | OTHERS) == list(range(1, 31))
