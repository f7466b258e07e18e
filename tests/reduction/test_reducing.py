import pytest
from hand_made import library, reading

import topo
from topo.errors import UsageError
from topo.reduction import comments, reduce, reductions, steering, with_changes

STAGE = """
supply vcc 12V
input in
output out
signal 100Hz to 10kHz
C1 4u7 : in b0
R7 10 : b0 base
R1 56k : vcc b0
R2 12k : b0 gnd
Q1 npn : b=base c=col e=emit
R3 3k3 : vcc col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
C4 100u : vcc gnd
"""
BLOCKS = (
    ("common-emitter", "stage", {"device": "Q1", "load": "R3", "foot": "R4", "bypass": "C2"}),
    ("divider-bias", "bias", {"upper": "R1", "lower": "R2"}),
    ("coupling", "coupling", {"capacitor": "C1"}),
    ("output-coupling", "coupling", {"capacitor": "C3", "load": "R5"}),
    ("stopper", "protection", {"stopper": "R7"}),
    ("supply-decoupling", "supply", {"capacitor": "C4"}),
)
LIBRARY = library(
    common_emitter={"principle": {"bypass": "the idea can be told without it", "foot": "it only steadies"}},
    divider_bias={"principle": {"upper": "sets the current at rest", "lower": "sets the current at rest"}},
    coupling={},
    output_coupling={},
    stopper={"working": {"stopper": "keeps the stage from oscillating"}},
    supply_decoupling={"working": {"capacitor": "holds the rail still"}},
)


def entry(reduction, ref):
    return next(entry for entry in reduction.ledger if entry.part == ref)


def of(detail="working", text=STAGE, blocks=BLOCKS, patterns=LIBRARY):
    return reduce(reading(text, *blocks), detail, library=patterns)


def test_a_capacitor_across_an_ideal_rail_goes_and_says_why():
    gone = entry(of(), "C4")

    assert (gone.fate, gone.detail, gone.becomes) == ("omitted", "working", "nothing")
    assert gone.rule == "supply decoupling"
    assert gone.reason.startswith("100 µF from vcc to gnd, across an ideal rail: it carries no signal.")


def test_a_stopper_becomes_a_wire_and_gives_its_drop():
    made = of()
    gone = entry(made, "R7")

    assert (gone.fate, gone.becomes, gone.rule) == ("omitted", "wire", "stopper")
    assert "V at rest; 10 Ω against" in gone.reason
    assert made.circuit.part("Q1").net("b") == made.circuit.part("R1").terminals[1].net


def test_a_part_that_no_block_claims_is_kept():
    made = of(blocks=BLOCKS[:-1])

    assert entry(made, "C4").fate == "kept"
    assert entry(made, "C4").rule == "not recognised"


def test_every_part_has_exactly_one_entry():
    for detail in ("whole", "working", "principle"):
        made = of(detail)
        assert [item.part for item in made.ledger] == [part.ref for part in made.reading.circuit.parts]


def test_whole_leaves_nothing_out():
    assert of("whole").fates("omitted") == ()


def test_principle_goes_on_from_working():
    made = of("principle")

    assert {"C4", "R7"} < set(made.fates("omitted"))
    assert entry(made, "C4").detail == "working"


def test_working_proves_that_nothing_changed():
    made = of()

    assert abs(made.totals["gain dB"]) < 0.5
    assert abs(made.totals["current %"]) < 1
    assert made.proof[0].startswith("Solved again without them: ")
    assert {"gain dB", "current %", "volts", "low edge octaves", "high edge octaves"} == set(made.totals)


def test_a_divider_becomes_an_ideal_bias_source_and_the_current_at_rest_stays():
    made = of("principle")

    assert (entry(made, "R1").fate, entry(made, "R1").rule) == ("kept", "ideal bias source")
    assert (entry(made, "R2").fate, entry(made, "R2").into) == ("merged", "R1")
    assert made.circuit.part("R1").value == pytest.approx(56e3 * 12e3 / 68e3)
    assert made.sources[0].ohms == made.circuit.part("R1").value
    assert {supply.net for supply in made.circuit.supplies} == {"vcc", "bias_Q1"}
    assert abs(made.totals["current %"]) < 1


