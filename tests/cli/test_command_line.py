import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import topo.cli
from topo.cli import main
from topo.errors import NetlistError, Place, Problem, UsageError

ROOT = Path(__file__).parents[2]
SAMPLE = str(ROOT / "samples" / "intercom.net")


def run(*arguments, **options):
    return CliRunner().invoke(main, list(arguments), **options)


def raising(error):
    @click.command()
    def broken():
        raise error

    return broken


@pytest.fixture
def broken(monkeypatch):
    """A command that raises what it is given."""

    def put(error):
        monkeypatch.setattr(topo.cli.CommandFolder, "get_command", lambda *_: raising(error))
        return run("broken")

    return put


def test_help_names_every_command_with_what_it_gives():
    shown = run("--help").output

    for command in ("explain", "reduce"):
        assert f"  {command}" in shown
    assert "stage by stage" in shown


def test_every_command_has_help_of_its_own():
    for name in main.list_commands(click.Context(main)):
        shown = run(name, "--help")
        assert shown.exit_code == 0
        assert "FILE" in shown.output or name == "patterns"


def test_an_unknown_command_is_wrong_use_and_names_what_is_like_it():
    shown = run("explian", SAMPLE)

    assert shown.exit_code == 2
    assert "explain" in shown.output


def test_an_unknown_option_is_wrong_use():
    assert run("explain", SAMPLE, "--colour").exit_code == 2


def test_a_missing_file_is_wrong_use_and_is_told_in_one_line():
    shown = run("explain", "nowhere.net")

    assert shown.exit_code == 2
    assert "nowhere.net" in shown.output
    assert "Traceback" not in shown.output


def test_problems_of_a_circuit_go_to_standard_error_with_status_1(broken):
    problem = Problem(Place("a.net", 3, 5), "what is this", expected="a part", source="R1 wat : a b")
    shown = broken(NetlistError((problem,)))

    assert shown.exit_code == 1
    assert shown.stdout == ""
    assert "a.net, line 3, column 5: what is this" in shown.stderr


def test_a_wrong_request_gives_status_2_with_what_is_allowed(broken):
    shown = broken(UsageError("There is no voice 'choir'.", ("student", "technician")))

    assert shown.exit_code == 2
    assert "Allowed: student, technician." in shown.stderr


def test_a_fault_of_the_tool_is_told_without_a_traceback(broken):
    shown = broken(ZeroDivisionError("division by zero"))

    assert shown.exit_code == 1
    assert shown.stderr.startswith("Internal error: ZeroDivisionError: division by zero in test_command_line.py, line ")
    assert "report it together with the circuit file" in shown.stderr
    assert "Traceback" not in shown.stderr


def test_a_fault_of_the_tool_is_raised_when_asked_for(broken, monkeypatch):
    monkeypatch.setenv("TOPO_DEBUG", "1")

    assert isinstance(broken(ZeroDivisionError("division by zero")).exception, ZeroDivisionError)


def test_help_imports_no_stage():
    code = (
        "import sys; from click.testing import CliRunner; from topo.cli import main;"
        "CliRunner().invoke(main, ['--help']);"
        "print([m for m in ('numpy', 'lark', 'yaml', 'networkx', 'scipy', 'graphviz') if m in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert shown.stdout.strip() == "[]"


def test_a_closed_pipe_is_quiet():
    shell = f"{sys.executable} -m topo.cli --help | true"
    shown = subprocess.run(["bash", "-c", shell], cwd=ROOT, capture_output=True, text=True, check=False)

    assert shown.stderr == ""


@pytest.mark.parametrize("command", ["explain", "check", "reduce"])
def test_a_file_without_parts_is_answered_with_what_to_write(command):
    result = run(command, "-", input="# nothing yet\n")

    assert result.exit_code == 1
    assert "no part" in result.output
    assert "R1 1k : vcc out" in result.output
