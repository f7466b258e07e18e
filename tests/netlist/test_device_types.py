"""Standardised type numbers: what they say of a part, and what they leave to be said."""

import json
from pathlib import Path

import pytest

import topo.netlist.device_types as device_types
from topo.netlist import loads, write
from topo.netlist.device_types import device_type
from topo.netlist.kinds import KIND_OF_WORD

ROWS = json.loads((Path(device_types.__file__).parent / "data" / "types.json").read_text(encoding="utf-8"))["types"]


def part(line):
    return loads(line).parts[0]


@pytest.mark.parametrize(
    "line, kind",
    [
        ("Q1 2N3904 : b=a c=b e=c", "npn"),
        ("Q1 2n3906 : b=a c=b e=c", "pnp"),
        ("T1 AC128 : b=a c=b e=c", "pnp"),
        ("TR1 bc109c : b=a c=b e=c", "npn"),
        ("VT1 2N3819 : g=a d=b s=c", "njfet"),
        ("Q1 BS250 : g=a d=b s=c", "pmos"),
        ("V1 ECC83 : a=a g=b k=c", "triode"),
        ("V1 6V6 : a=a g1=b g2=c k=d", "tetrode"),
        ("D1 1N4148 : a b", "diode"),
        ("D1 1N4007 : a b", "rectifier"),
        ("D1 1N4733 : a b", "zener"),
        ("X1 2N3904 : b=a c=b e=c", "npn"),
    ],
)
def test_a_known_type_number_tells_the_kind(line, kind):
    assert part(line).kind == kind


def test_a_known_type_number_suits_a_kind_of_its_own_family():
    assert part("D1 rectifier 1N4148 : a b").kind == "rectifier"
    assert part("V1 pentode 6V6 : a=a g1=b g2=c g3=d k=d").kind == "pentode"


def test_a_polarity_that_is_said_wins_over_the_type_with_a_warning():
    circuit = loads("Q1 pnp 2N3904 : b=a c=b e=c")

    assert circuit.parts[0].kind == "pnp"
    assert [item.code for item in circuit.warnings if item.code == "type-of-other-kind"] == ["type-of-other-kind"]


def test_a_type_number_that_the_letters_contradict_does_not_tell_the_kind():
    with pytest.raises(Exception, match="2N3904"):
        loads("R1 2N3904 : a b")


def test_a_type_number_that_reads_as_a_value_is_a_value_where_no_device_stands():
    battery = part("BT1 6V6 : a b")

    assert (battery.kind, battery.value, battery.type_name) == ("battery", 6.6, None)


def test_a_zener_has_the_nominal_voltage_of_its_type_unless_one_is_said():
    assert part("D1 1N4733 : a b").value == 5.1
    assert part("D1 1N4733A : a b").value == 5.1
    assert part("D1 1N4733 5V6 : a b").value == 5.6
    assert part("D1 zener BZX79-C5V6 : a b").value == 5.6
    assert part("D1 BZY88C12 : a b").value == 12.0


def test_a_suffix_that_the_data_does_not_list_falls_away():
    assert device_type("2N2222A") == device_type("2N2222")
    assert device_type("bc107b").params["hFE"] == 290
    assert device_type("BC337-25").params["hFE"] == 250
    assert device_type("2N22") is None


def test_germanium_is_told_by_the_type_or_by_the_first_letter_of_its_number():
    assert part("Q1 OC71 : b=a c=b e=c").settings.get("germanium")
    assert part("Q1 pnp AC151 : b=a c=b e=c").settings.get("germanium")  # Pro Electron numbering: A is germanium
    assert not part("Q1 pnp BC557 : b=a c=b e=c").settings.get("germanium")
    assert not part("Q1 pnp silicon AC151 : b=a c=b e=c").settings.get("germanium")


def test_the_files_own_device_statement_wins():
    circuit = loads("device 2N3904 njfet IDSS=3mA VP=-2\nQ1 2N3904 : g=a d=b s=c")

    assert circuit.parts[0].kind == "njfet"
    assert dict(circuit.parts[0].params) == {"IDSS": 3e-3, "VP": -2.0}


def test_an_unknown_type_number_leaves_the_kind_to_be_said():
    assert part("Q1 npn 2N1234 : b=a c=b e=c").type_name == "2N1234"
    with pytest.raises(Exception, match="Q1"):
        loads("Q1 2N1234 : b=a c=b e=c")


def test_circuits_with_known_types_read_back_to_themselves():
    circuit = loads("""
        supply v 9V
        Q1 AC128 : b=a c=gnd e=v
        Q2 2n3904 hFE=150 : b=a c=v e=gnd
        D1 1N4733 : gnd a
        V1 ECC83 : a=v g=a k=gnd
    """)

    assert loads(write(circuit)) == circuit


@pytest.mark.parametrize("name", list(ROWS))
def test_every_row_of_the_data_is_a_device_statement_with_a_source(name):
    row, found = ROWS[name], device_type(name.lower())
    known = {param for param, _ in KIND_OF_WORD[row["kind"]].params}

    assert found is not None and found.name == name
    assert set(found.params) <= known
    assert all(value == value and value != 0 for value in found.params.values())
    assert row["source"].strip()
