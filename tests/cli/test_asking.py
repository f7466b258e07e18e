"""Questions about the wiring that `topo check` answers."""

import json

from click.testing import CliRunner

from topo.cli import main

STAGE = "supply vcc 9V\nR1 47k : vcc b\nR2 10k : b gnd\nQ1 npn : b=b c=vcc e=e\nR3 1k : e gnd\n"


def ask(*options):
    return CliRunner().invoke(main, ["check", "-", *options], input=STAGE)


def test_what_is_on_a_net_is_told():
    assert ask("--on", "b").output.splitlines()[0] == "b: 3 connections."


def test_what_joins_two_nets_is_told():
    assert "R1  resistor 47 kΩ" in ask("--between", "vcc", "b").output


def test_parts_are_listed_with_a_box_each():
    assert ask("--parts", "designator").output.count("[ ]") == 4


def test_an_unknown_net_is_wrong_use():
    result = ask("--on", "nowhere")

    assert result.exit_code == 2
    assert "There is no net nowhere." in result.stderr


def test_the_answers_come_as_json_too():
    found = json.loads(ask("--on", "b", "--between", "b", "gnd", "--parts", "value", "--json").output)

    assert found["on"]["net"] == "b"
    assert found["between"]["direct"] == [["R2", "resistor 10 kΩ"]]
    assert len(found["parts"]) == 4