def test_a_bypassed_emitter_resistor_goes_into_the_bias_source():
    made = of("principle")

    assert (entry(made, "R4").becomes, entry(made, "C2").becomes) == ("wire", "nothing")
    assert made.circuit.part("Q1").net("e") == "gnd"
    assert abs(made.totals["gain dB"]) < 1


def test_an_emitter_resistor_that_is_not_bypassed_stays_below_the_source():
    text = STAGE.replace("C2 220u : emit gnd\n", "")
    blocks = ((*BLOCKS[0][:2], {"device": "Q1", "load": "R3", "foot": "R4"}), *BLOCKS[1:])
    made = of("principle", text, blocks)

    assert entry(made, "R4").fate == "kept"
    assert abs(made.totals["gain dB"]) < 0.5


def test_a_bias_that_no_source_can_stand_for_is_put_back():
    text = STAGE.replace("R2 12k : b0 gnd\n", "").replace("R1 56k", "R1 680k")
    blocks = (*(block for block in BLOCKS if block[0] != "divider-bias"), ("feed", "bias", {"feed": "R1"}))
    made = of("principle", text, blocks, {**LIBRARY, **library(feed={"principle": {"feed": "sets the current"}})})
    kept = entry(made, "R1")

    assert (kept.fate, kept.rule) == ("kept", "put back")
    assert kept.reason.startswith("Without it: no signal comes through, quiescent current of Q1 −")


def test_what_would_cut_the_signal_off_is_put_back():
    text = STAGE.replace("C1 4u7 : in b0", "C1 4u7 : c0 b0\nR6 2k2 : in c0")
    blocks = (*BLOCKS, ("swamping", "protection", {"swamp": "R6"}))
    made = of("principle", text, blocks, {**LIBRARY, **library(swamping={"principle": {"swamp": "steadies"}})})

    assert entry(made, "R6").reason.startswith("Without it: no signal comes through")


def test_principle_tells_by_how_much_it_is_beyond_and_through_which_part():
    blocks = (*BLOCKS, ("swamping", "protection", {"swamp": "C8"}))
    patterns = {**LIBRARY, **library(swamping={"principle": {"swamp": "steadies"}})}
    made = of("principle", STAGE + "C8 47n : col gnd\n", blocks, patterns)

    assert made.totals["gain dB"] > 1
    assert any(sentence.startswith("Most of it through C8, which alone would make: gain +") for sentence in made.proof)


def test_what_changes_too_much_is_put_back_and_named():
    text = STAGE.replace("R7 10 ", "R7 4k7 ")
    made = of(text=text)
    kept = entry(made, "R7")

    assert kept.fate == "kept" and kept.rule == "put back"
    assert "gain +" in kept.reason
    assert made.proof[-1] == "Put back, because too much changed without: R7."
    assert entry(made, "C4").fate == "omitted"


def test_a_part_goes_no_further_than_all_its_blocks_agree():
    blocks = (*BLOCKS, ("guard", "protection", {"capacitor": "C3"}))
    library_with = {**LIBRARY, **library(output_coupling={"principle": {"capacitor": "idea"}}, guard={})}
    made = of("principle", blocks=blocks, patterns=library_with)

    assert entry(made, "C3").fate == "kept"


def test_a_part_of_unknown_value_is_kept():
    made = of(text=STAGE.replace("R7 10 ", "R7 ? "))

    assert entry(made, "R7").fate == "kept"


def test_a_wire_that_would_short_an_unexplained_part_is_not_laid():
    made = of(text=STAGE + "C9 1n : b0 base\n")

    assert entry(made, "R7").fate == "kept"
    assert entry(made, "C9").fate == "kept"


