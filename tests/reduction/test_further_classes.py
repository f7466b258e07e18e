"""Classes that rest on where a part lies and on what happens elsewhere: each with one that goes and one that stays."""

import pytest
from hand_made import library, reading

import topo
from topo.matching import library as shipped
from topo.reading import read
from topo.reduction import comments, reduce

STAGE = """
supply vcc 12V
input in
output out
signal 300Hz to 3.4kHz
C1 4u7 : in base
R1 56k : vcc base
R2 12k : base gnd
Q1 npn : b=base c=col e=emit
R3 3k3 : {top} col
R4 1k : emit gnd
C2 220u : emit gnd
C3 4u7 : col out
R5 22k : out gnd
"""
NEEDED = "C1 R1 R2 Q1 R3 R4 C2 C3 R5"


def of(text, detail="working", needed=NEEDED):
    """A reduction in which a block needs the parts named, and no pattern allows anything."""
    return reduce(reading(text, ("stage", "stage", {"all": needed})), detail, library=library(stage={}))


def fully(text, detail="working"):
    """A reduction by the shipped patterns."""
    return reduce(read(topo.loads(text), shipped()), detail, library=shipped())


def entry(made, ref):
    return next(item for item in made.ledger if item.part == ref)


def numbers(made, ref):
    found = entry(made, ref)
    return found.fate, found.number


# 6, supply section

MAINS = """
supply vcc 12V
J1 plug : live neutral
F1 fuse : live l1
T1 transformer 19:1+1 : l1 neutral | a gnd b
D1 rectifier : a vcc
D2 rectifier : b vcc
C9 1000u : vcc gnd
"""


def test_a_supply_section_that_makes_given_rails_is_drawn_as_a_rail_with_its_voltage():
    made = fully(MAINS + STAGE.format(top="vcc").replace("supply vcc 12V\n", ""))

    assert {ref for ref in ("J1", "F1", "T1", "D1", "D2") if numbers(made, ref) == ("omitted", 6)} == {
        "J1",
        "F1",
        "T1",
        "D1",
        "D2",
    }
    assert entry(made, "T1").reason == "It is joined to nothing but vcc at 12 V, which is drawn as given."
    assert made.fates("kept")[0] == "C1" and abs(made.totals["gain dB"]) < 0.01


def test_a_supply_section_whose_winding_also_feeds_the_circuit_stays():
    text = MAINS.replace("| a gnd b", "| a gnd b | h1 gnd").replace("19:1+1", "19:1+1:1") + STAGE.format(
        top="vcc"
    ).replace("supply vcc 12V\n", "")
    made = fully(text + "R20 10k : h1 base\n")

    assert entry(made, "T1").fate == entry(made, "D1").fate == "kept"


# 9, current sensing


def test_a_sensing_resistor_in_a_feed_is_a_wire_and_tells_its_share_of_the_rail():
    made = of(STAGE.format(top="top").replace("R1 56k : vcc", "R1 56k : top") + "R9 10 : vcc top\n")

    assert numbers(made, "R9") == ("omitted", 9) and entry(made, "R9").becomes == "wire"
    assert "of the rail" in entry(made, "R9").reason
    assert entry(made, "R9").test["share"] < 0.02


def test_a_resistor_in_a_feed_that_drops_much_of_the_rail_stays():
    made = of(STAGE.format(top="top").replace("R1 56k : vcc", "R1 56k : top") + "R9 470 : vcc top\n")

    assert entry(made, "R9").fate == "kept"


def test_a_sensing_resistor_in_an_emitter_lead_goes_only_where_it_does_not_degenerate():
    text = STAGE.format(top="vcc").replace("R4 1k : emit gnd", "R4 1k : foot gnd").replace("220u : emit", "220u : foot")
    small, large = of(text + "R9 1 : emit foot\n"), of(text + "R9 10 : emit foot\n")
    grounded = (
        STAGE.format(top="vcc").replace("R4 1k : emit gnd", "R4 R47 : emit gnd").replace("C2 220u : emit gnd\n", "")
    )
    grounded = grounded.replace("R2 12k : base gnd\n", "").replace("R1 56k", "R1 680k")
    sensed = of(grounded, needed="C1 R1 Q1 R3 C3 R5")

    assert entry(small, "R9").fate == entry(large, "R9").fate == "kept"  # neither end on a rail or ground
    assert numbers(sensed, "R4") == ("omitted", 9)
    assert entry(sensed, "R4").test["slope times ohm"] < 0.1
    degenerating = of(grounded.replace("R4 R47", "R4 3R3"), needed="C1 R1 Q1 R3 C3 R5")
    assert entry(degenerating, "R4").fate == "kept"


