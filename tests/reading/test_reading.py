"""The whole of a reading: order of the blocks, what serves what, feedback, trimmers, the first sentence."""

from __future__ import annotations

from circuits import BOOTSTRAPPED, COMPLEMENTARY, PREAMPLIFIER, TWO_TRANSFORMERS

TRIMMED = TWO_TRANSFORMERS.replace("R5 1k : vcc tap", "R5 820 : vcc top\n    VR1 trimmer 500 at 40% : top tap tap")

IN_PHASE = """
    supply vcc 9V
    input  in
    output spk
    R1 56k : vcc b1
    R2 12k : b1 gnd
    C1 10u electrolytic : b1 in
    Q1 npn : b=b1 c=c1 e=e1
    R3 470 : e1 gnd
    C2 100u electrolytic : e1 gnd
    T1 transformer 2:1:1 : c1 vcc | s1 tap | s2 tap
    R5 1k : vcc tap
    D1 diode : tap gnd
    Q2 npn : b=s1 c=p1 e=gnd
    Q3 npn : b=s2 c=p2 e=gnd
    T2 transformer 4+4:1 : p1 vcc p2 | spk gnd
    LS1 speaker 8 : spk gnd
"""

SOURCE_LOADED = """
    supply vp 20V
    supply vn -20V
    input in
    output out
    signal 50Hz to 15kHz
    C1 10u : in b1
    R1 22k : out b1
    R8 750 : b1 vn
    Q1 npn : b=b1 c=low e=vn
    D1 diode : high between
    D2 diode : between low
    D3 diode : vp k1
    D4 diode : k1 ref
    R2 10k : ref gnd
    Q2 pnp : b=ref c=high e=e2
    R3 120 : vp e2
    Q3 npn : b=high c=vp e=e3
    Q4 pnp : b=low c=vn e=e4
    R4 1 : e3 out
    R5 1 : e4 out
    LS1 speaker 8 : out gnd
"""

MULTIPLIER_AND_BOOTSTRAP = """
    supply vcc 40V
    input in
    output ls
    signal 20Hz to 20kHz
    C1 1u : in b1
    R1 150k : vcc rb
    R2 150k : rb gnd
    C9 47u : rb gnd
    R3 100k : rb b1
    Q1 pnp hFE=200 : b=b1 c=c1 e=e1
    R4 15k : mid e1
    R5 680 : e1 f1
    C2 100u : f1 gnd
    R6 2k2 : c1 gnd
    Q2 npn hFE=150 : b=c1 c=lo e=gnd
    C3 47p : c1 lo
    R7 1k8 : vcc bs
    R8 1k8 : bs hi
    C4 100u : bs mid
    Q3 npn : b=sb c=hi e=lo
    R9 3k3 : hi sb
    VR1 trimmer 2k at 50% : sb lo lo
    Q4 npn : b=hi c=vcc e=d1
    Q5 pnp : b=lo c=gnd e=d2
    R11 220 : d1 mid
    R12 220 : d2 mid
    Q6 npn hFE=50 IS=100f : b=d1 c=vcc e=o1
    Q7 pnp hFE=50 IS=100f : b=d2 c=gnd e=o2
    R13 0R22 : o1 mid
    R14 0R22 : o2 mid
    C5 2200u : mid ls
    LS1 speaker 4 : ls gnd
    C6 100n : zz gnd
    R15 8R2 : mid zz
"""


def sorts(reading):
    return [block.sort for block in reading.blocks]


def test_every_part_is_in_a_block_or_not_recognised(reading):
    for text in (BOOTSTRAPPED, COMPLEMENTARY, PREAMPLIFIER, TWO_TRANSFORMERS):
        found = reading(text)
        told = {ref for block in found.blocks for refs in (block.parts, *block.roles.values()) for ref in refs}
        assert told.isdisjoint(found.not_recognised)
        assert told | set(found.not_recognised) == {part.ref for part in found.circuit.parts}


def test_stages_come_in_signal_order(reading):
    found = reading(PREAMPLIFIER)

    assert [block.devices for block in found.blocks if block.sort == "stage"] == [("Q1",), ("Q2",), ("Q3",)]