def test_like_parts_in_series_merge_and_name_where_they_went():
    text = STAGE.replace("R3 3k3 : vcc col", "R3 1k : vcc mid\nR8 2k2 : mid col")
    blocks = (("common-emitter", "stage", {"device": "Q1", "load": "R3 R8", "foot": "R4", "bypass": "C2"}), *BLOCKS[1:])
    made = of("whole", text, blocks)
    merged = entry(made, "R8")

    assert (merged.fate, merged.rule, merged.into, merged.detail) == ("merged", "in series", "R3", "whole")
    assert made.circuit.part("R3").value == 3200
    assert comments(made)["R3"] == "R3, R8 in series"


def test_a_decoupling_resistor_goes_with_its_capacitor_when_little_is_lost():
    text = STAGE.replace("C4 100u : vcc gnd", "R9 10 : vcc sub\nC4 470u : sub gnd").replace(
        "R3 3k3 : vcc", "R3 3k3 : sub"
    )
    blocks = (*BLOCKS[:-1], ("supply-decoupling", "supply", {"capacitor": "C4", "resistor": "R9"}))
    patterns = library(supply_decoupling={"working": {"capacitor": "filters", "resistor": "filters"}})
    made = of(text=text, blocks=blocks, patterns={**LIBRARY, **patterns})

    assert entry(made, "R9").becomes == "wire"
    assert entry(made, "C4").fate == "omitted"
    assert made.circuit.part("R3").terminals[0].net == "vcc"


def test_a_closed_switch_in_a_block_is_a_wire():
    text = STAGE.replace("supply vcc", "supply batt") + "S1 switch closed : batt vcc\n"
    blocks = (*BLOCKS, ("switch", "supply", {"switch": "S1"}))
    made = of(text=text, blocks=blocks, patterns={**LIBRARY, **library(switch={})})

    assert (entry(made, "S1").fate, entry(made, "S1").rule) == ("omitted", "closed switch")
    assert made.circuit.part("R3").terminals[0].net == "batt"


def test_each_omission_alone_has_its_own_change():
    made = with_changes(of())

    assert abs(entry(made, "C4").changes["gain dB"]) < 0.001
    assert abs(entry(made, "R7").changes["gain dB"]) > 0.001
    assert entry(made, "Q1").changes == {}


def test_the_reduced_netlist_reads_back_and_says_what_was_left_out():
    made = of()
    text = topo.write(made.circuit, comments(made))

    assert topo.loads(text).by_ref.keys() == made.circuit.by_ref.keys()
    assert "# Left out (stopper): R7." in text


def test_reducing_the_reduced_circuit_changes_nothing():
    once = of()
    left = tuple(
        (slug, sort, {role: ref for role, ref in roles.items() if ref in once.circuit.by_ref})
        for slug, sort, roles in BLOCKS
    )
    text = topo.write(once.circuit)
    again = of(text=text, blocks=tuple(block for block in left if block[2]))

    assert again.fates("omitted") == again.fates("merged") == ()
    assert topo.write(again.circuit) == text


def test_levels_made_together_are_those_made_alone():
    working, principle = reductions(reading(STAGE, *BLOCKS), ("working", "principle"), library=LIBRARY)

    assert working.ledger == of().ledger
    assert principle.ledger == of("principle").ledger


def test_an_unknown_detail_is_wrong_use():
    with pytest.raises(UsageError, match="Allowed: principle, whole, working"):
        of("tiny")


def test_a_series_capacitor_without_voltage_becomes_a_wire():
    text = STAGE.replace("C1 4u7 : in b0", "C1 4u7 : in c0\nC8 4u7 : c0 b0\nR6 1M : c0 gnd")
    blocks = (*BLOCKS, ("input", "coupling", {"first": "C1", "leak": "R6", "second": "C8"}))
    patterns = {
        **LIBRARY,
        **library(coupling={"principle": {"capacitor": "idea"}}, input={"principle": {"first": "idea"}}),
    }
    made = of("principle", text, blocks, patterns)

    assert (entry(made, "C1").fate, entry(made, "C1").becomes) == ("omitted", "wire")


