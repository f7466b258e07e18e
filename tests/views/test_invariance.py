"""What a person may type otherwise without a change of the circuit changes no view."""

import re

from hypothesis import given, settings
from hypothesis import strategies as st
from viewing import seen

AMPLIFIER = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output out
R1 47k : vcc b
R2 10k : b gnd
C1 10u : in b
Q1 npn : b=b c=c e=e
R3 1k : vcc c
R4 470 : e gnd
C2 100u : e gnd
C3 100p : c b
R9 100 : c b2
Q2 npn : b=b2 c=v1 e=k
R6 100 : vcc v1
C6 470u : v1 gnd
R7 1k : k gnd
C4 22u : k out
LS1 speaker 100 : out gnd
"""

HEAD, BODY = AMPLIFIER.split("R1 47k", 1)
PARTS = ("R1 47k" + BODY).strip().splitlines()
NETS = ("b", "c", "e", "b2", "k", "v1")
RESISTORS = [line for line in PARTS if re.match(r"R\d", line)]
CAPACITORS = [line for line in PARTS if re.match(r"C\d", line)]


def summary(found, names=None):
    """Classes as sets of nets, verdicts and derived rails, under the original names."""
    back = {new: old for old, new in (names or {}).items()}
    inner = {"s1", "s2"}

    def shown(net):
        return back.get(net, net)

    def classes(name):
        view = found.view(name)
        sets = ({shown(found.graph.nets[node]) for node in nodes} - inner for nodes in view.members.values())
        return {frozenset(nets) for nets in sets if nets}

    fates = {
        ref.rstrip("xy"): verdict.fate
        for index, verdict in found.views.signal.verdicts.items()
        for ref in found.graph.elements[index].members
    }
    rails = {shown(net): shown(source) for net, source in found.derived().items()}
    return classes("wire"), classes("dc"), classes("signal"), fates, rails


EXPECTED = summary(seen(AMPLIFIER))


def with_names(line, names):
    """A part's line with its nets under other names."""
    what, where = line.split(":")
    return what + ":" + re.sub(r"(\w+=)?(\w+)", lambda found: (found[1] or "") + names.get(found[2], found[2]), where)


@settings(deadline=None, max_examples=25)
@given(st.permutations(PARTS), st.permutations(["n1", "n2", "n3", "n4", "n5", "n6"]))
def test_order_and_names_change_no_view(lines, fresh):
    names = dict(zip(NETS, fresh, strict=True))
    renamed = [with_names(line, names) for line in lines]

    found = seen(HEAD + "\n".join(renamed))

    assert summary(found, names) == EXPECTED


def split_in_parallel(line):
    ref, value, _, a, b = line.split()
    if ref.startswith("C"):
        unit = value[-1]
        half = f"{float(value[:-1]) / 2}{unit}"
        return [f"{ref}x {half} : {a} {b}", f"{ref}y {half} : {b} {a}"]
    return [f"{ref}x {value} : {a} {b}", f"{ref}y 100M : {a} {b}"]


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(RESISTORS + CAPACITORS))
def test_a_part_typed_as_two_in_parallel_changes_no_view(line):
    lines = [new for old in PARTS for new in (split_in_parallel(old) if old == line else [old])]

    assert summary(seen(HEAD + "\n".join(lines))) == EXPECTED


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(RESISTORS))
def test_a_resistor_typed_as_two_in_series_changes_no_view(line):
    ref, value, _, a, b = line.split()
    number = float(value.replace("k", "")) * (1000 if "k" in value else 1)
    halves = [f"{ref}x {number / 2} : {a} s1", f"{ref}y {number / 2} : {b} s1"]
    lines = [new for old in PARTS for new in (halves if old == line else [old])]

    assert summary(seen(HEAD + "\n".join(lines))) == EXPECTED


@settings(deadline=None, max_examples=10)
@given(st.sampled_from(CAPACITORS))
def test_a_capacitor_typed_as_two_in_series_changes_no_view(line):
    ref, value, _, a, b = line.split()
    double = f"{2 * float(value[:-1])}{value[-1]}"
    halves = [f"{ref}x {double} : {a} s1", f"{ref}y {double} : s1 {b}"]
    lines = [new for old in PARTS for new in (halves if old == line else [old])]

    assert summary(seen(HEAD + "\n".join(lines))) == EXPECTED
