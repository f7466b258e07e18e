"""Lists in nasty dialects (`lists/NAME.cir`), each beside the circuit that it is, typed in the netlist language.

Comments at the top of `NAME.net` say what is told of the list: `# errors:` and `# warns:` as line and code of every
problem of that severity, `# notes:` as the codes of its notes.
"""

import re
from pathlib import Path

import pytest

import topo
from topo.analysis.exchanged import set_right
from topo.errors import NetlistError

LISTS = Path(__file__).parent / "lists"
NAMES = sorted(path.stem for path in LISTS.glob("*.cir"))


def said(name, what):
    """What a circuit's comments expect, as a list of words; None where they do not say."""
    text = (LISTS / f"{name}.net").read_text(encoding="utf-8")
    found = re.search(rf"^# {what}:(.*)$", text, re.MULTILINE)
    return (
        None
        if found is None
        else [item.strip() for item in re.split(r"[,\s]+" if what == "notes" else ",", found[1]) if item.strip()]
    )


def told(problems, severity):
    return [f"{problem.place.line} {problem.code}" for problem in problems if problem.severity == severity]


def expected(name):
    return topo.load(LISTS / f"{name}.net")


def nets(circuit):
    """Each net as the set of what is on it, whatever it is called, with those of ports and supplies."""
    on: dict[str, list[str]] = {circuit.ground: ["ground"]}
    for part in circuit.parts:
        for terminal in part.terminals:
            on.setdefault(terminal.net, []).append(f"{part.ref}.{terminal.name}".casefold())
    return {net: tuple(sorted(row)) for net, row in on.items()}


def described(part):
    """What must be alike of a part: kind, value, windings, state."""
    turns = tuple(tuple(turn / part.windings[0].turns[0] for turn in winding.turns) for winding in part.windings)
    return (
        part.ref.casefold(),
        part.kind,
        tuple(tuple(round(turn, 3) for turn in row) for row in turns),
        part.settings.get("state"),
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_list_is_the_circuit_that_stands_beside_it(name):
    if said(name, "errors"):
        pytest.skip("it is no circuit")
    found, wanted = set_right(topo.load(LISTS / f"{name}.cir")), expected(name)
    here, there = nets(found), nets(wanted)

    assert [described(part) for part in found.parts] == [described(part) for part in wanted.parts]
    assert sorted(here.values()) == sorted(there.values())
    for part in wanted.parts:
        read = found.part(part.ref)
        assert read.value == (None if part.value is None else pytest.approx(part.value, rel=1e-3)), part.ref
        assert dict(read.params) == {key: pytest.approx(value, rel=1e-3) for key, value in part.params.items()}, (
            part.ref
        )
        assert bool(read.settings.get("germanium")) == bool(part.settings.get("germanium")), part.ref
    assert sorted((here[s.net], s.volts) for s in found.supplies) == sorted(
        (there[s.net], s.volts) for s in wanted.supplies
    )
    for ports in ("inputs", "outputs"):
        pairs = [
            [(table[p.net], table[p.reference]) for p in getattr(circuit, ports)]
            for circuit, table in ((found, here), (wanted, there))
        ]
        assert pairs[0] == pairs[1], ports


@pytest.mark.parametrize("name", NAMES)
def test_what_is_told_of_a_list_is_what_is_expected(name):
    errors = said(name, "errors")
    if errors:
        with pytest.raises(NetlistError) as caught:
            topo.load(LISTS / f"{name}.cir")
        assert told(caught.value.problems, "error") == errors
        return
    problems = set_right(topo.load(LISTS / f"{name}.cir")).warnings
    wanted = said(name, "warns")

    if wanted is not None:
        assert sorted(told(problems, "warning")) == sorted(wanted)
    notes = said(name, "notes")
    if notes is not None:
        assert {problem.code for problem in problems if problem.severity == "note"} == set(notes)
