"""Merges that lose nothing: the merged circuit has the solution of the whole one."""

import pytest
from hand_made import library, reading

import topo
from topo.analysis import linearise, operating_point
from topo.graph import normalise
from topo.reduction import comments, reduce, steering

NANOVOLT = 1e-9

FOLLOWERS = """
supply vcc 15V
input in
output out
signal 100Hz to 10kHz
C1 10u : in base
R1 4k7 : vcc base
R2 6k8 : base gnd
R3 10 : base b1
R4 10 : base b2
R5 10 : base b3
Q1 npn hFE=60 rb=4 VA=90 : b=b1 c=vcc e=e1
Q2 npn hFE=60 rb=4 VA=90 : b=b2 c=vcc e=e2
Q3 npn hFE=60 rb=4 VA=90 : b=b3 c=vcc e=e3
R6 R33 : e1 out
R7 R33 : e2 out
R8 R33 : e3 out
R9 47 : out gnd
"""
ALL = " ".join(["C1", *(f"R{n}" for n in range(1, 10)), "Q1", "Q2", "Q3"])
BLOCK = (("stage", "stage", {"all": ALL}),)
PATTERNS = library(stage={})


def of(text, detail="whole", blocks=BLOCK, **asked):
    found = reading(text, *blocks)
    return reduce(found, detail, library=PATTERNS, asked=steering(found, **asked))


def solved(circuit):
    graph = normalise(circuit)
    point = operating_point(graph)
    linear = linearise(graph, point)
    start, end = (graph.node_of[name] for name in ("in", "out"))
    return graph, point, [abs(linear.transfer(start, end, hertz)) for hertz in (1e3, 1e4)]


def assert_same_solution(before, after):
    (graph, point, gains), (smaller, other, gained) = solved(before), solved(after)
    for net, node in smaller.node_of.items():
        assert other.volts[node] == pytest.approx(point.volts[graph.node_of[net]], abs=2 * NANOVOLT)
    assert gained == pytest.approx(gains, rel=1e-9)


def test_paralleled_devices_with_their_resistors_become_one_of_several_times_the_size():
    made = of(FOLLOWERS)

    assert made.circuit.part("Q1").params["count"] == 3
    assert made.circuit.part("R6").value == pytest.approx(0.11)
    assert {e.part: (e.into, e.rule, e.number) for e in made.ledger if e.fate == "merged"} == {
        "R4": ("R3", "sharing resistors", 10),
        "R5": ("R3", "sharing resistors", 10),
        "Q2": ("Q1", "devices in parallel", 10),
        "Q3": ("Q1", "devices in parallel", 10),
        "R7": ("R6", "sharing resistors", 10),
        "R8": ("R6", "sharing resistors", 10),
    }


def test_a_circuit_with_merged_devices_has_the_solution_of_the_whole_one():
    made = of(FOLLOWERS)

    assert_same_solution(made.reading.circuit, made.circuit)


@pytest.mark.parametrize(
    "kind, terminals",
    [
        ("nmos VTH=3 K=0.2", "g=b{n} d=vcc s=e{n}"),
        ("njfet IDSS=20m VP=-3", "g=b{n} d=vcc s=e{n}"),
        ("triode MU=20 KG1=500", "g=b{n} a=vcc k=e{n}"),
        ("pentode", "g1=b{n} a=vcc g2=vcc g3=e{n} k=e{n}"),
    ],
)
def test_merging_is_exact_for_every_kind_of_device(kind, terminals):
    lines = FOLLOWERS.splitlines()
    devices = [f"Q{n} {kind} : {terminals.format(n=n)}" for n in (1, 2, 3)]
    text = "\n".join([line for line in lines if not line.startswith("Q")] + devices)
    text = text.replace("g3=e1", "g3=gnd").replace("g3=e2", "g3=gnd").replace("g3=e3", "g3=gnd")
    made = of(text)

    assert made.circuit.part("Q1").params["count"] == 3
    assert_same_solution(made.reading.circuit, made.circuit)