def test_a_resistor_between_base_and_emitter_becomes_nothing():
    text = STAGE.replace("R4 1k : emit gnd", "R4 1k : emit gnd\nR6 10k : base emit")
    blocks = (*BLOCKS, ("leak", "protection", {"leak": "R6"}))
    made = of("principle", text, blocks, {**LIBRARY, **library(leak={"principle": {"leak": "idea"}})})

    assert (entry(made, "R6").fate, entry(made, "R6").becomes) == ("omitted", "nothing")
    assert made.circuit.part("Q1").net("b") != made.circuit.part("Q1").net("e")


def test_a_part_that_is_asked_for_stays():
    asked = steering(reading(STAGE, *BLOCKS), keep=["c4", "R7"])
    made = reduce(reading(STAGE, *BLOCKS), library=LIBRARY, asked=asked)

    assert (entry(made, "C4").fate, entry(made, "C4").rule) == ("kept", "kept by order")
    assert made.fates("omitted") == ()


def test_a_part_that_is_asked_for_is_not_merged():
    text = STAGE.replace("R3 3k3 : vcc col", "R3 1k : vcc mid\nR8 2k2 : mid col")
    found = reading(text, *BLOCKS)

    assert reduce(found, "whole", library=LIBRARY, asked=steering(found, keep=["R8"])).fates("merged") == ()


def test_what_is_ordered_to_go_goes_and_the_proof_says_what_that_does():
    found = reading(STAGE, *BLOCKS)
    made = reduce(found, library=LIBRARY, asked=steering(found, omit=["C2"]))

    assert (entry(made, "C2").fate, entry(made, "C2").rule) == ("omitted", "left out by order")
    assert made.totals["gain dB"] < -10
    assert made.proof[-1] == "More than `working` allows, by what was left out by order: C2."


def test_a_block_in_focus_is_whole_and_the_rest_is_the_principle():
    found = reading(STAGE, *BLOCKS)
    made = reduce(found, "principle", library=LIBRARY, asked=steering(found, focus=["divider-bias", "5"]))

    assert {entry(made, ref).rule for ref in ("R1", "R2", "R7")} == {"shown whole"}
    assert entry(made, "C4").fate == "omitted"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"keep": ["R77"]}, "There is no part R77. Did you mean R7"),
        ({"omit": ["nothing"]}, "There is no part nothing."),
        ({"focus": ["divider"]}, "There is no block divider in this circuit. Did you mean divider-bias"),
        ({"focus": ["9"]}, "There is no block 9. They are numbered 1 to 6."),
        ({"keep": ["R7"], "omit": ["r7"]}, "R7 is asked to be kept and to be left out."),
    ],
)
def test_an_unknown_name_is_wrong_use_with_the_nearest_names(words, message):
    with pytest.raises(UsageError) as raised:
        steering(reading(STAGE, *BLOCKS), **words)
    assert str(raised.value).startswith(message)


def test_the_order_of_the_lines_does_not_change_the_result():
    head, parts = STAGE.strip().splitlines()[:4], STAGE.strip().splitlines()[4:]
    for detail in ("working", "principle"):
        there, back = of(detail), of(detail, text="\n".join([*head, *reversed(parts)]))
        assert sorted(there.fates("omitted")) == sorted(back.fates("omitted"))
        assert there.totals == pytest.approx(back.totals, abs=1e-4)


def test_each_device_has_its_own_change():
    made = with_changes(of())

    assert set(entry(made, "R7").devices) == {"Q1"}
    assert entry(made, "R7").number == 7
    assert entry(made, "R7").test["drop volts"] < 5e-3


def test_a_feedback_capacitor_that_acts_above_the_band_stays_in_a_circuit_that_works():
    text = STAGE + "C8 10p : col b0\n"
    blocks = (*BLOCKS, ("dominant-pole", "feedback", {"capacitor": "C8"}))
    patterns = {**LIBRARY, **library(dominant_pole={"principle": {"capacitor": "acts above the band"}})}

    assert entry(of("working", text, blocks, patterns), "C8").fate == "kept"
    assert entry(of("principle", text, blocks, patterns), "C8").fate == "omitted"