# 17, neutralising

TUNED = """
supply vcc 12V
input in
output out
signal 450kHz to 460kHz
C1 10n : in base
R1 56k : vcc base
R2 12k : base gnd
Q1 npn : b=base c=col e=emit
R4 1k : emit gnd
C2 100n : emit gnd
T1 transformer 10+10:4 primary=1m : col vcc far | out gnd
C3 120p : col far
R5 1k : out gnd
C9 {value} : far base
"""
TUNED_NEEDS = "C1 R1 R2 Q1 R4 C2 T1 C3 R5"


def test_neutralising_that_brings_back_next_to_nothing_goes_for_the_principle():
    made = of(TUNED.format(value="0.1p"), "principle", TUNED_NEEDS)

    assert numbers(made, "C9") == ("omitted", 17) and entry(made, "C9").detail == "principle"
    assert entry(made, "C9").test["share"] <= 0.05
    assert entry(of(TUNED.format(value="0.1p"), "working", TUNED_NEEDS), "C9").fate == "kept"


def test_neutralising_that_brings_back_much_stays_at_every_detail():
    assert entry(of(TUNED.format(value="22p"), "principle", TUNED_NEEDS), "C9").fate == "kept"


# 20, leak of a compound device

PAIR = STAGE.format(top="vcc").replace(
    "Q1 npn : b=base c=col e=emit", "Q1 npn : b=base c=col e=j\nQ2 npn : b=j c=col e=emit"
)


def test_a_leak_that_carries_little_of_the_first_emitter_current_goes():
    made = of(PAIR + "R9 10M : j emit\n", needed=NEEDED + " Q2")

    assert numbers(made, "R9") == ("omitted", 20)
    assert "of the emitter current of Q1" in entry(made, "R9").reason


def test_a_leak_that_carries_much_of_the_first_emitter_current_stays():
    made = of(PAIR + "R9 100k : j emit\n", needed=NEEDED + " Q2")

    assert entry(made, "R9").fate == "kept"


# 23, open contacts


def test_what_hangs_behind_an_open_switch_goes_with_it():
    made = of(STAGE.format(top="vcc") + "S1 switch open : col sw\nC8 10n : sw sx\nR8 1k : sx gnd\n")

    assert [numbers(made, ref) for ref in ("S1", "C8", "R8")] == [("omitted", 23)] * 3
    assert entry(made, "C8").reason == "S1 stands open, so that no current flows here."
    assert made.totals["gain dB"] == 0


def test_what_is_joined_to_the_live_circuit_elsewhere_stays_behind_an_open_switch():
    made = of(STAGE.format(top="vcc") + "S1 switch open : col sw\nC8 10n : sw base\nR8 100k : sw gnd\n")

    assert entry(made, "S1").fate == "omitted"
    assert entry(made, "C8").fate == entry(made, "R8").fate == "kept"


def test_nothing_goes_behind_a_closed_switch():
    made = of(STAGE.format(top="vcc") + "S1 switch closed : col sw\nC8 10n : sw sx\nR8 1k : sx gnd\n")

    assert {entry(made, ref).number for ref in ("C8", "R8")}.isdisjoint({23})
    assert entry(made, "R8").fate == "kept"


# 24, tone control set flat


@pytest.mark.parametrize("farad, fate", [("220p", "omitted"), ("100n", "kept")])
def test_a_tone_control_goes_where_it_is_flat_as_it_is_set(farad, fate):
    made = of(STAGE.format(top="vcc") + f"C8 {farad} : col tone\nVR1 potentiometer 22k at 90% : 1=tone w=gnd 2=nc\n")

    assert entry(made, "C8").fate == entry(made, "VR1").fate == fate
    if fate == "omitted":
        assert entry(made, "C8").number == 24 and "With VR1 at 90 %" in entry(made, "C8").reason


# 25, the other channel


def _channel(number, load="3k3"):
    stage = STAGE.format(top="vcc").replace("3k3", load)
    lines = [line for line in stage.splitlines() if line and not line.startswith(("supply", "signal"))]
    for name in ("in", "base", "col", "emit", "out"):
        lines = [
            " ".join(
                f"{w}{number}"
                if w == name
                else w.replace(f"={name}", f"={name}{number}")
                if w.endswith(f"={name}")
                else w
                for w in line.split()
            )
            for line in lines
        ]
    return [line if line.startswith(("input", "output")) else line[0] + str(number) + line[1:] for line in lines]


