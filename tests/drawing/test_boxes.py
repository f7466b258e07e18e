from functools import cache
from pathlib import Path

import topo
from topo.drawing import block_map, block_map_svg

SAMPLES = Path(__file__).parents[2] / "samples"


@cache
def mapped(name):
    return block_map(topo.read(topo.load(SAMPLES / f"{name}.net")))


def names(found):
    return {box.key: box.name for box in found.boxes}


def signal(found):
    row = [arrow for arrow in found.arrows if arrow.sort == "signal"]
    keys = [row[0].tail, *(arrow.head for arrow in row)]
    return [names(found)[key] for key in keys]


def test_stages_stand_in_signal_order_between_input_and_loudspeaker():
    row = signal(mapped("intercom"))

    assert row[0] == "mic" and row[-1] == "LS1"
    assert row.index("Phase splitting: centre-tapped driver transformer") == len(row) - 3


def test_what_couples_two_stages_is_written_on_their_arrow():
    labels = [arrow.label for arrow in mapped("intercom").arrows if arrow.sort == "signal"]

    assert labels[:2] == ["C2", "C4"]


def test_each_bias_regulator_points_at_its_own_stage():
    found = mapped("hf-link")
    served = {arrow.tail: names(found)[arrow.head] for arrow in found.arrows if arrow.sort == "bias"}

    assert sorted(name.partition(":")[0] for name in served.values()) == ["Driver", "Output"]


def test_overall_feedback_leads_from_the_output_back_to_the_input_stage():
    found = mapped("hall-amplifier")
    there, back = (arrow for arrow in found.arrows if arrow.sort == "feedback")

    assert names(found)[there.tail].startswith("Output") or "output" in names(found)[there.tail].lower()
    assert back.returns and names(found)[back.head] == "Long-tailed pair"


def test_a_stage_says_which_rails_feed_it():
    found = mapped("hall-amplifier")
    output = next(box for box in found.boxes if box.sort == "output")

    assert output.rails == ("vp 24 V", "vn −24 V")


def test_a_circuit_without_a_signal_path_still_has_a_map():
    found = mapped("beacon-flasher")

    assert [arrow for arrow in found.arrows if arrow.sort == "signal"] == []
    assert block_map_svg(found).startswith("<svg")


def test_every_part_of_a_stage_stands_in_its_box():
    for box in mapped("hf-link").boxes:
        if box.row == "signal" and not box.port:
            assert box.parts