def test_the_number_of_devices_is_written_and_read_back():
    made = of(FOLLOWERS)
    text = topo.write(made.circuit, comments(made))
    again = topo.loads(text)

    assert "count=3" in text and "# Q1, Q2, Q3 devices in parallel" in text
    assert again.part("Q1").params["count"] == 3
    assert_same_solution(made.reading.circuit, again)


def test_the_proof_compares_merged_devices_by_their_current_together():
    made = of(FOLLOWERS)

    assert list(made.devices) == ["Q1"]
    assert abs(made.totals["current %"]) < 1e-6 and abs(made.totals["gain dB"]) < 1e-6


@pytest.mark.parametrize(
    "change",
    [
        ("R7 R33", "R7 R47"),
        ("Q2 npn hFE=60", "Q2 npn hFE=90"),
        ("R4 10 : base b2", "R4 10 : base b2\nC9 1n : b2 gnd"),
        ("c=vcc e=e2", "c=c2 e=e2\nR10 1 : vcc c2"),
    ],
)
def test_devices_that_are_not_alike_in_all_leads_stay_apart(change):
    made = of(FOLLOWERS.replace(*change))

    assert "Q2" in made.fates("kept")
    assert made.circuit.part("Q1").params["count"] == 2


def test_a_device_that_is_to_be_kept_is_not_merged():
    made = of(FOLLOWERS, keep=["Q2"])

    assert "Q2" in made.fates("kept") and made.circuit.part("Q1").params["count"] == 2


DIVIDED = """
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
C1 10u : in base
VR1 trimmer 47k {at} : 1={one} w={wiper} 2={two}
R1 10k : base gnd
R9 10k : top vcc
Q1 npn : b=base c=col e=e
R2 1k : vcc col
R3 220 : e gnd
C2 10u : col out
R4 10k : out gnd
"""
STAGE = (("stage", "stage", {"all": "C1 VR1 R1 R9 Q1 R2 R3 C2 R4"}),)


def divided(at, one="top", wiper="base", two="base"):
    return DIVIDED.format(at=at, one=one, wiper=wiper, two=two)


@pytest.mark.parametrize("text", [divided("at 100%"), divided("at 0%", "top", "top", "base")])
def test_a_trimmer_with_its_whole_track_in_use_is_a_fixed_resistor_and_merges(text):
    made = of(text, "working", STAGE)

    entry = next(entry for entry in made.ledger if entry.part == "VR1")
    assert (entry.fate, entry.into, entry.rule) == ("merged", "R9", "in series")
    assert made.circuit.part("R9").kind == "resistor" and made.circuit.part("R9").value == 57e3
    assert_same_solution(made.reading.circuit, made.circuit)


def test_a_trimmer_with_its_wiper_at_the_end_in_use_is_a_wire():
    made = of(divided("at 0%"), "working", STAGE)

    entry = next(entry for entry in made.ledger if entry.part == "VR1")
    assert (entry.fate, entry.rule, entry.becomes, entry.number) == ("omitted", "wiper at an end", "wire", 21)
    assert made.circuit.part("R9").net("2") == "vcc" and made.circuit.part("R9").net("1") == "base"


def test_a_divider_with_its_wiper_at_an_end_is_a_resistor_between_its_ends():
    text = divided("at 100%", "vcc", "base", "foot").replace("R9 10k : top vcc", "R9 10k : foot gnd")
    made = of(text, "working", STAGE)

    part = made.circuit.part("VR1")
    assert part.kind == "resistor" and {terminal.net for terminal in part.terminals} == {"vcc", "base"}
    assert made.circuit.part("R1").value == pytest.approx(5e3)  # R9, from the same net, is in parallel


@pytest.mark.parametrize("at", ["at 30%", ""])
def test_a_trimmer_that_is_between_or_not_stated_stays(at):
    made = of(divided(at), "working", STAGE)

    assert made.circuit.part("VR1").kind == "potentiometer"


def test_whole_leaves_a_trimmer_as_it_is():
    assert of(divided("at 100%"), "whole", STAGE).circuit.part("VR1").kind == "potentiometer"