def _stereo(load="3k3"):
    head = ["supply vcc 12V", "signal 300Hz to 3.4kHz"]
    return "\n".join([*head, *_channel(1), *_channel(2, load)]) + "\n"


def test_a_second_channel_that_is_alike_part_for_part_goes():
    made = fully(_stereo())
    first = [ref for ref in made.fates("omitted") if entry(made, ref).number == 25]

    assert first == ["C21", "R21", "R22", "Q21", "R23", "R24", "C22", "C23", "R25"]
    assert entry(made, "Q21").rule == "the other channel"
    assert "as" in entry(made, "Q21").reason and made.missing == ""
    assert len(made.circuit.inputs) == len(made.circuit.outputs) == 1


def test_a_second_channel_of_which_one_value_differs_stays():
    made = fully(_stereo("2k7"))

    assert entry(made, "Q21").fate == "kept"


# 26, damping across a winding

WOUND = (
    TUNED.replace("C9 {value} : far base\n", "")
    .replace("C3 120p : col far\n", "{across}\n")
    .replace("450kHz to 460kHz", "1kHz to 10kHz")
    .replace("primary=1m", "primary=2")
    .replace("C1 10n", "C1 10u")
    .replace("C2 100n", "C2 100u")
)


@pytest.mark.parametrize(
    "across, fate",
    [
        ("R9 1M : col vcc", "omitted"),
        ("R9 10k : col vcc", "kept"),
        ("C9 10p : col vcc", "omitted"),
        ("C9 10n : col vcc", "kept"),
    ],
)
def test_damping_across_a_winding_goes_where_it_takes_next_to_nothing(across, fate):
    made = of(WOUND.format(across=across), needed="C1 R1 R2 Q1 R4 C2 T1 R5")
    found = entry(made, across.split()[0])

    assert (found.fate, found.number) == (fate, 26 if fate == "omitted" else 0)


# 27, balance trimmers

BALANCED = """
supply vcc 12V
supply vee -12V
input in
output out
signal 300Hz to 3.4kHz
C1 4u7 : in b1
R1 47k : b1 gnd
R2 47k : b2 gnd
Q1 npn : b=b1 c=vcc e=e1
Q2 npn : b=b2 c=out e=e2
R3 4k7 : vcc out
VR1 trimmer {ohms} at {at} : 1=e1 w=tail 2=e2
R4 10k : tail vee
"""


def balanced(ohms, at):
    return of(BALANCED.format(ohms=ohms, at=at), needed="C1 R1 R2 Q1 Q2 R3 R4")


def test_a_balance_trimmer_at_its_middle_that_moves_next_to_nothing_is_a_wire():
    made = balanced("2", "50%")

    assert numbers(made, "VR1") == ("omitted", 27)
    assert made.circuit.part("Q1").net("e") == made.circuit.part("Q2").net("e")
    assert abs(made.totals["current %"]) < 5


@pytest.mark.parametrize("ohms, at", [("470", "50%"), ("2", "20%")])
def test_a_balance_trimmer_that_matters_or_is_off_its_middle_stays(ohms, at):
    assert entry(balanced(ohms, at), "VR1").fate == "kept"


# 12, at full swing


def clamped(diode):
    return reduce(
        reading(
            STAGE.format(top="vcc") + diode, ("stage", "stage", {"all": NEEDED}), ("guard", "protection", {"d": "D1"})
        ),
        library=library(stage={}, guard={"working": {"d": "off in normal work"}}),
    )


def test_a_protection_diode_that_stays_off_at_both_crests_goes_with_its_volts():
    gone = entry(clamped("D1 diode : col vcc\n"), "D1")

    assert (gone.fate, gone.number) == ("omitted", 12)
    assert "at the crests of a full swing" in gone.reason
    assert gone.test["forward volts"] < gone.test["crest volts"] <= gone.test["limit volts"]


def test_a_protection_diode_that_conducts_at_a_crest_stays_at_working():
    assert entry(clamped("D1 diode : out gnd\n"), "D1").fate == "kept"


# what is written


@pytest.mark.parametrize("text", [_stereo(), MAINS + STAGE.format(top="vcc").replace("supply vcc 12V\n", "")])
def test_what_is_left_reads_back_and_reduces_no_further(text):
    once = fully(text)
    again = reduce(read(topo.loads(topo.write(once.circuit, comments(once))), shipped()), library=shipped())

    assert again.fates("omitted") == again.fates("merged") == ()
