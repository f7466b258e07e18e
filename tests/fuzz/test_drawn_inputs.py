"""Inputs drawn from the languages' own words by hypothesis: as many as FUZZ_EXAMPLES says, the same in every run of CI.

Beside the stream of mutations, which damages sound files, these are made from nothing: lines of every kind of part and
statement with odd values and names, in both forms, and text of any signs. What fails is made smaller by hypothesis.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import topo
from tests.fuzz.mutating import NAMES, NUMBERS, WORDS
from tests.fuzz.oracle import check_circuit, check_command, check_round_trip
from topo.errors import TopoError
from topo.netlist.elements import write_elements
from topo.netlist.kinds import KIND_OF_WORD

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "60"))
drawn = settings(
    max_examples=EXAMPLES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)

nets = st.sampled_from(("vcc", "gnd", "a", "b", "c", "d", "in", "out"))
odd = st.sampled_from((*NUMBERS, *(name for name in NAMES if len(name) < 1_000), *WORDS))
values = st.one_of(
    st.sampled_from(("1k", "4k7", "100n", "10u", "1mH", "5V", "2mA", "1:1", "3:1+1", "?")),
    st.builds(lambda figure, letter: f"{figure:g}{letter}", st.floats(0, 1e6), st.sampled_from(("", *"pnumkMGRVAHF"))),
    odd,
)
refs = st.builds(lambda letters, number: f"{letters}{number}", st.sampled_from("RCLDQVTKXB"), st.integers(0, 9))


def lines(*shapes):
    """A text of lines of some shapes."""
    return st.lists(st.one_of(*shapes), min_size=1, max_size=12).map(lambda rows: "\n".join(rows) + "\n")


def words(*strategies):
    """Words of a line."""
    return st.tuples(*strategies).map(" ".join)


some_nets = st.lists(st.one_of(nets, nets, odd), min_size=1, max_size=5).map(" ".join)
named_nets = st.lists(
    st.tuples(st.sampled_from((*"bcegdsak12w", "in+", "in-", "out")), nets).map("=".join), min_size=1, max_size=4
).map(" ".join)
netlists = lines(
    words(refs, st.one_of(values, st.sampled_from(sorted(KIND_OF_WORD))), values, st.just(":"), some_nets),
    words(refs, st.sampled_from(sorted(KIND_OF_WORD)), st.just(":"), st.one_of(some_nets, named_nets)),
    words(refs, values, st.just(":"), nets, nets),
    words(st.sampled_from(("supply", "input", "output", "signal", "join", "ground", "device")), some_nets, values),
)
lists = lines(
    words(refs, nets, nets, values),
    words(refs, nets, nets, nets, st.sampled_from(("N", "P", "2N2222", "box")), st.sampled_from(("", "m=2", "area=3"))),
    words(refs, nets, nets, st.sampled_from(("VALUE={v(a)*2}", "V=5", "I={x}", "POLY(1) a b 0 2", "a b 1e5"))),
    st.sampled_from(
        (".model N NPN(BF=100)", ".subckt box p q", "R1 p q {x*1k}", ".ends", ".param x=2", ".func x(y) {y*x}", ".end")
    ),
    words(odd, odd, odd),
).map("title\n{}".format)


@drawn
@given(text=st.one_of(netlists, lists, st.text(max_size=300)))
@pytest.mark.parametrize("ending", [".net", ".cir"])
def test_a_drawn_input_is_read_or_refused_and_what_is_read_comes_back(text, ending, tmp_path):
    file = Path(tmp_path / f"drawn{ending}")
    file.write_bytes(text.encode("utf-8", errors="surrogatepass"))
    circuit = check_circuit(file)

    if circuit is not None:
        check_round_trip(circuit)


@drawn
@given(text=st.one_of(netlists, lists))
def test_a_drawn_circuit_keeps_its_parts_as_a_list(text):
    try:
        circuit = topo.loads(text, "drawn.cir" if text.startswith("title\n") else "drawn.net")
    except TopoError:
        return
    again = topo.loads(write_elements(circuit), "again.cir")

    assert sorted(part.ref.casefold() for part in again.parts) == sorted(part.ref.casefold() for part in circuit.parts)


@settings(drawn, max_examples=max(5, EXAMPLES // 6))
@given(text=st.one_of(netlists, lists), command=st.sampled_from(("explain", "check", "voltages", "reduce")))
def test_a_drawn_circuit_brings_no_command_down(text, command, tmp_path):
    file = Path(tmp_path / ("drawn.cir" if text.startswith("title\n") else "drawn.net"))
    file.write_bytes(text.encode("utf-8", errors="surrogatepass"))

    assert check_command([command, str(file)]) in (0, 1, 2)
