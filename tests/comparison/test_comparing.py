from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

import topo
from topo.comparison import compare, focus_of
from topo.errors import UsageError

ROOT = Path(__file__).parents[2]

STAGE = """
circuit {title}
supply vcc 9V
input  a
output o
signal 300Hz to 3.4kHz
C1  1u    : a b
{bias}
Q1  npn   : b=b c=c e=e
R3  4k7   : vcc c
R4  {foot} : e gnd
{more}
C3  1u    : c o
R5  47k   : o gnd
"""
DIVIDER = "R1 47k : vcc b\nR2 10k : b gnd"
FROM_THE_COLLECTOR = "R1 470k : c b"
PAIR = """
supply vcc 9V
input  a
output spk
T1  transformer 1:1+1 primary=2H : a gnd | s1 tap s2
{bias}
Q1  npn                          : b=s1 c=p1 e=gnd
Q2  npn                          : b=s2 c=p2 e=gnd
T2  transformer 5+5:1 primary=1H : p1 vcc p2 | spk gnd
LS1 speaker 8                    : spk gnd
"""
BY_DIODE = "R1 1k : vcc tap\nD1 diode : tap gnd"
BY_DIVIDER = "R1 1k : vcc tap\nR2 68 : tap gnd"
RADIO_PAIR = """
supply vcc 13.5V
input  a
output ant
signal 1.8MHz to 30MHz
R1  1k                           : vcc r
VR1 trimmer 220 at 40%           : r w k
D1  diode                        : k gnd
Q3  npn                          : b=w c=vcc e=tap
R2  220                          : tap gnd
C1  100n                         : tap gnd
T1  transformer 1:1+1            : a gnd | b1 tap b2
Q1  npn IS=200f                  : b=b1 c=c1 e=e1
Q2  npn IS=200f                  : b=b2 c=c2 e=e2
R3  1                            : e1 gnd
R4  1                            : e2 gnd
T2  transformer 1+1:4            : c1 vcc c2 | ant gnd
AE1 antenna 50                   : ant gnd
"""


@cache
def read(text):
    return topo.read(topo.loads(text))


@cache
def sample(name):
    return topo.read(topo.load(ROOT / "samples" / f"{name}.net"))


def stage(bias=DIVIDER, foot="1k", more="", title="A stage"):
    return read(STAGE.format(bias=bias, foot=foot, more=more, title=title))


def pair(bias=BY_DIODE):
    return read(PAIR.format(bias=bias))


@cache
def audio_against_radio():
    final = focus_of(sample("hf-link"), section="Final")
    return compare(sample("intercom"), sample("hf-link"), focus=(None, final))


def together(comparison):
    return {(item.first, item.second) for item in comparison.pairs}


def test_an_audio_pair_and_the_final_of_a_transmitter_are_one_circuit_with_other_means_of_bias():
    found = audio_against_radio()

    assert found.likeness == "same circuit"
    assert found.common == "transformer-coupled push-pull pair"
    assert found.sentences[0].startswith(
        "The same circuit, a transformer-coupled push-pull pair, with different means of bias: "
        "resistor-and-diode bias (D1, R9, C6) in A, trimmer and emitter-follower bias (Q6, VR2, "
    )


def test_the_pairs_of_parts_of_an_audio_and_a_radio_pair_are_those_of_equal_role():
    assert together(audio_against_radio()) == {
        ("Q3", "Q4"),
        ("Q4", "Q5"),
        ("T1", "T2"),
        ("T2", "T3"),
        ("R10", "R17"),
        ("R11", "R18"),
        ("LS1", "AE1"),
        ("R9", "R21"),
        ("D1", "D3"),
        ("C6", "C24"),
    }


def test_the_side_without_a_focus_is_compared_only_where_it_corresponds():
    found = audio_against_radio()

    assert {"Q1", "Q2", "C7"} <= set(found.first.outside)
    assert {"Q1", "Q2", "Q3"} <= set(found.second.outside)
    assert not found.first.extra


