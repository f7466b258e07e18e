"""A circuit written is the circuit read."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topo

WHOLE = """
    circuit Everything: the whole language
    note from memory
    ground chassis
    supply vcc 12V 2R2
    supply vee -4.5V
    input mic
    output spk1 spk2
    signal 300Hz to 3.4kHz
    temperature 35.5
    device TX1 npn germanium hFE=80 IS=1e-6
    block stage (in out)
      Q1 TX1 : b=in c=out e=-
      R2 100 : Q1.e mid
      R3 4k7 : mid chassis
    end
    R1   47k 5% 0.5W       : vcc base
    R2   ?                 : Base gnd
    R3                     : base chassis
    C1   electrolytic 4µ7 16V : mic base
    C2   100n              : base -
    VR1  trimmer 10k at 30%: vcc R1.2 chassis
    VR2  10k               : 1=vcc w=base
    TH1  ntc 10k B=3950    : base chassis
    FB1                    : base b2
    L1   200u 10+30 rdc=2  : b2 tap chassis
    L2   choke 1mH         : b2 vcc
    L3   1m                : p q r
    T1   transformer 3:1+1 primary=1H k=0.98 : C2.2 vcc | s1 tap s2
    T2   impedance 500:8   : s1 s2 | spk1 spk2
    T3                     : s1 s2 | spk1 - spk2
    ZD1  5V6 IZ=2mA        : chassis b2
    D2   led               : k=chassis a=b2
    Q1   npn hFE=120       : b=base c=T1.w1.1 e=e1
    Q2   pnp germanium 2N9999 : b=b2 c=vee e=e1
    Q3   nmos VTH=2 K=0.5  : g=b2 d=vcc s=e1 b=chassis
    section second
    signal 1MHz to 2.5MHz
    V1   pentode MU=10     : a=vcc g1=b2 g2=vcc g3=e1 k=e1
    U1   opamp GAIN=1e5    : in+=b2 in-=out out=out v+=vcc v-=vee
    U2   regulator 5V      : in=vcc out=five common=chassis
    U3   ic                : 1=five 2=out RF=b2
    BT1  1V5               : five chassis
    LS1  8                 : spk1 spk2
    AE1  antenna 50        : b2 chassis
    section third
    LP1  12V 50mA          : vcc chassis
    F1   1A                : vcc fused
    Y1   9MHz              : fused b2
    Y2   crystal 40ohm     : fused b2
    SW1  closed            : fused b2
    SW2  selector at 2     : b2 | w1 w2 -
    K1   relay worked 200  : vcc chassis | b2 c1 - | - - -
    J1                     : tip=b2 sleeve=chassis
    J2                     : b2 chassis
    MK1  microphone        : mic chassis
    A1   stage             : b2 x
    A2   stage             : x y
    R99  1k                : A1.mid Q1.e
    join y yy YYY
    section empty
    signal 5kHz to 6kHz
