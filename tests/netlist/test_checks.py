"""Warnings that a circuit's connections alone give rise to."""

from __future__ import annotations

import pytest

import topo
from topo.errors import Problem
from topo.netlist.checks import check

STAGE = """
    supply vcc 9V
    input mic
    output out
    signal 300Hz to 3.4kHz
    C1 4u7 : mic base
    R1 47k : vcc base
    R2 10k : base gnd
    Q1 npn : b=base c=col e=emit
    R3 1k  : emit gnd
    R4 4k7 : vcc col
    C2 10u : col out
    R5 10k : out gnd
"""


def warnings(text: str) -> dict[str, Problem]:
    """The warnings of a text by their codes."""
    return {problem.code: problem for problem in topo.loads(text).warnings}


def changed(old: str, new: str) -> dict[str, Problem]:
    """The warnings of the sound stage with something changed in it."""
    assert old in STAGE
    return warnings(STAGE.replace(old, new))


def test_a_sound_stage_draws_no_warning():
    assert warnings(STAGE) == {}


def test_a_net_with_one_connection_is_told_with_the_name_that_was_meant():
    found = changed("R2 10k : base gnd", "R2 10k : bas gnd")

    assert str(found["near-name"]).split("\n")[1:] == [
        "      R2 10k : bas gnd",
        "               ^^^",
        "  Did you mean base?",
    ]


def test_a_net_with_one_connection_and_no_near_name_is_told_too():
    assert "(terminal 2 of R2)" in changed("base gnd", "base elsewhere")["single-connection"].message


def test_names_that_differ_in_a_digit_are_meant_to_differ():
    found = warnings(STAGE + "R8 1k : n1 gnd\nR9 1k : n2 gnd")

    assert "near-name" not in found
    assert "single-connection" in found


def test_a_port_or_a_supply_is_a_connection():
    assert "single-connection" not in warnings(
        "supply vcc 9V\ninput a\nsignal 1kHz to 2kHz\nR1 1k : vcc a\nR2 1k : a gnd"
    )


def test_a_terminal_left_open_is_told_but_not_of_contacts_and_pins():
    assert "unconnected" in warnings(STAGE + "R9 1k : col -")
    assert "unconnected" not in warnings(STAGE + "K1 relay at rest : vcc gnd | col - out\nU1 ic : 1=vcc 2=gnd 3=-")


def test_a_port_on_a_net_without_parts_is_told_with_the_nearest():
    found = changed("output out", "output outt")["empty-port"]

    assert found.mend == "Did you mean out?"
    assert found.source.strip() == "output outt"


@pytest.mark.parametrize(
    ("line", "electrode"),
    [
        ("Q9 npn : b=x c=vcc e=gnd", "base"),
        ("Q9 nmos : g=x d=vcc s=gnd", "gate"),
        ("V9 triode : a=vcc g=x k=gnd", "grid"),
        ("V9 pentode : a=vcc g1=x g2=vcc g3=gnd k=gnd", "control grid"),
        ("U9 opamp : in+=x in-=out out=out", "input in+"),
    ],
)
def test_a_control_electrode_without_a_path_for_direct_current_is_told(line, electrode):
    found = warnings(STAGE + f"C9 1u : mic x\n{line}")

    assert f"the {electrode} of" in found["no-dc-path"].message


@pytest.mark.parametrize(
    "path",
    [
        "R9 1M : x gnd",
        "L9 1m : x vcc",
        "D9 diode : x gnd",
        "SW9 switch closed : x gnd",
        "T9 1:1 : mic gnd | x y\nR8 1k : y gnd",
        "VR9 10k : vcc x gnd",
        "R9 1M : x col",
        "Q8 pnp : b=col c=x e=vcc",
        "SW9 selector at 2 : x | mic gnd",
        "K9 relay at rest : vcc gnd | x gnd mic",
        "J9 : x gnd",
        "BT9 9V : x gnd",
    ],
)
def test_a_path_through_anything_that_conducts_will_do(path):
    assert "no-dc-path" not in warnings(STAGE + f"C9 1u : mic x\nQ9 npn : b=x c=vcc e=gnd\n{path}")


@pytest.mark.parametrize(
    "path",
    ["C8 1u : x gnd", "SW9 switch open : x gnd", "SW9 selector at 1 : x | mic gnd", "Q8 npn : b=x c=vcc e=gnd"],
)
def test_what_does_not_conduct_is_no_path(path):
    assert "no-dc-path" in warnings(STAGE + f"C9 1u : mic x\nQ9 npn : b=x c=vcc e=gnd\n{path}")