def test_a_value_is_told_at_the_load_of_the_other_circuit():
    scaled = {item.first: item.scaled for item in audio_against_radio().pairs}

    assert scaled["R10"] == "7.1 Ω"
    assert scaled["R9"] == ""


def test_class_and_idle_current_are_told_where_they_differ():
    said = " ".join(audio_against_radio().consequences)

    assert "Q3, Q4 in A: class AB with 5.2 mA at rest" in said
    assert "Q4, Q5 in B: class AB with 89 mA at rest" in said


def test_a_trimmer_of_one_side_alone_is_told():
    said = " ".join(audio_against_radio().consequences)

    assert "VR2 adjusts the current at rest in B; in A it is as the parts make it." in said


def test_bands_that_are_apart_are_told():
    assert any("300 Hz to 3.4 kHz" in sentence for sentence in audio_against_radio().sentences)


def test_two_typed_pairs_in_different_bands_are_the_same_circuit():
    found = compare(pair(), read(RADIO_PAIR))

    assert found.likeness == "same circuit"
    assert {("Q1", "Q1"), ("Q2", "Q2"), ("T1", "T1"), ("T2", "T2"), ("LS1", "AE1")} <= together(found)
    assert [block.common for block in found.blocks if block.relation == "other means"] == ["bias"]


def test_a_diode_and_a_divider_are_different_means_of_bias():
    found = compare(pair(), pair(BY_DIVIDER))

    assert (
        "different means of bias: resistor-and-diode bias (D1, R1) in A, resistor-divider bias (R1, R2) in B"
        in (found.sentences[0])
    )


def test_other_values_alone_leave_two_circuits_the_same_part_for_part():
    found = compare(stage(), stage(foot="820"))

    assert found.likeness == "same"
    assert found.sentences[0].endswith("1 of 8 parts with another value.")


def test_the_same_values_are_told():
    found = compare(stage(), stage(title="Another"))

    assert found.sentences == (
        "The same circuit, a common-emitter stage, part for part: all 8 parts with the same values.",
    )


def test_a_bypass_capacitor_that_one_circuit_lacks_is_named_with_its_purpose():
    found = compare(stage(), stage(more="C2 100u : e gnd"))

    assert found.likeness == "same circuit"
    assert any(sentence.startswith("A goes without C2 of B: ") for sentence in found.consequences)


def test_bias_from_a_divider_and_from_the_collector_are_different_means():
    found = compare(stage(), stage(bias=FROM_THE_COLLECTOR))

    assert "different means of bias: divider bias" in found.sentences[0]
    assert "collector-feedback bias" in found.sentences[0]


def test_bias_that_only_one_circuit_has_is_told_first():
    found = compare(sample("gate-speaker-class-b"), sample("gate-speaker-class-ab"))

    assert found.sentences[0] == (
        "The same circuit, a complementary audio amplifier, with bias in B alone: diode spreader (D1, D2)."
    )


def test_circuits_of_no_common_stage_are_different():
    found = compare(sample("beacon-flasher"), sample("intercom"))

    assert found.likeness == "different"
    assert found.sentences[0].startswith("Different circuits. A is an astable multivibrator.")


def test_nothing_is_claimed_of_circuits_without_a_recognised_block():
    one = read("circuit One\nsupply vcc 9V\nU1 ic : 1=vcc 2=gnd 3=x\nU2 ic : 1=x 2=gnd\n")
    two = read("circuit Two\nsupply vcc 9V\nU1 ic : 1=vcc 2=x 4=x\n")

    assert compare(one, two).likeness == "not known"


def test_a_circuit_in_which_nothing_is_recognised_is_still_the_same_as_itself():
    one = read("circuit One\nsupply vcc 9V\nU1 ic : 1=vcc 2=gnd 3=x\nU2 ic : 1=x 2=gnd\n")

    found = compare(one, one)

    assert found.likeness == "same"
    assert all(item.by_place for item in found.pairs)


