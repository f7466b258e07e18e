import re
from pathlib import Path

import topo
from topo.explanation import explain

ROOT = Path(__file__).resolve().parents[2]


def signal_of(name):
    reading = topo.read(topo.load(str(ROOT / "samples" / f"{name}.net")))
    return explain(reading, (), signal=True).signal


def words(signal):
    return " ".join(statement.text for statement in signal.statements)


def test_nothing_is_said_of_a_drive_that_was_not_asked_for():
    reading = topo.read(topo.load(str(ROOT / "samples" / "intercom.net")))
    explanation = explain(reading, ())

    assert (explanation.driven, explanation.signal) == (None, None)


def test_power_efficiency_conduction_and_distortion_are_told():
    said = words(signal_of("intercom"))

    assert "into 8 Ω" in said
    assert "at 10 % distortion" in said
    assert "an efficiency of 60 %" in said
    assert "Q3 and Q4: current for" in said and "class AB" in said
    assert "Q1: current through the whole cycle up to full drive, class A." in said
    assert "real distortion is more" in said


def test_a_circuit_without_ports_says_what_the_file_needs():
    assert words(signal_of("beacon-flasher")).startswith("Not calculated: the file needs an input and an output")


def test_distortion_over_the_bias_is_a_table_of_each_trimmer():
    signal = signal_of("hall-amplifier")
    table = signal.tables[0]

    assert table.caption.startswith("VR1")
    assert table.head[1] == "Q9 and Q10 at rest, in all"
    assert [row[-1] for row in table.rows].count("as typed") == 1
    assert all(len(row) == len(table.head) for row in table.rows)


def test_figures_have_three_digits_at_most():
    for name in ("intercom", "gate-speaker-class-b"):
        for figure in re.findall(r"\d+\.?\d*", words(signal_of(name))):
            assert len(figure.replace(".", "").lstrip("0")) <= 3, figure


def test_a_load_that_is_assumed_is_said_to_be():
    text = """
        supply vcc 12V
        input in
        output out
        signal 100Hz to 10kHz
        C1 10u : in b
        R1 47k : vcc b
        R2 10k : b gnd
        Q1 npn : b=b c=c e=e
        R3 4.7k : vcc c
        R4 1k : e gnd
        C2 10u : c out
    """
    said = words(explain(topo.read(topo.loads(text)), (), signal=True).signal)

    assert "into an assumed 47 kΩ" in said