"""


def test_a_circuit_of_every_form_reads_back_equal():
    circuit = topo.loads(WHOLE)

    assert topo.loads(topo.write(circuit)) == circuit


def test_writing_what_was_read_back_changes_nothing_more():
    text = topo.write(topo.loads(WHOLE))

    assert topo.write(topo.loads(text)) == text


def test_comments_stand_at_their_parts_and_at_the_head():
    circuit = topo.loads("supply vcc 9V\nR1 1k : vcc gnd\nR2 1k : vcc gnd")
    text = topo.write(circuit, {"": "Reduced.\nTwo lines.", "R2": "merged with\nR3"})

    assert text.startswith("# Reduced.\n# Two lines.\n")
    assert "R2    1k                      : vcc gnd  # merged with R3\n" in text
    assert topo.loads(text) == circuit


def test_an_assumed_band_is_not_written_as_given():
    circuit = topo.loads("LS1 8 : a gnd")

    assert "signal" not in topo.write(circuit)
    assert topo.loads(topo.write(circuit)).band_assumed


def test_a_value_that_was_computed_is_written_exactly():
    from dataclasses import replace

    circuit = topo.loads("R1 1k : a gnd")
    changed = replace(circuit, parts=(replace(circuit.parts[0], value=1234.5678901),))

    assert topo.loads(topo.write(changed)).parts[0].value == 1234.5678901


NETS = st.sampled_from(["gnd", "vcc", "a", "b", "B+", "n.1", "x2", "-12V", "R1.2", "Q1.c", "Q2.e", "T1.w2.1", "C1.+"])
TWO = st.sampled_from(
    ["R{n} 4k7", "R{n} ? 5%", "C{n} 4u7 16V", "C{n} electrolytic 10u", "L{n} 10m rdc=3", "D{n} led", "LS{n} 8"]
)


@st.composite
def part_lines(draw, number: int) -> str:
    """A line of a part of any of several forms."""
    form = draw(st.integers(0, 5))
    net = lambda: draw(NETS)  # noqa: E731 - read as a noun
    if form <= 2:
        return f"{draw(TWO).format(n=number)} : {net()} {net()}"
    if form == 3:
        kind = draw(st.sampled_from(["npn", "pnp germanium hFE=90"]))
        return f"Q{number} {kind} : b={net()} c={draw(st.sampled_from(['-', 'a', 'b']))} e={net()}"
    if form == 4:
        ratio = draw(st.sampled_from(["", "2:1+1 ", "impedance 500:8 "]))
        return f"T{number} {ratio}: {net()} {net()} | {net()} x {net()}"
    return f"VR{number} 10k at {draw(st.integers(0, 100))}% : {net()} {net()} {net()}"


@st.composite
def netlists(draw) -> str:
    """A netlist that reads without error."""
    lines = [draw(part_lines(number)) for number in range(1, draw(st.integers(1, 8)) + 1)]
    lines += draw(
        st.lists(
            st.sampled_from(["supply vcc 9V", "input a", "output b gnd", "section two", "join a aa"]),
            max_size=5,
            unique=True,
        )
    )
    return "\n".join(draw(st.permutations(lines)))


def reads(text: str):
    """The circuit of a text, or None where a reference in it finds no such terminal."""
    from topo.errors import NetlistError

    try:
        return topo.loads(text)
    except NetlistError:
        return None


@settings(max_examples=150, deadline=None)
@given(netlists())
def test_any_circuit_that_is_read_reads_back_equal(text):
    circuit = reads(text)
    if circuit is not None:
        assert topo.loads(topo.write(circuit)) == circuit


def _joined(circuit) -> list[list[tuple[str, str]]]:
    """The terminals that are on one net, whatever the nets are called."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for part in circuit.parts:
        for terminal in part.terminals:
            groups.setdefault(terminal.net, []).append((part.ref.upper(), terminal.name.upper()))
    return sorted(sorted(group) for group in groups.values())


@settings(max_examples=100, deadline=None)
@given(netlists(), st.randoms(use_true_random=False))
def test_the_order_of_lines_does_not_matter(text, random):
    lines = [line for line in text.split("\n") if not line.startswith("section")]
    one = reads("\n".join(lines))
    random.shuffle(lines)
    two = reads("\n".join(lines))

    assert (one is None) == (two is None)
    if one is not None and two is not None:
        assert _joined(one) == _joined(two)
        assert {part.ref: (part.kind, part.value, dict(part.params)) for part in one.parts} == {
            part.ref: (part.kind, part.value, dict(part.params)) for part in two.parts
        }


@settings(max_examples=100, deadline=None)
@given(
    netlists(), st.sampled_from([" ", "  ", "\t", " \\\n  "]), st.sampled_from(["\n", "\r\n", " # a word\n", "\n\n"])
)
def test_white_space_comments_and_ends_of_line_do_not_matter(text, space, end):
    assert reads(text.replace(" ", space).replace("\n", "\f").replace("\\\f", "\\\n").replace("\f", end)) == reads(text)


@settings(max_examples=100, deadline=None)
@given(netlists())
def test_case_of_names_does_not_matter(text):
    plain = reads(text)
    nets = "\n".join(
        line.partition(":")[0] + line.partition(":")[1] + line.partition(":")[2].upper() for line in text.split("\n")
    )
    other = reads(nets)

    assert (plain is None) == (other is None)
    if plain is not None and other is not None:
        assert _joined(plain) == _joined(other)


@pytest.mark.parametrize("ref", ["R1", "A1.R1"])
def test_designators_of_blocks_read_back_with_their_kind(ref):
    assert topo.loads(topo.write(topo.loads(f"{ref} 1k : a b"))).parts[0].kind == "resistor"
