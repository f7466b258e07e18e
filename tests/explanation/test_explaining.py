from functools import cache
from pathlib import Path

import pytest

import topo
from topo.errors import UsageError
from topo.explanation.explaining import path_line
from topo.report.terminal import text

SAMPLES = Path(__file__).parents[2] / "samples"
STAGE = """
circuit One stage
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
R1 56k : vcc base
R2 12k : base gnd
C1 4u7 : in base
Q1 npn : b=base c=col e=emit
R3 3k3 : vcc col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
C4 100u : vcc gnd
"""


@cache
def told(name, voice="technician"):
    return topo.explain(topo.read(topo.load(SAMPLES / f"{name}.net")), voice=voice)


@cache
def of(netlist, voice="technician"):
    return topo.explain(topo.read(topo.loads(netlist)), voice=voice)


def titles(explanation):
    return [block.title for block in explanation.blocks]


def sentences(explanation):
    return [
        statement.text
        for block in explanation.blocks
        for piece in (block, *block.companions)
        for statement in piece.statements
    ]


def test_the_title_line_counts_what_there_is():
    assert told("intercom").counts == "26 parts, 18 nets, 9 V"
    assert told("hall-amplifier").counts.endswith("24 V, −24 V")


def test_the_path_begins_at_the_input_and_shows_both_sides_of_a_pair():
    assert path_line(told("intercom").reading) == "mic → C2 → Q1 → C4 → Q2 → T1 → Q3 | Q4 → T2 → LS1"


def test_the_summary_says_what_the_supply_gives():
    assert told("intercom").summary[-1].endswith("22 mA from the supply at rest.")
    assert "from vp and" in told("hall-amplifier").summary[-1]


def test_the_whole_circuit_is_told_of_in_the_summary_and_has_no_heading():
    explanation = told("intercom")

    assert explanation.summary[1].startswith("About 0.19 W into 8 Ω before it clips")
    assert not any("amplifier" in title.lower() for title in titles(explanation))


def test_small_blocks_are_told_with_their_stage():
    (stage, *_) = of(STAGE).blocks

    assert {"C1", "R1", "R2"} <= {ref for companion in stage.companions for ref in companion.parts}
    assert len(of(STAGE).blocks) <= 3


def test_what_lies_between_rails_alone_is_told_with_the_supply():
    last = told("intercom").blocks[-1]

    assert last.title.startswith("Supply") and "C7" in last.parts


def test_a_phase_splitter_has_a_heading_of_its_own():
    assert any(title.startswith("Phase splitting") for title in titles(told("intercom")))


def test_a_power_stage_before_the_last_is_a_driver():
    named = [title for title in titles(told("hf-link")) if "push-pull" in title]

    assert [title.partition(":")[0] for title in named] == ["Driver", "Output"]


def test_each_bias_regulator_has_a_heading_of_its_own():
    assert sum("bias" in title for title in titles(told("hf-link"))) == 2


def test_each_class_of_operation_is_told_once():
    for name in ("intercom", "hall-amplifier", "hf-link", "gate-speaker-class-ab"):
        said = [sentence for sentence in sentences(told(name)) if sentence.startswith("Class ")]
        assert len(said) == len(set(said)) == len(told(name).reading.classes)


def test_advice_without_numbers_is_given_once():
    said = sentences(told("hf-link"))

    assert len([sentence for sentence in said if sentence.startswith("Burnt or open")]) <= 1


def test_a_net_s_name_keeps_its_small_letter_at_the_start_of_a_sentence():
    assert any(sentence.startswith("vcc stands") for sentence in sentences(told("intercom")))


def test_negative_numbers_have_a_minus_sign():
    text_of = text(told("hall-amplifier"))

    assert "−24 V" in text_of and " -24 V" not in text_of


def test_what_goes_is_told_with_its_rule_level_by_level():
    working, principle = told("intercom").omitted

    assert working.startswith("Omitted at `working`: C7 (")
    assert principle.startswith("Omitted at `principle`: also ")


def test_a_level_that_leaves_out_no_more_says_so():
    bare = "supply vcc 9V\ninput a\noutput b\nsignal 1kHz to 2kHz\nR1 1k : a b\nR2 1k : b gnd\n"

    assert of(bare).omitted == ("Omitted at `working`: none.", "Omitted at `principle`: nothing more.")


def test_parts_that_are_not_understood_are_listed():
    netlist = STAGE + "U1 ic : 1=col 2=vcc 3=gnd 4=x\nR9 10k : x gnd\n"
    explanation = of(netlist)

    assert "U1" in explanation.not_recognised
    assert "Not recognised: " in text(explanation) and "U1" in text(explanation)


def test_links_are_told_as_wires():
    explanation = told("hf-link")
    roles = {line.ref: line.role for line in explanation.parts}

    assert roles["F1"].startswith("a fuse") and roles["S1"].startswith("a switch")


def test_cautions_name_the_parts_of_this_circuit():
    assert any("D1" in caution for caution in told("intercom").cautions)
    assert not any("{" in caution for caution in told("intercom").cautions)


def test_the_student_s_voice_says_what_each_part_does():
    shown = text(told("intercom", "student"))

    assert "Q1  does the amplifying" in shown
    assert "Check:" not in shown


def test_statements_carry_the_parts_that_they_speak_of():
    explanation = told("intercom")
    known = set(explanation.reading.circuit.by_ref)

    for block in explanation.blocks:
        for statement in block.statements:
            assert statement.parts and set(statement.parts) <= known


def test_what_rests_on_an_assumption_says_so():
    assumed = [s for block in told("intercom").blocks for s in block.statements if s.assumed]

    assert assumed


def test_an_unknown_voice_is_wrong_use():
    with pytest.raises(UsageError, match="Allowed: student, technician"):
        topo.explain(told("intercom").reading, (), voice="choir")


def test_an_oscillator_is_given_no_current_at_rest():
    reading = topo.read(topo.load("samples/beacon-flasher.net"))

    said = " ".join(topo.explain(reading, voice="student").summary)

    assert "multivibrator" in said
    assert "at rest" not in said
