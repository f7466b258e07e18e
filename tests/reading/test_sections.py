"""The sections of whole receivers: silicon, germanium with positive earth, valves; with and without section lines."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from topo.netlist import load, loads
from topo.reading import read

ROOT = Path(__file__).resolve().parents[2]
# Worked out by hand from the drawings: what each part of the set belongs to.
RECEIVERS = {
    "samples/watch-receiver.net": {
        "aerial circuit": "AE1 T1 C2 C3",
        "RF amplifier": "R1 R2 C4 Q1 R3 C5 T2 C6 C7",
        "mixer": "R5 R6 C9 Q2 R7 C10 T4 C16",
        "local oscillator": "T3 C11 C12 Q3 R8 R9 C13 R10 C14 R11 ZD1 C15",
        "IF amplifier": "Q4 R12 C18 T5 C20 C21 R13 R14 C22 Q5 R15 C23 T6 C24",
        "detector": "D1 C25 R16 C26",
        "AGC line": "R17 C27 R18",
        "volume control": "VR1",
        "tone control": "C33 VR2",
        "audio driver": "C28 R19 R20 Q6 R21 C29 R22 C30 R29 C34 R23 R24 Q7 R25 C31 T7",
        "output": "R26 D2 C32 Q8 Q9 R27 R28 T8 LS1",
        "supply": "S1 C36 C37 R4 C8 R30 C35",
    },
    "tests/reading/receivers/kitchen-wireless.net": {
        "aerial circuit": "T1 AE1 C1 C2 C3",
        "converter": "R1 R2 C4 Q1 R3 C5 T2 C6 C7 C8 T3 C9 R4 C10 D2 R30 C40",
        "IF amplifier": "Q2 R5 C11 T4 C12 C13 R6 R7 C14 R8 R9 C15 Q3 R10 C16 T5 C17 C18 R11",
        "detector": "D1 C19 R12 C20",
        "AGC line": "R13 C21 R14",
        "volume control": "VR1",
        "tone control": "C25 VR2",
        "audio driver": "C22 R15 R16 Q4 R17 C23 R18 R19 C24 C26 R20 R21 Q5 R22 C27 T6 C28",
        "output": "R23 R24 TH1 Q6 Q7 R25 T7 C29 LS1",
        "supply": "S1 C38 C39",
    },
    "tests/reading/receivers/sitting-room-receiver.net": {
        "aerial circuit": "AE1 C1 T1 C2 C3",
        "mixer": "V1 R1 C5 R2 C6 T3 C12 C13 R5 C14",
        "local oscillator": "V2 T2 C7 C8 C9 C10 R3 R4 C11",
        "IF amplifier": "V3 R6 C15 R7 C16 R19 C32 T4 C18 C19",
        "detector": "D1 R9 C20 C21",
        "AGC line": "R8 C17 C22 D2 R10 R18 C31",
        "volume control": "VR1",
        "tone control": "C28 VR2",
        "audio driver": "C23 R11 V4 R12 C24 R13 C25 R14 C26",
        "output": "C27 R15 R16 V5 R17 C29 T5 C30 LS1",
        "supply": "PL1 S1 T9 D5 D6 C50 L9 C51 R50 LP1",
    },
}
PATHS = {
    "samples/watch-receiver.net": "AE1 T1 Q1 T2 Q2 T4 Q4 T5 Q5 T6 D1 R16 VR1 C28 Q6 C30 Q7 T7 Q8|Q9 T8 LS1",
    "tests/reading/receivers/kitchen-wireless.net": (
        "AE1 C1 T1 Q1 T3 Q2 T4 Q3 T5 D1 R12 VR1 C22 Q4 C26 Q5 T6 Q6|Q7 T7 LS1"
    ),
    "tests/reading/receivers/sitting-room-receiver.net": ("AE1 C1 T1 V1 T3 V3 T4 D1 R9 VR1 C23 V4 C27 R16 V5 T5 LS1"),
}
NAMES = sorted(RECEIVERS)


@cache
def plain(name):
    return read(load(ROOT / name))


def with_section_lines(name, moved=None):
    """The receiver with its parts under `section` lines; `moved` puts a part under another section."""
    text = (ROOT / name).read_text()
    of = {
        line.split()[0]: line for line in text.splitlines() if " : " in line and not line.startswith(("#", "circuit"))
    }
    rest = [line for line in text.splitlines() if line not in of.values()]
    groups = {section: parts.split() for section, parts in RECEIVERS[name].items()}
    for ref, target in (moved or {}).items():
        groups = {section: [part for part in parts if part != ref] for section, parts in groups.items()}
        groups[target].append(ref)
    for section, parts in groups.items():
        rest += [f"section {section}", *(of[ref] for ref in parts)]
    return read(loads("\n".join(rest)))


def found(reading):
    return {section.name: set(section.parts) for section in reading.sections}


@pytest.mark.parametrize("name", NAMES)
def test_a_receiver_of_seventy_parts_or_more_is_sectioned_without_section_lines(name):
    reading = plain(name)

    assert len(reading.circuit.parts) >= 70
    assert found(reading) == {section: set(parts.split()) for section, parts in RECEIVERS[name].items()}


@pytest.mark.parametrize("name", NAMES)
def test_each_part_belongs_to_one_section(name):
    reading = plain(name)

    assert sorted(ref for section in reading.sections for ref in section.parts) == sorted(
        part.ref for part in reading.circuit.parts
    )


@pytest.mark.parametrize("name", NAMES)
def test_section_lines_that_are_right_change_nothing_and_draw_no_warning(name):
    reading = with_section_lines(name)

    assert found(reading) == {section: set(parts.split()) for section, parts in RECEIVERS[name].items()}
    assert not [problem for problem in reading.warnings if problem.code == "section"]


def test_a_device_under_the_wrong_section_line_is_named_and_stays_what_it_is():
    reading = with_section_lines("samples/watch-receiver.net", {"Q4": "mixer"})

    assert [problem.message for problem in reading.warnings if problem.code == "section"] == [
        "Q4 is drawn in the section mixer, but works as part of the IF amplifier."
    ]
    assert "Q4" in found(reading)["IF amplifier"]


@pytest.mark.parametrize("name", NAMES)
def test_the_path_leads_through_mixer_and_detector_to_the_loudspeaker(name):
    steps = ["|".join("+".join(side) for side in step.sides) for step in plain(name).path]

    assert " ".join(steps) == PATHS[name]


@pytest.mark.parametrize("name", NAMES)
def test_a_receiver_is_called_one(name):
    assert plain(name).summary.startswith("A superheterodyne receiver")


@pytest.mark.parametrize("name", NAMES)
def test_the_oscillator_stands_above_the_signal_by_the_intermediate_frequency(name):
    tuned = {section.name: section.frequency for section in plain(name).sections if section.frequency}
    signal = tuned.get("RF amplifier") or tuned["aerial circuit"]
    oscillator = tuned.get("local oscillator") or tuned["converter"]
    # 455 kHz and thereabouts: the customary intermediate frequency (common practice).
    assert tuned["IF amplifier"] == pytest.approx(455e3, rel=0.02)
    assert oscillator - signal == pytest.approx(tuned["IF amplifier"], rel=0.25)


@pytest.mark.parametrize(
    ("name", "stages"), [(NAMES[0], {"Q4"}), (NAMES[1], {"Q2"}), (NAMES[2], {"V1", "V3"})], ids=NAMES
)
def test_the_gain_control_is_feedback_that_returns_to_the_stages_it_controls(name, stages):
    line = next(block for block in plain(name).blocks if block.sort == "feedback" and block.returns_to)

    assert set(line.returns_to) == stages


@pytest.mark.parametrize("name", NAMES)
def test_every_part_of_a_receiver_is_recognised_but_for_few(name):
    assert len(plain(name).not_recognised) <= 4


def test_an_amplifier_has_no_sections():
    assert read(load(ROOT / "samples" / "intercom.net")).sections == ()


DIRECT_CONVERSION = """
circuit Lantern Rock, boat-house receiver
supply vcc 9V
signal 6.9MHz to 7.3MHz
AE1 antenna 50 : a gnd
T0 transformer 8:60:8 primary=80n k=0.98 : a gnd | rf gnd | b n
C0 110p : rf gnd
R5 33k : vcc n
R6 10k : n gnd
C9 22n : n gnd
Q2 npn : b=b c=c e=e
R7 1k5 : e gnd
C10 100p : e e3
R8 4k7 : vcc c
C16 22n : c gnd
C17 4u7 : c b4
L1 4u7 rdc=1ohm : top gnd
C11 220p : top e3
C12 220p : e3 gnd
C13 100p : top b3
Q3 npn : b=b3 c=vcc e=e3
R9 33k : vcc b3
R10 33k : b3 gnd
R11 1k5 : e3 gnd
R12 82k : vcc b4
R13 18k : b4 gnd
Q4 npn : b=b4 c=c4 e=e4
R14 3k3 : vcc c4
R15 680 : e4 gnd
C18 47u : e4 gnd
C19 4u7 : c4 ph
LS1 headphones 600 : ph gnd
"""


def test_a_direct_conversion_receiver_has_a_beat_oscillator_and_no_intermediate_frequency():
    reading = read(loads(DIRECT_CONVERSION))

    assert [section.name for section in reading.sections] == [
        "aerial circuit",
        "detector",
        "beat oscillator",
        "audio driver",
    ]
    assert [ref for step in reading.path for ref in step.refs] == ["AE1", "T0", "Q2", "C17", "Q4", "C19", "LS1"]
