import subprocess
import sys
import xml.etree.ElementTree as ElementTree

import pytest

from topo.drawing import rendering
from topo.drawing.boxes import Arrow, BlockMap, Box
from topo.drawing.map_sheet import block_map_svg
from topo.drawing.rendering import DrawingError


def small_map(name='class <B> & "pair"'):
    boxes = (
        Box("in", "mic", ("MK1",), "port", "signal", port=True),
        Box("b1", "driver", ("Q1", "R1"), "stage", "signal", ("class A",), ("vcc 9 V",)),
        Box("b2", name, ("Q2", "Q3"), "output", "signal", ("class B",), ("vcc 9 V", "vee −9 V")),
        Box("b3", "diode bias", ("D1",), "bias", "support"),
        Box("b4", "overall feedback", ("R9",), "feedback", "feedback"),
    )
    arrows = (
        Arrow("in", "b1", "signal", "C1"),
        Arrow("b1", "b2", "signal", "T1"),
        Arrow("b3", "b2", "bias"),
        Arrow("b2", "b4", "feedback"),
        Arrow("b4", "b1", "feedback", returns=True),
    )
    return BlockMap("A small amplifier", boxes, arrows)


def texts(svg):
    return [node.text for node in ElementTree.fromstring(svg.encode()).iter() if node.tag.endswith("}text")]


def test_every_box_says_its_name_and_parts():
    said = texts(block_map_svg(small_map()))

    for words in ("driver", 'class <B> & "pair"', "Q1 R1", "diode bias", "overall feedback", "class A", "vcc 9 V"):
        assert words in said


def test_the_legend_tells_only_of_what_is_drawn():
    said = texts(block_map_svg(small_map()))

    assert "bias feed" in said and "feedback path" in said
    assert "supply" not in said and "supply feed" not in said


def test_a_bias_circuit_stands_below_the_stage_that_it_serves():
    root = ElementTree.fromstring(block_map_svg(small_map()).encode())
    heights = {
        group.find("{*}title").text: float(group.findall("{*}rect")[0].get("y")) for group in root.findall("{*}g")
    }

    assert heights["diode bias"] > heights["driver"]
    assert heights["overall feedback"] > heights["diode bias"]


def test_the_same_map_gives_the_same_bytes():
    code = (
        "import sys; sys.path.insert(0, 'tests/drawing'); import test_block_map_sheet as t;"
        "from topo.drawing.map_sheet import block_map_svg; sys.stdout.write(block_map_svg(t.small_map()))"
    )
    drawn = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin", "PYTHONPATH": ".", "PYTHONIOENCODING": "utf-8"},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "42")
    }

    assert len(drawn) == 1


def test_a_map_without_arrows_is_drawn():
    box = Box("b1", "multivibrator", ("Q1", "Q2"), "stage", "support")

    assert "multivibrator" in texts(block_map_svg(BlockMap("", (box,), ())))


def test_a_map_of_nothing_is_drawn():
    assert block_map_svg(BlockMap("Nothing", (), ())).startswith("<svg")


def test_a_missing_graphviz_is_told_with_its_mend(monkeypatch):
    monkeypatch.setattr(rendering.shutil, "which", lambda *_, **__: None)

    with pytest.raises(DrawingError, match="install graphviz-pure with pip"):
        block_map_svg(small_map())
