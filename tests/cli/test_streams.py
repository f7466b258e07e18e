"""Standard input as `-`, pipes that close early, and Ctrl-C."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "samples" / "intercom.net"
TEXT = SAMPLE.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "arguments",
    [
        ["explain", "-"],
        ["reduce", "-"],
        ["check", "-"],
        ["voltages", "-"],
        ["bias", "-"],
        ["figure", "-"],
        ["convert", "-", "--to", "json"],
        ["compare", "-", str(SAMPLE)],
        ["compare", str(SAMPLE), "-"],
        ["alike", "-", str(SAMPLE)],
    ],
    ids=" ".join,
)
def test_standard_input_is_read_where_a_dash_stands(arguments):
    shown = CliRunner().invoke(main, arguments, input=TEXT)

    assert shown.exit_code == 0
    assert shown.stdout


def test_standard_input_cannot_be_two_circuits():
    shown = CliRunner().invoke(main, ["compare", "-", "-"], input=TEXT)

    assert shown.exit_code == 2


def test_standard_input_in_another_encoding_is_told_with_its_place():
    shown = CliRunner().invoke(main, ["check", "-"], input=TEXT.encode("utf-16"))

    assert shown.exit_code == 1
    assert "<standard input>, line 1, column 1: this is UTF-16" in shown.stderr + shown.stdout


def test_standard_input_without_an_end_is_refused_once_it_is_too_long():
    shell = f"ulimit -v 1048576; {sys.executable} -m topo.cli check - < /dev/zero"
    shown = subprocess.run(["bash", "-c", shell], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)

    assert shown.returncode == 1
    assert "more than 50000000 characters" in shown.stdout + shown.stderr


@pytest.mark.parametrize("command", ["explain", "reduce", "voltages", "figure", "patterns list"])
def test_a_reader_that_stops_after_a_line_is_met_with_silence(command):
    file = "" if command.startswith("patterns") else SAMPLE
    shell = f"{sys.executable} -m topo.cli {command} {file} | head -1"
    shown = subprocess.run(["bash", "-c", shell], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)

    assert shown.stderr == ""
    assert shown.stdout


@pytest.mark.parametrize("after", [0.3, 0.6, 1.0])
def test_an_interrupt_from_the_keyboard_prints_no_traceback(after):
    worker = subprocess.Popen(
        [sys.executable, "-m", "topo.cli", "explain", "-", "--signal"],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    time.sleep(after)
    worker.send_signal(signal.SIGINT)
    _, complaint = worker.communicate(timeout=30)

    assert worker.returncode != 0
    assert "Traceback" not in complaint
