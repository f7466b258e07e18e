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
