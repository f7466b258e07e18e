"""Cutting a circuit at its ideal rails."""

from __future__ import annotations

from topo.graph.columns import columns
from topo.graph.pieces import pieces
from topo.netlist import loads

STAGE = """
R{n}1 100k : vcc b{n}
R{n}2 22k  : b{n} gnd
Q{n}  npn  : b=b{n} c=c{n} e=e{n}
R{n}3 {load} : vcc c{n}
R{n}4 1k   : e{n} gnd
"""


def netlist(*loads_typed: str, more: str = "") -> str:
    stages = "".join(STAGE.format(n=n, load=load) for n, load in enumerate(loads_typed, 1))
    return f"supply vcc 12V\n{more}{stages}"


def refs_of(cut) -> list[list[str]]:
    return [cut.refs(piece) for piece in range(len(cut))]


def test_stages_that_only_rails_join_are_pieces():
    cut = pieces(loads(netlist("4k7", "4k7")))
    assert refs_of(cut) == [["R11", "R12", "Q1", "R13", "R14"], ["R21", "R22", "Q2", "R23", "R24"]]


def test_pieces_that_differ_by_names_alone_have_one_shape():
    cut = pieces(loads(netlist("4k7", "4k7", "3k9", "4k7")))
    assert cut.shape.tolist() == [0, 0, 1, 0]
    assert cut.counts() == [3, 1]
    assert cut.of_shape(0) == [0, 1, 3]


def test_a_translation_names_the_part_that_stands_for_another():
    cut = pieces(loads(netlist("4k7", "4k7")))
    assert cut.translation(1)["Q1"] == "Q2"


def test_a_coupling_capacitor_makes_one_piece_of_two():
    cut = pieces(loads(netlist("4k7", "4k7", more="C1 10u : c1 b2\n")))
    assert len(cut) == 1
    assert cut.size(0) == 11


def test_pieces_on_different_rails_differ():
    text = netlist("4k7").replace("supply vcc 12V", "supply vcc 12V\nsupply vee 24V") + STAGE.format(
        n=2, load="4k7"
    ).replace("vcc", "vee")
    assert pieces(loads(text)).shape.tolist() == [0, 1]


def test_an_input_at_one_of_two_like_stages_makes_them_differ():
    assert pieces(loads(netlist("4k7", "4k7", more="input b1\n"))).shape.tolist() == [0, 1]
    assert pieces(loads(netlist("4k7", "4k7", more="input b1\ninput b2\n"))).shape.tolist() == [0, 0]


def test_an_order_of_lines_of_its_own_makes_a_shape_of_its_own():
    text = netlist("4k7") + "\n".join(reversed(STAGE.format(n=2, load="4k7").strip().split("\n")))
    assert pieces(loads(text)).shape.tolist() == [0, 1]


def test_a_part_between_rails_is_in_no_piece():
    cut = pieces(loads(netlist("4k7", more="C9 100u : vcc gnd\n")))
    assert cut.common.tolist() == [0]
    assert cut.piece_of(0) is None
    assert cut.piece_of(1) == 0
    assert [part.ref for part in cut.between_rails().parts] == ["C9"]


def test_a_fuse_hands_the_rail_on_and_belongs_to_each_piece():
    cut = pieces(loads(netlist("4k7", "4k7", more="F1 fuse 1A : batt vcc\n").replace("supply vcc", "supply batt")))
    assert len(cut) == 2
    assert cut.makers == (0,)
    assert [part.ref for part in cut.cut_out(1).parts] == ["F1", "R21", "R22", "Q2", "R23", "R24"]


def test_a_battery_makes_a_rail():
    cut = pieces(loads(netlist("4k7", "4k7", more="BT1 battery 12V : vcc gnd\n").replace("supply vcc 12V\n", "")))
    assert len(cut) == 2
    assert cut.cut_out(0).parts[0].ref == "BT1"


def test_a_supply_with_a_resistance_of_its_own_joins_what_hangs_on_it():
    assert len(pieces(loads(netlist("4k7", "4k7").replace("12V", "12V 0R5")))) == 1


def test_a_piece_is_a_circuit_with_its_own_ports_and_rails():
    text = netlist("4k7", "4k7", more="supply vee -12V\ninput b2\noutput c2\n")
    circuit = pieces(loads(text)).cut_out(1)
    assert [port.net for port in (*circuit.inputs, *circuit.outputs)] == ["b2", "c2"]
    assert [supply.net for supply in circuit.supplies] == ["vcc"]
    assert not pieces(loads(text)).cut_out(0).inputs


def test_a_circuit_of_rails_alone_has_no_piece():
    cut = pieces(loads("supply vcc 12V\nC1 100n : vcc gnd\n"))
    assert len(cut) == 0
    assert cut.counts() == []


def test_columns_take_a_few_dozen_bytes_a_part():
    table = columns(loads(netlist(*["4k7"] * 50)))
    assert table.nbytes / table.parts < 40
