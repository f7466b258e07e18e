import math
from pathlib import Path

import pytest
from pytest import approx

import topo
from topo.reading.driven import HALF, TENTH, drive

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def hall():
    return drive(topo.read(topo.load(str(ROOT / "samples" / "hall-amplifier.net"))))


def driven(text):
    return drive(topo.read(topo.loads(text)))


def test_a_circuit_without_ports_is_not_driven():
    found = drive(topo.read(topo.load(str(ROOT / "samples" / "beacon-flasher.net"))))

    assert (found.status, dict(found.cycles), found.stages) == ("no ports", {}, ())
    assert found.missing


def test_the_power_of_a_push_pull_sample_is_near_its_formula():
    reading = topo.read(topo.load(str(ROOT / "samples" / "intercom.net")))
    found = drive(reading)
    formula = next(item.most_power for item in reading.classes if item.most_power)

    # Without losses V^2 / 2R; crests that are cut until 10 % distortion carry up to a third more.
    assert formula < found.cycles[1.0].output_power < 1.35 * formula
    assert found.generator == reading.views.generator


def test_cycles_are_taken_at_half_and_at_a_tenth_of_the_power():
    found = drive(topo.read(topo.load(str(ROOT / "samples" / "intercom.net"))))
    full = found.cycles[1.0]

    for share in (HALF, TENTH):
        assert found.cycles[share].amplitude == approx(full.amplitude * math.sqrt(share))
        assert found.cycles[share].thd < full.thd


def test_the_devices_that_a_pair_drives_through_are_not_counted_with_it(hall):
    assert ("Q9", "Q10") in [stage.devices for stage in hall.stages]
    pair = next(stage for stage in hall.stages if stage.devices == ("Q9", "Q10"))
    assert (pair.letter, pair.angle) == ("AB", approx(180, abs=5))
    assert pair.half_angle >= pair.angle


def test_less_current_at_rest_means_more_crossover_distortion(hall):
    table = hall.tables[0]
    idle = [sum(item.rest[ref] for ref in table.devices) for item in table.settings]
    distortion = [item.thd for item in table.settings]

    assert (table.trimmer, table.devices, table.typed) == ("VR1", ("Q9", "Q10"), 0.4)
    assert idle == sorted(idle)
    assert distortion == sorted(distortion, reverse=True)
    assert any(item.at == table.typed for item in table.settings)


def test_what_cannot_be_solved_says_why():
    found = driven("supply vcc 9V\ninput a\noutput c\nR1 ? : vcc a\nQ1 npn : b=a c=c e=gnd\nR2 1k : vcc c")

    assert found.status == "not found"
    assert "R1 has no value" in found.missing[0]


def test_an_output_that_drives_nothing_is_loaded_as_the_reading_assumes():
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
        {load}
        """
    open_end, loaded = driven(text.format(load="")), driven(text.format(load="R5 22k : out gnd"))

    # Ten times the output impedance of 4.7 kilohm.
    assert open_end.load == approx(47e3, rel=0.1)
    assert open_end.cycles[1.0].load_ohms == approx(open_end.load)
    assert loaded.load is None
    assert loaded.cycles[1.0].load_ohms == approx(22e3)