def test_a_collector_that_leads_nowhere_is_told():
    assert "the collector of Q1" in changed("R4 4k7 : vcc col", "C4 1u : vcc col")["no-device-path"].message
    assert "the emitter of Q1" in changed("R3 1k  : emit gnd", "C3 1u  : emit gnd")["no-device-path"].message


def test_a_device_between_ground_and_ground_is_told():
    assert "no-device-supply" in changed("R4 4k7 : vcc col", "R4 4k7 : gnd col")


def test_a_positive_earth_set_is_sound():
    assert warnings(STAGE.replace("npn", "pnp").replace("9V", "-9V")) == {}


def test_devices_in_a_column_feed_each_other():
    found = warnings(STAGE + "Q7 npn : b=base c=vcc e=m\nQ8 npn : b=base c=m e=gnd")

    assert "no-device-path" not in found


def test_an_emitter_that_leads_to_a_base_has_a_path():
    found = warnings(STAGE + "Q7 npn : b=base c=vcc e=inner\nQ8 npn : b=inner c=vcc e=foot\nR9 100 : foot gnd")

    assert "no-device-path" not in found


def test_both_ends_on_one_net_are_told():
    assert changed("R5 10k : out gnd", "R5 10k : out out")["both-ends"].message == "R5 has both ends on the net out."
    assert "winding 1 of T9" in warnings(STAGE + "T9 1:1 : col col | out gnd")["both-ends"].message
    assert "both-ends" in warnings(STAGE + "Q9 npn : b=base c=col e=col")


def test_a_supply_joined_to_ground_is_told():
    assert "supply-is-ground" in warnings(STAGE + "join vcc gnd")


@pytest.mark.parametrize(
    "line", ["L9 1m : vcc gnd", "SW9 closed : vcc gnd", "R9 0 : vcc gnd", "T9 : vcc gnd | out col"]
)
def test_a_supply_shorted_by_a_part_is_told(line):
    assert "supply-shorted" in warnings(STAGE + line)


def test_two_rails_of_different_voltage_shorted_are_told():
    assert "supply-shorted" in warnings(STAGE + "supply vee -9V\nR9 1k : vee gnd\nF9 1A : vee vcc")


def test_no_supply_and_no_ground_are_told():
    found = warnings("signal 1kHz to 2kHz\nR1 1k : a b\nR2 1k : a b")

    assert "no-supply" in found
    assert "no-ground" in found


def test_a_battery_is_a_supply():
    assert "no-supply" not in warnings("signal 1kHz to 2kHz\nBT1 9V : a gnd\nR1 1k : a gnd")


def test_a_net_named_like_a_rail_without_a_supply_is_told():
    found = changed("R4 4k7 : vcc col", "R4 4k7 : +12V col\nC4 1u : +12V gnd")

    assert "supply +12V VOLTAGE" in found["rail-without-supply"].mend
    assert "rail-without-supply" not in changed(
        "R4 4k7 : vcc col", "R4 4k7 : vcc2 col\nR9 100 : vcc vcc2\nC4 1u : vcc2 gnd"
    )


def test_parts_that_nothing_joins_to_the_rest_are_told():
    found = warnings(STAGE + "R8 1k : p q\nR9 1k : q p")

    assert found["island"].message == "R8 and R9 are joined to the ground and the supplies by nothing."


def test_a_transformer_joins_what_it_couples():
    assert "island" not in warnings(STAGE + "T9 1:1 : col gnd | p q\nR8 1k : p q")


def test_missing_designators_are_noted_where_asked_for():
    circuit = topo.loads(STAGE.replace("R4", "R7"))

    notes = [problem for problem in check(circuit, gaps=True) if problem.severity == "note"]
    assert [note.message for note in notes] == ["R4 and R6 are not there, between R1 and R7."]
    assert "designator-gap" not in [problem.code for problem in check(circuit)]


def test_warnings_stand_in_the_order_of_their_lines():
    found = topo.loads(STAGE + "R8 1k : p1 out\nR9 1k : col q5").warnings

    assert [problem.place.line for problem in found] == sorted(problem.place.line for problem in found)


def test_a_large_circuit_is_checked_in_little_time():
    import time

    rows = [f"R{n} 1k : n{n} n{n + 1}\nQ{n} npn : b=n{n} c=vcc e=n{n + 1}" for n in range(1500)]
    started = time.perf_counter()
    topo.loads("supply vcc 9V\nsignal 1kHz to 2kHz\nR9999 1k : n0 gnd\n" + "\n".join(rows))

    assert time.perf_counter() - started < 10  # about 0.6 s measured; quadratic work would take minutes