def test_a_bias_block_takes_the_place_of_the_stage_that_it_serves(reading):
    found = reading(TWO_TRANSFORMERS)
    bias = next(block for block in found.blocks if "D1" in block.parts and block.sort == "bias")
    output = next(block for block in found.blocks if block.sort == "output")
    driver = next(block for block in found.blocks if "Q1" in block.devices and block.sort in ("stage", "driver"))

    assert driver.number < bias.number < output.number
    assert set(bias.serves) == {"Q2", "Q3"}


def test_the_first_sentence_names_class_and_load(reading):
    summary = reading(TWO_TRANSFORMERS).summary

    assert "class AB" in summary and "8 Ω loudspeaker" in summary


def test_stages_without_a_name_as_a_whole_are_told_one_after_the_other(reading):
    summary = reading(PREAMPLIFIER).summary

    assert summary.startswith("A three-stage amplifier") and "emitter follower" in summary


def test_feedback_from_the_output_to_the_first_base_is_negative(reading):
    loops = {block.loop for block in reading(COMPLEMENTARY).blocks if block.sort == "feedback" and "R1" in block.parts}

    assert loops == {"negative"}


def test_a_bootstrap_is_positive_feedback(reading):
    loops = [block.loop for block in reading(BOOTSTRAPPED).blocks if block.sort == "feedback" and "R3" in block.parts]

    assert "positive" in loops


def test_a_trimmer_is_told_with_the_devices_whose_current_it_moves(reading):
    assert reading(TRIMMED).bias_trimmers == {"VR1": ("Q2", "Q3")}


def test_ports_that_were_found_are_said_to_be_found(reading):
    bare = TWO_TRANSFORMERS.replace("    input  in\n    output spk\n", "")
    found = reading(bare)

    assert found.ports_inferred and [port.net for port in found.outputs] == ["spk"]
    assert any("Output taken as net spk" in text for text in found.assumptions)


def test_germanium_is_a_caution_only_where_there_is_some(reading):
    assert not any("Germanium" in text for text in reading(TWO_TRANSFORMERS).cautions)
    assert any("Germanium" in text for text in reading(TWO_TRANSFORMERS.replace("npn", "npn germanium")).cautions)


def test_a_low_supply_calls_for_no_word_on_high_voltage(reading):
    assert not any("High voltage" in text for text in reading(TWO_TRANSFORMERS).cautions)


def test_a_pair_that_is_driven_in_phase_is_warned_of(reading):
    codes = [problem.code for problem in reading(IN_PHASE).warnings]

    assert "pair-in-phase" in codes


def test_a_pair_that_is_driven_as_it_should_be_is_not(reading):
    for text in (TWO_TRANSFORMERS, COMPLEMENTARY, BOOTSTRAPPED):
        assert "pair-in-phase" not in [problem.code for problem in reading(text).warnings]


def test_a_current_source_in_the_column_of_a_driver_serves_the_driver(reading):
    found = reading(SOURCE_LOADED)

    sources = [block for block in found.blocks if "Q2" in block.devices and block.sort == "bias"]

    assert [block.serves for block in sources] == [("Q1",)]


def test_a_stage_without_values_is_named_by_its_place(reading):
    text = """
    supply vcc 12V
    input in
    output out
    C1 ? : in b
    R1 ? : vcc b
    R2 ? : b gnd
    Q1 npn : b=b c=c e=e
    R3 ? : e gnd
    C2 ? : e gnd
    R4 ? : vcc c
    C3 ? : c out
    """
    assert [block.pattern for block in reading(text).blocks if "Q1" in block.devices] == ["common-emitter"]


def test_the_bootstrap_is_the_drivers_wherever_the_multiplier_stands_in_the_file(reading):
    lines = MULTIPLIER_AND_BOOTSTRAP.strip().splitlines()
    multiplier = next(line for line in lines if line.strip().startswith("Q3 "))
    moved = [multiplier, *(line for line in lines if line != multiplier)]

    for text in ("\n".join(lines), "\n".join(moved)):
        told = [block.roles for block in reading(text).blocks if block.sort == "feedback" and "C4" in block.parts]
        assert [roles["driver"] for roles in told] == [("Q2",)]