def test_a_focus_on_a_part_means_the_stage_that_it_belongs_to():
    assert focus_of(sample("hf-link"), parts=["R17"]).devices == {"Q4", "Q5"}
    assert focus_of(sample("hf-link"), parts=["vr1"]).devices == {"Q1", "Q2"}


def test_a_section_that_is_not_there_is_told_with_those_that_are():
    with pytest.raises(UsageError, match="Driver, Driver bias, Final"):
        focus_of(sample("hf-link"), section="Finale")


def test_a_section_without_a_stage_is_refused():
    with pytest.raises(UsageError, match="no stage"):
        focus_of(sample("hf-link"), section="Supply")


def test_two_focuses_compare_one_stage_with_another():
    one, two = focus_of(sample("hf-link"), section="Driver"), focus_of(sample("hf-link"), section="Final")

    found = compare(sample("hf-link"), sample("hf-link"), focus=(one, two))

    assert {("Q1", "Q4"), ("Q2", "Q5"), ("Q3", "Q6"), ("VR1", "VR2")} <= together(found)
    assert found.likeness == "same circuit"


def test_a_diode_the_other_way_round_is_not_the_same_circuit_part_for_part():
    found = compare(pair(), pair(BY_DIODE.replace("tap gnd", "gnd tap")))

    assert found.likeness != "same"
    assert "bias" in found.sentences[0]


def test_a_device_of_another_kind_in_the_same_role_is_told():
    bias = "R1 1k : vcc tap\nR2 330 : tap gnd"
    devices = PAIR.replace("npn                          : b=", "nmos VTH=2 K=0.5 : g=").replace(" c=p", " d=p")
    other = read(devices.replace("e=gnd", "s=gnd").format(bias=bias))

    found = compare(pair(BY_DIVIDER), other)

    assert found.likeness == "same circuit"
    assert "Devices of other kinds correspond: Q1 (npn) and Q1 (nmos); Q2 (npn) and Q2 (nmos)." in found.sentences


def test_stages_that_are_coupled_otherwise_are_not_one_circuit():
    first = STAGE.replace("C3  1u    : c o", "C3  1u    : c b2").replace("output o", "output o2")
    second = (
        "\nR6 47k : vcc b2\nR7 10k : b2 gnd\nQ2 npn : b=b2 c=c2 e=e2\nR8 4k7 : vcc c2\nR9 1k : e2 gnd\nC4 1u : c2 o2"
    )
    direct = "\nQ2 npn : b=c c=c2 e=e2\nR8 2k2 : vcc c2\nR9 4k7 : e2 gnd\nC4 1u : c2 o2"
    plain = first.replace("R5  47k   : o gnd", "").format(bias=DIVIDER, foot="1k", more="", title="Two")
    by_capacitor = read(plain + second)
    by_wire = read(plain.replace("C3  1u    : c b2", "") + direct)

    found = compare(by_capacitor, by_wire)

    assert found.likeness == "partly alike"
    assert "two common-emitter stages" in found.sentences[0]


def test_bias_of_one_stage_alone_is_told_with_its_devices():
    found = compare(
        sample("intercom"), read((ROOT / "samples" / "intercom.net").read_text().replace("D1   diode", "# "))
    )

    assert "with bias of Q3, Q4 in A alone: resistor-and-diode bias (D1" in found.sentences[0]


def test_circuits_with_devices_that_are_not_recognised_are_the_same_only_as_far_as_they_are():
    more = "Q9 npn : b=x c=y e=z\nR9 1k : x y\nR8 1k : y z\n"
    found = compare(stage(), stage(more=f"C2 100u : e gnd\n{more}"))

    assert found.sentences[0].startswith("The same circuit, as far as it is recognised, a common-emitter stage")
