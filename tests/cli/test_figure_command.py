import json
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples" / "gate-speaker-class-ab.net"
STAGE = "circuit A & B <stage>\nsupply vcc 9V\nR1 1k : vcc c\nQ1 npn : b=b c=c e=gnd\nR2 100k : vcc b\n"


def run(*arguments, **options):
    return CliRunner().invoke(main, ["figure", *map(str, arguments)], catch_exceptions=False, **options)


def test_a_figure_is_svg_with_title_and_alternative_text():
    result = run(SAMPLE)
    assert result.exit_code == 0
    root = ElementTree.fromstring(result.output)
    assert root.find("{*}title").text == "Gate loudspeaker, second build with diode bias"
    assert "Q2" in root.find("{*}desc").text


def test_what_a_user_typed_is_quoted():
    result = run("-", input=STAGE)
    assert ElementTree.fromstring(result.output).find("{*}title").text == "A & B <stage>"


def test_a_figure_is_written_to_the_file(tmp_path):
    target = tmp_path / "stage.svg"
    result = run("-", "-o", target, input=STAGE)
    assert (result.exit_code, result.output) == (0, "")
    assert target.read_text(encoding="utf-8").startswith("<svg")


def test_the_width_is_that_which_was_asked_for():
    assert 'width="85mm"' in run("-", "--width", "85mm", input=STAGE).output
    assert 'width="85mm"' in run("-", "--width", "8.5 cm", input=STAGE).output


def test_zigzag_resistors_are_drawn_where_they_are_asked_for():
    assert 'data-symbol="zigzag"' in run("-", "--symbols", "ieee", input=STAGE).output


def test_a_block_is_drawn_alone():
    result = run(SAMPLE, "--focus", "diode")
    assert result.exit_code == 0
    assert 'data-ref="D1"' in result.output
    assert 'data-ref="LS1"' not in result.output


def test_a_figure_is_written_as_pdf_and_as_bitmap(tmp_path):
    for name, start in (("stage.pdf", b"%PDF"), ("stage.png", b"\x89PNG")):
        result = run("-", "--dpi", "150", "-o", tmp_path / name, input=STAGE)
        assert (result.exit_code, result.output) == (0, "")
        assert (tmp_path / name).read_bytes().startswith(start)


def test_blocks_are_tinted_and_values_written_where_they_are_asked_for():
    result = run("-", "--blocks", "--values", "dc", "--json", input=STAGE)
    told = json.loads(result.output)
    assert told["volts"]["c"] > 0
    assert told["metrics"]["text_overlaps"] == 0
    assert told["blocks"][0]["parts"]


def test_a_plot_is_drawn_in_place_of_the_schematic():
    result = run(SAMPLE, "--plot", "transfer", "--width", "85mm", "--json")
    told = json.loads(result.output)
    assert told["without_bias"]["distortion"] > told["with_bias"]["distortion"]
    assert told["svg"].startswith("<svg")


@pytest.mark.parametrize(
    "options, words",
    [
        (["--focus", "teapot"], "There is no block 'teapot'"),
        (["--section", "teapot"], "There is no section 'teapot'"),
        (["--width", "5mm"], "20mm to 2000mm"),
        (["--width", "wide"], "20mm to 2000mm"),
        (["-o", "figure.eps"], "Allowed: .pdf, .png, .svg"),
        (["-o", "figure"], "Allowed: .pdf, .png, .svg"),
        (["--plot", "transfer", "--blocks"], "cannot go together"),
        (["--dpi", "9"], "50<=x<=2400"),
        (["--detail", "most"], "most"),
    ],
)
def test_a_wrong_request_is_told(options, words):
    result = run(SAMPLE, *options)
    assert result.exit_code == 2
    assert words in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("path", [SAMPLE, ROOT / "samples" / "beacon-flasher.net"], ids=lambda path: path.stem)
def test_a_figure_is_the_same_bytes_under_any_hash_seed(path):
    def output(seed):
        command = [sys.executable, "-m", "topo.cli", "figure", str(path)]
        return subprocess.run(command, capture_output=True, check=True, cwd=ROOT, env={"PYTHONHASHSEED": seed}).stdout

    assert output("0") == output("42") != b""
